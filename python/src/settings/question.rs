//! What is asked of a decision, as given in Python: limits, charges and drills among the settings of a casting.

use pyo3::prelude::*;
use pyo3::types::PyDict;
use risefit::Error;
use risefit::decide::{ASKED, Drill, Goal, Question, USUAL_TOLERANCE, usual_drills};
use risefit::units::{Quantity, parse, resolve};

use super::casting::{self, PyCasting};
use crate::convert::{self, errors::to_python};

/// Drills have names of their own, such as `1/8`; all else is in units.
const DRILLS: &str = "drills";

/// Names and quantities of what is asked for.
fn names() -> Vec<(&'static str, Quantity)> {
    ASKED.iter().map(|asked| (asked.name, asked.quantity)).collect()
}

/// What was given, sorted by what it is.
struct Asked<'py> {
    /// Limits and charges, SI, by their names without unit.
    numbers: Vec<(&'static str, Vec<f64>)>,
    drills: Option<Vec<Drill>>,
    /// Settings of the casting.
    settings: Bound<'py, PyDict>,
}

/// The question; `volume` is the cavity's, m3.
pub fn question(
    py: Python<'_>,
    casting: Option<&Bound<'_, PyCasting>>,
    given: Option<&Bound<'_, PyDict>>,
    volume: f64,
) -> PyResult<Question> {
    let asked = Asked::sorted(py, given)?;
    let density = asked.one("target_density")?.ok_or_else(|| to_python(py, missing_target()))?;
    let goal = Goal {
        density,
        tolerance: asked.one("tolerance")?.unwrap_or(USUAL_TOLERANCE),
        peak_pressure: asked.pair("pressure")?,
    };
    // The charge is what is asked for; any that fits the cavity will do until then.
    if casting.is_none() && !asked.settings.iter().any(|(name, _)| name.to_string().starts_with("charge_")) {
        asked.settings.set_item("charge_kg", density * volume + 1e-3)?;
    }
    Ok(Question {
        casting: casting::casting(py, casting, Some(&asked.settings))?,
        goal,
        charges: asked.pair("charges")?,
        charge_step: asked.one("charge_step")?,
        drills: asked.drills.unwrap_or_else(usual_drills),
    })
}

impl<'py> Asked<'py> {
    fn sorted(py: Python<'py>, given: Option<&Bound<'py, PyDict>>) -> PyResult<Self> {
        let mut asked = Asked { numbers: Vec::new(), drills: None, settings: PyDict::new(py) };
        for (name, value) in given.into_iter().flatten() {
            let text: String = name.extract()?;
            match resolve(&text, &names(), &[]).map(|(index, _)| ASKED[index].name) {
                _ if text == DRILLS => asked.drills = Some(read_drills(&text, &value)?),
                Ok(DRILLS) => asked.drills = Some(read_drills(&text, &value)?),
                Ok(base) => asked.numbers.push((base, read_numbers(&text, &value)?)),
                Err(_) => asked.settings.set_item(name, value)?,
            }
        }
        Ok(asked)
    }

    fn given(&self, base: &str) -> Option<&[f64]> {
        self.numbers.iter().find(|(known, _)| *known == base).map(|(_, all)| all.as_slice())
    }

    fn one(&self, base: &str) -> PyResult<Option<f64>> {
        match self.given(base) {
            None => Ok(None),
            Some([one]) => Ok(Some(*one)),
            Some(all) => Err(self.count(base, all, "one number", "give one")),
        }
    }

    fn pair(&self, base: &str) -> PyResult<Option<(f64, f64)>> {
        match self.given(base) {
            None => Ok(None),
            Some([low, high]) => Ok(Some((*low, *high))),
            Some(all) => Err(self.count(base, all, "two numbers, the smaller first", "give (low, high)")),
        }
    }

    fn count(&self, base: &str, all: &[f64], expected: &str, advice: &str) -> PyErr {
        to_python(self.settings.py(), Error::argument(base, format!("{} numbers", all.len()), expected, advice))
    }
}

fn read_numbers(name: &str, value: &Bound<'_, PyAny>) -> PyResult<Vec<f64>> {
    let all = if value.len().is_ok() { convert::numbers(name, value)? } else { vec![convert::number(name, value)?] };
    let in_si = |x| parse(name, x, &names()).map(|r| r.value).map_err(|e| to_python(value.py(), e));
    all.into_iter().map(in_si).collect()
}

fn read_drills(name: &str, value: &Bound<'_, PyAny>) -> PyResult<Vec<Drill>> {
    if name != DRILLS {
        let drill = |x| parse(name, x, &names()).map(|r| Drill::metric(r.value)).map_err(|e| to_python(value.py(), e));
        return convert::numbers(name, value)?.into_iter().map(drill).collect();
    }
    let mut all = Vec::new();
    for item in value.try_iter()? {
        all.push(Drill::parse(&item?.to_string()).map_err(|e| to_python(value.py(), e))?);
    }
    Ok(all)
}

fn missing_target() -> Error {
    let names = Quantity::Density.accepted_names("target_density").join(", ");
    Error::argument(
        "target_density_kg_m3",
        "nothing",
        format!("one of: {names}"),
        "say at which density a part is good",
    )
}
