//! The tables of names, for the generator of the stubs.

use pyo3::prelude::*;
use risefit::decide::{ASKED, Count};
use risefit::fit::Limits;
use risefit::model::{Absent, CONSTANTS, Number, vent_settings};
use risefit::records::{CAVITY_NUMBERS, OBSERVATIONS};
use risefit::units::Quantity;
use risefit::{CUP_SETTINGS, Outcome, Setting};

/// A name: how it is written in every unit (the customary one first), what it is in a sentence, and words about it.
type Row = (Vec<String>, &'static str, Vec<&'static str>);

/// Not part of the public interface.
#[pymodule]
pub mod _tables {
    use super::*;

    /// What an old name is called now.
    #[pyfunction]
    fn renamed(name: &str) -> Option<String> {
        risefit::units::renamed(name)
    }

    /// Settings of a casting: `several`, `absent` (may be), `turned` (into another).
    #[pyfunction]
    fn settings() -> Vec<Row> {
        Setting::all().map(setting).collect()
    }

    /// What a casting comes to: `absent` (may be), `drawn`, `predicted`.
    #[pyfunction]
    fn outcomes() -> Vec<Row> {
        Outcome::all().map(outcome).collect()
    }

    /// What is weighed and read of castings.
    #[pyfunction]
    fn observations() -> Vec<Row> {
        OBSERVATIONS.iter().map(|taken| row(taken.name(), taken.quantity(), taken.sentence(), vec!["absent"])).collect()
    }

    /// The constants of a grade.
    #[pyfunction]
    fn constants() -> Vec<Row> {
        numbers(&CONSTANTS)
    }

    /// The numbers of a mold: `absent` (may be).
    #[pyfunction]
    fn cavity() -> Vec<Row> {
        numbers(&CAVITY_NUMBERS)
    }

    /// The numbers of a vent.
    #[pyfunction]
    fn vents() -> Vec<Row> {
        vent_settings().into_iter().map(|(base, quantity)| row(base, quantity, "", vec![])).collect()
    }

    /// What is asked for beside settings: `range`, `any`.
    #[pyfunction]
    fn asked() -> Vec<Row> {
        let count = |count: Count| match count {
            Count::One => vec![],
            Count::Range => vec!["range"],
            Count::Any => vec!["any"],
        };
        ASKED.iter().map(|asked| row(asked.name, asked.quantity, asked.sentence, count(asked.count))).collect()
    }

    /// Limits of a part.
    #[pyfunction]
    fn limits() -> Vec<Row> {
        Limits::OF.into_iter().map(outcome).collect()
    }

    /// Settings of a cup test.
    #[pyfunction]
    fn cup_test() -> Vec<Row> {
        CUP_SETTINGS.iter().map(|(base, quantity)| row(base, *quantity, "", vec![])).collect()
    }
}

fn row(base: &str, quantity: Quantity, sentence: &'static str, words: Vec<&'static str>) -> Row {
    (quantity.accepted_names(base), sentence, words)
}

fn numbers<T>(table: &'static [Number<T>]) -> Vec<Row> {
    let words = |number: &Number<T>| if number.may_be_absent() { vec!["absent"] } else { vec![] };
    table.iter().map(|n| row(n.name(), n.quantity(), n.sentence(), words(n))).collect()
}

fn setting(of: Setting) -> Row {
    let absent = matches!(of.row().absent, Absent::OfMold(_) | Absent::Nothing);
    let words = [("several", of.is_several()), ("absent", absent), ("turned", !of.is_kept())];
    row(of.name(), of.quantity(), of.row().sentence, only(&words))
}

fn outcome(of: Outcome) -> Row {
    let words = [("absent", of.may_be_absent()), ("drawn", of.row().drawn), ("predicted", of.row().predicted)];
    row(of.name(), of.quantity(), of.row().sentence, only(&words))
}

fn only(words: &[(&'static str, bool)]) -> Vec<&'static str> {
    words.iter().filter(|(_, holds)| *holds).map(|(word, _)| *word).collect()
}
