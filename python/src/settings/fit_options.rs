//! Priors and held values of a fit, by the names that fits report.

use pyo3::exceptions::PyTypeError;
use pyo3::prelude::*;
use pyo3::types::PyDict;
use risefit::Accuracy;
use risefit::Error;
use risefit::fit::{FitOptions, Prior};
use risefit::model::Parameter;
use risefit::units::{nearest, renamed};

use crate::convert::{self, errors::to_python};

/// Standard deviations either way that a given prior allows at least.
const ALLOWED_SDS: f64 = 8.0;

/// The accuracy of a simulation, if it makes sense.
pub fn checked(relative: f64) -> risefit::Result<Accuracy> {
    if (1e-12..=1e-2).contains(&relative) {
        return Ok(Accuracy { relative });
    }
    Err(Error::argument("accuracy", relative, "a relative error per step from 1e-12 to 0.01", "1e-6 suits most uses"))
}

/// The parameter with this name and unit; `argument` is where it was given.
pub fn parameter(argument: &str, name: &str) -> risefit::Result<Parameter> {
    if let Some(found) = Parameter::all().find(|p| p.label().name == name) {
        return Ok(found);
    }
    let names: Vec<_> = Parameter::all().map(|p| p.label().name).collect();
    let renamed = renamed(name).filter(|new| names.contains(&new.as_str()));
    Err(match renamed.as_deref().or_else(|| nearest(name, names.iter().copied())) {
        Some(near) => Error::argument(argument, name, format!("`{near}`"), format!("did you mean `{near}`?")),
        None => Error::argument(argument, name, "the name of a parameter", format!("known: {}", names.join(", "))),
    })
}

/// Refuses keywords that a function does not know; one that was renamed with its new name.
pub fn refuse(py: Python<'_>, function: &str, unknown: Option<&Bound<'_, PyDict>>) -> PyResult<()> {
    let Some((name, _)) = unknown.and_then(|unknown| unknown.iter().next()) else { return Ok(()) };
    let name: String = name.extract()?;
    match renamed(&name) {
        Some(new) => {
            let error = Error::argument(&name, "a name of before", format!("`{new}`"), format!("write `{new}=`"));
            Err(to_python(py, error))
        }
        None => Err(PyTypeError::new_err(format!("{function}() got an unexpected keyword argument '{name}'"))),
    }
}

/// The options of a fit, from its arguments.
pub fn options(
    py: Python<'_>,
    starts: usize,
    held: Option<&Bound<'_, PyDict>>,
    priors: Option<&Bound<'_, PyDict>>,
) -> PyResult<FitOptions> {
    if starts == 0 || starts > 1000 {
        let error = Error::argument("starts", starts, "1 to 1000", "4 are enough for most records");
        return Err(to_python(py, error));
    }
    Ok(FitOptions {
        starts,
        held: held.map_or(Ok(Vec::new()), read_held)?,
        priors: priors.map_or(Ok(Vec::new()), read_priors)?,
        accuracy: Accuracy { relative: 1e-6 },
        ..FitOptions::default()
    })
}

fn read_held(held: &Bound<'_, PyDict>) -> PyResult<Vec<(Parameter, f64)>> {
    let one = |(name, value): (Bound<'_, PyAny>, Bound<'_, PyAny>)| {
        let name: String = name.extract()?;
        let endless = || value.extract::<f64>().is_ok_and(|x| x == f64::INFINITY);
        let known = parameter("held", &name);
        if let Some(parameter) = known.as_ref().ok().filter(|p| p.row().can_be_infinite && endless()) {
            return Ok((*parameter, f64::INFINITY));
        }
        let x = convert::number(&name, &value)?;
        let without = |p: Parameter| x == 0.0 && p.row().can_be_none;
        let checked = known.and_then(|p| if without(p) { Ok((p, 0.0)) } else { Ok((p, allowed(p, &name, x)?)) });
        checked.map_err(|e| to_python(held.py(), e))
    };
    held.iter().map(one).collect()
}

/// The SI value of `x` if a fit may take it.
fn allowed(parameter: Parameter, name: &str, x: f64) -> risefit::Result<f64> {
    let (prior, scale) = (parameter.prior(), parameter.label().scale);
    let si = x / scale;
    if (prior.low..=prior.high).contains(&si) {
        return Ok(si);
    }
    let expected = format!("{} to {}", prior.low * scale, prior.high * scale);
    Err(Error::argument(name, x, expected, "look at the value and its unit"))
}

fn read_priors(priors: &Bound<'_, PyDict>) -> PyResult<Vec<(Parameter, Prior)>> {
    let one = |(name, value): (Bound<'_, PyAny>, Bound<'_, PyAny>)| {
        let name: String = name.extract()?;
        let pair = convert::numbers(&name, &value)?;
        prior(&name, &pair).map_err(|e| to_python(priors.py(), e))
    };
    priors.iter().map(one).collect()
}

fn prior(name: &str, pair: &[f64]) -> risefit::Result<(Parameter, Prior)> {
    let parameter = parameter("priors", name)?;
    let own = parameter.prior();
    let found = format!("{pair:?}");
    let &[median, spread] = pair else {
        return Err(Error::argument(name, found, "two numbers: median and spread", "see risefit.priors()"));
    };
    let si = allowed(parameter, name, median)?;
    if own.log && spread <= 1.0 || spread <= 0.0 {
        let expected = if own.log { "a factor above 1 as second number" } else { "a spread above 0 as second number" };
        return Err(Error::argument(name, found, expected, "to keep a value for certain, use `held`"));
    }
    let spread = if own.log { spread.ln() } else { spread / parameter.label().scale };
    // A charge off by grams is nothing in a mold of liters: the range goes with the prior.
    let reach = if own.log { 0.0 } else { ALLOWED_SDS * spread };
    Ok((
        parameter,
        Prior { median: si, sd: spread, low: own.low.min(si - reach), high: own.high.max(si + reach), ..own },
    ))
}
