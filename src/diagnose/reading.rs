//! What is weighed, read or seen of a casting, as a diagnosis speaks of it: one row each.

use serde::{Deserialize, Serialize};

use crate::model::Outcome;
use crate::units::Quantity;

/// What was weighed, read or seen of a casting; [`ReadingKind::row`] has what is known of it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum ReadingKind {
    /// Mass of the part, kg.
    PartMass,
    /// Mass that came out of the vents, kg.
    VentLoss,
    /// Mass that came out of the parting line, kg.
    Flash,
    /// Peak gauge pressure, Pa.
    PeakPressure,
    /// Peak gauge pressure beyond the gauge's stop, Pa.
    PeakAtLeast,
    /// The trace of the pressure; its mean gauge pressure, Pa.
    Trace,
    /// Hottest temperature in the core, K.
    CoreTemp,
    /// Whether the part was full.
    WasFull,
    /// Whether there was flash.
    WasFlashed,
}

/// What is known of a kind of reading.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ReadingRow {
    /// The kind.
    pub kind: ReadingKind,
    /// Its name in tables.
    pub name: &'static str,
    /// What it is measured in; `None` of an answer of the eye.
    pub quantity: Option<Quantity>,
    /// Its name in reports.
    pub words: &'static str,
    /// The head of a column that it stands in, alone or with another kind.
    pub column: &'static str,
    /// What it belongs to in a chart.
    pub series: &'static str,
    /// How a shop checks it, if it may be wrong. Common practice, no source.
    pub recheck: &'static str,
}

const GAUGE: Option<Quantity> = Some(Quantity::GaugePressure);
const CHECK_LOSS: &str = "weigh what came out again, if it was kept";
const CHECK_GAUGE: &str = "look at the gauge's zero, and read it beside another";
const CHECK_PART: &str = "look at the part again";

const fn row(
    (kind, name, quantity): (ReadingKind, &'static str, Option<Quantity>),
    [words, column, series, recheck]: [&'static str; 4],
) -> ReadingRow {
    ReadingRow { kind, name, quantity, words, column, series, recheck }
}

/// A reading of an outcome has its name, quantity and words.
const fn of_outcome(kind: ReadingKind, outcome: Outcome, [column, series, recheck]: [&'static str; 3]) -> ReadingRow {
    let of = outcome.row();
    row((kind, of.name, Some(of.quantity)), [of.words, column, series, recheck])
}

/// The kinds of readings, in the order of [`ReadingKind`].
static ROWS: [ReadingRow; 9] = [
    row(
        (ReadingKind::PartMass, "part_mass", Some(Quantity::Mass)),
        ["part mass", "part", "part mass", "weigh the part again"],
    ),
    of_outcome(ReadingKind::VentLoss, Outcome::VentLoss, ["vent loss", "vent loss", CHECK_LOSS]),
    of_outcome(ReadingKind::Flash, Outcome::Flash, ["flash", "flash", CHECK_LOSS]),
    of_outcome(ReadingKind::PeakPressure, Outcome::PeakPressure, ["peak", "pressure", CHECK_GAUGE]),
    row(
        (ReadingKind::PeakAtLeast, "peak_pressure_at_least", GAUGE),
        ["peak gauge pressure, at least", "peak", "pressure", CHECK_GAUGE],
    ),
    row((ReadingKind::Trace, "trace", GAUGE), ["pressure trace (mean)", "trace", "pressure", CHECK_GAUGE]),
    row(
        (ReadingKind::CoreTemp, "core_temp", Some(Quantity::Temperature)),
        ["core temperature", "core", "core temperature", "read it again"],
    ),
    row((ReadingKind::WasFull, "full", None), ["full or short", "full?", "seen", CHECK_PART]),
    row((ReadingKind::WasFlashed, "flashed", None), ["flash seen or not", "flashed?", "seen", CHECK_PART]),
];

impl ReadingKind {
    /// All of them.
    pub fn all() -> impl Iterator<Item = ReadingKind> {
        ROWS.iter().map(|row| row.kind)
    }

    /// What is known of it.
    pub fn row(self) -> &'static ReadingRow {
        &ROWS[self as usize]
    }

    /// Its name in tables.
    pub fn name(self) -> &'static str {
        self.row().name
    }

    /// What it is measured in; `None` of an answer of the eye.
    pub fn quantity(self) -> Option<Quantity> {
        self.row().quantity
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rows_stand_in_the_order_of_the_kinds() {
        assert!(ROWS.iter().enumerate().all(|(i, row)| row.kind as usize == i));
    }
}
