//! What is believed and what is held in a fit, by the names that fits report.

use pyo3::prelude::*;
use pyo3::types::PyDict;
use risefit::Error;
use risefit::fit::{Belief, FitOptions, Parameter};
use risefit::physics::casting::Accuracy;
use risefit::units::nearest;

use crate::convert;
use crate::errors::to_python;

/// Spreads either way that a given belief allows at least.
const WIDE: f64 = 8.0;

/// Every parameter that a fit may adjust.
fn parameters() -> Vec<Parameter> {
    let of_grade_only = [Parameter::Viscosity, Parameter::CellOpeningTime];
    let of_mold = [
        Parameter::GasRetention,
        Parameter::MoldRateFactor,
        Parameter::CavityVolume,
        Parameter::HeatTransfer,
        Parameter::VentSize,
        Parameter::PartingGap,
        Parameter::PartingOpening,
        Parameter::ClampEffect,
    ];
    let scatter = [Parameter::CastingScatter, Parameter::LotScatter];
    let own = Parameter::PER_TRIAL.into_iter().chain(scatter);
    Parameter::CUP.into_iter().chain(of_grade_only).chain(of_mold).chain(own).collect()
}

/// The parameter with this name and unit; `argument` is where it was given.
pub fn parameter(argument: &str, name: &str) -> risefit::Result<Parameter> {
    let all = parameters();
    let label = |p: &Parameter| p.label().name;
    if let Some(found) = all.iter().find(|p| label(p) == name) {
        return Ok(*found);
    }
    let names: Vec<_> = all.iter().map(label).collect();
    Err(match nearest(name, names.iter().copied()) {
        Some(near) => Error::argument(argument, name, format!("`{near}`"), format!("did you mean `{near}`?")),
        None => Error::argument(argument, name, "the name of a parameter", format!("known: {}", names.join(", "))),
    })
}

/// What is believed of every parameter before any record: `{name: (center, spread)}`, in the unit of the name. The spread
/// is a factor (one standard deviation of the logarithm) for what cannot be negative, and a standard deviation for the
/// errors of single records and the crown. Changed entries can be given back as `beliefs=` of a fit.
#[pyfunction]
pub fn beliefs(py: Python<'_>) -> PyResult<Bound<'_, PyDict>> {
    let dict = PyDict::new(py);
    for parameter in parameters() {
        let (label, belief) = (parameter.label(), parameter.belief());
        let spread = if belief.log { belief.spread.exp() } else { belief.spread * label.scale };
        dict.set_item(label.name, (belief.center * label.scale, spread))?;
    }
    Ok(dict)
}

/// The options of a fit, from its arguments.
pub fn options(
    py: Python<'_>,
    starts: usize,
    held: Option<&Bound<'_, PyDict>>,
    beliefs: Option<&Bound<'_, PyDict>>,
) -> PyResult<FitOptions> {
    if starts == 0 || starts > 1000 {
        let error = Error::argument("starts", starts, "1 to 1000", "4 are enough for most records");
        return Err(to_python(py, error));
    }
    Ok(FitOptions {
        starts,
        held: held.map_or(Ok(Vec::new()), read_held)?,
        beliefs: beliefs.map_or(Ok(Vec::new()), read_beliefs)?,
        accuracy: Accuracy { relative: 1e-6 },
        ..FitOptions::default()
    })
}

fn read_held(held: &Bound<'_, PyDict>) -> PyResult<Vec<(Parameter, f64)>> {
    let one = |(name, value): (Bound<'_, PyAny>, Bound<'_, PyAny>)| {
        let name: String = name.extract()?;
        let endless = || value.extract::<f64>().is_ok_and(|x| x == f64::INFINITY);
        let known = parameter("held", &name);
        if let Some(parameter) = known.as_ref().ok().filter(|p| p.can_be_infinite() && endless()) {
            return Ok((*parameter, f64::INFINITY));
        }
        let x = convert::number(&name, &value)?;
        let without = |p: Parameter| x == 0.0 && p.can_be_none();
        let checked = known.and_then(|p| if without(p) { Ok((p, 0.0)) } else { Ok((p, allowed(p, &name, x)?)) });
        checked.map_err(|e| to_python(held.py(), e))
    };
    held.iter().map(one).collect()
}

/// The SI value of `x` if a fit may take it.
fn allowed(parameter: Parameter, name: &str, x: f64) -> risefit::Result<f64> {
    let (belief, scale) = (parameter.belief(), parameter.label().scale);
    let si = x / scale;
    if (belief.low..=belief.high).contains(&si) {
        return Ok(si);
    }
    let expected = format!("{} to {}", belief.low * scale, belief.high * scale);
    Err(Error::argument(name, x, expected, "look at the value and its unit"))
}

fn read_beliefs(beliefs: &Bound<'_, PyDict>) -> PyResult<Vec<(Parameter, Belief)>> {
    let one = |(name, value): (Bound<'_, PyAny>, Bound<'_, PyAny>)| {
        let name: String = name.extract()?;
        let pair = convert::numbers(&name, &value)?;
        belief(&name, &pair).map_err(|e| to_python(beliefs.py(), e))
    };
    beliefs.iter().map(one).collect()
}

fn belief(name: &str, pair: &[f64]) -> risefit::Result<(Parameter, Belief)> {
    let parameter = parameter("beliefs", name)?;
    let own = parameter.belief();
    let found = format!("{pair:?}");
    let &[center, spread] = pair else {
        return Err(Error::argument(name, found, "two numbers: center and spread", "see risefit.beliefs()"));
    };
    let si = allowed(parameter, name, center)?;
    if own.log && spread <= 1.0 || spread <= 0.0 {
        let expected = if own.log { "a factor above 1 as second number" } else { "a spread above 0 as second number" };
        return Err(Error::argument(name, found, expected, "to keep a value for certain, use `held`"));
    }
    let spread = if own.log { spread.ln() } else { spread / parameter.label().scale };
    // A charge off by grams is nothing in a mold of liters: the range goes with what is believed.
    let reach = if own.log { 0.0 } else { WIDE * spread };
    Ok((parameter, Belief { center: si, spread, low: own.low.min(si - reach), high: own.high.max(si + reach), ..own }))
}
