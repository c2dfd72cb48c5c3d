//! How a casting is run, from keyword arguments with units in their names: the one place where they are read.

use std::sync::LazyLock;

use pyo3::prelude::*;
use pyo3::types::{PyBytes, PyDict, PyList, PyTuple};
use risefit::model::{Absent, Given, GivenFault, Setting};
use risefit::units::{Quantity, parse, resolve};
use risefit::{Casting, Error};

use crate::convert::attributes::{self, Attribute, Value};
use crate::convert::errors::to_python;
use crate::convert::{self, pickle};

/// Names and quantities of the settings, in the order of their table.
static SETTINGS: LazyLock<Vec<(&'static str, Quantity)>> =
    LazyLock::new(|| Setting::all().map(|setting| (setting.name(), setting.quantity())).collect());

/// The setting of this name.
fn setting(base: &str) -> Option<Setting> {
    Setting::all().find(|setting| setting.name() == base)
}

/// A casting from the arguments of a call: settings by name, or one `Casting` and, if there are any, changes to it.
pub fn casting(
    py: Python<'_>,
    given: Option<&Bound<'_, PyCasting>>,
    kwargs: Option<&Bound<'_, PyDict>>,
) -> PyResult<Casting> {
    changed(py, given.map_or_else(Given::default, |casting| Given::of(&casting.get().0)), kwargs)
}

/// A casting from settings changed by keyword arguments; `None` takes a setting back.
fn changed(py: Python<'_>, before: Given, kwargs: Option<&Bound<'_, PyDict>>) -> PyResult<Casting> {
    let changes = read_all(py, kwargs)?;
    let mut new = Given::default();
    changes.iter().for_each(|(setting, values)| drop(new.give(*setting, values.clone())));
    let casting = match new.rivals() {
        Some((one, other)) => Err(fault(GivenFault::Both(one, other))),
        None => before.changed(changes).casting().map(|(casting, _)| casting).map_err(fault),
    };
    casting.map_err(|e| to_python(py, e))
}

/// The settings of a call, SI; no values for `None`.
fn read_all(py: Python<'_>, kwargs: Option<&Bound<'_, PyDict>>) -> PyResult<Vec<(Setting, Vec<f64>)>> {
    let mut given: Vec<(Setting, Vec<f64>)> = Vec::new();
    for (name, value) in kwargs.into_iter().flatten() {
        let name: String = name.extract()?;
        let (setting, values) = read(&name, &value)?;
        if given.iter().any(|(other, _)| *other == setting) {
            let error = Error::argument(name, "the same setting twice", "one value", "keep one of the two");
            return Err(to_python(py, error));
        }
        given.push((setting, values));
    }
    Ok(given)
}

/// One setting and its values in SI; none for `None`.
fn read(name: &str, value: &Bound<'_, PyAny>) -> PyResult<(Setting, Vec<f64>)> {
    let named = resolve(name, &SETTINGS, &[]).ok().and_then(|(index, _)| Setting::all().nth(index));
    match named {
        Some(setting) if value.is_none() => return Ok((setting, Vec::new())),
        // A NumPy scalar has no length; a text has one, and is refused as a row.
        Some(setting) if setting.is_several() && value.len().is_ok_and(|n| n > 0) => {
            let one = |x: f64| in_si(name, x).map(|(_, si)| si).map_err(|e| to_python(value.py(), e));
            let row = convert::numbers(name, value)?.into_iter().map(one).collect::<PyResult<_>>()?;
            return Ok((setting, row));
        }
        _ => {}
    }
    let (setting, si) = in_si(name, convert::number(name, value)?).map_err(|e| to_python(value.py(), e))?;
    Ok((setting, vec![si]))
}

/// One value of a setting: the setting, and the value in SI.
pub fn in_si(name: &str, x: f64) -> Result<(Setting, f64), Error> {
    let reading = parse(name, x, &SETTINGS)?;
    let setting = setting(reading.base).ok_or_else(|| unknown(name))?;
    match setting.doubt(reading.value) {
        Some((expected, advice)) => Err(Error::argument(name, x, expected, advice)),
        None => Ok((setting, reading.value)),
    }
}

fn unknown(name: &str) -> Error {
    Error::argument(name, "no setting of a casting", "a setting", "look at `help(risefit.Casting)`")
}

/// The error for settings that make no casting.
fn fault(fault: GivenFault) -> Error {
    match fault {
        GivenFault::Both(one, other) => {
            let (one, other) = (one.name(), other.name());
            Error::argument(one, format!("both {one} and {other}"), "one of the two", "leave one of them out")
        }
        GivenFault::Missing(setting) => missing(setting),
    }
}

fn missing(setting: Setting) -> Error {
    let row = setting.row();
    let names = row.quantity().accepted_names(row.name()).join(", ");
    let advice = match (row.absent, row.rival) {
        (Absent::Needed(_), _) => "every casting needs a charge and the temperatures of mix and mold",
        (_, Some(_)) => "say when the leak opens: leak_time_s=0 for from the start, or leak_pressure_kPa (gauge)",
        _ => "a leak has a diameter, a length along the flow, and a time or pressure at which it opens",
    };
    Error::argument(row.quantity().customary_name(row.name()), "nothing", format!("one of: {names}"), advice)
}

/// The settings as attributes: one number, or an array of those that are several; `None` for the mold's own.
pub fn casting_attributes(casting: &Casting) -> Vec<Attribute<'_>> {
    let of = |setting: Setting| {
        let value = match setting.several(casting) {
            Some(values) => Value::Row((!values.is_empty()).then_some(values)),
            None => Value::One(setting.one(casting)),
        };
        (setting.name(), setting.quantity(), value)
    };
    Setting::all().filter(|setting| setting.is_kept()).map(of).collect()
}

/// How one casting is run.
///
/// Needed: `charge_g`, `mix_temp_C`, `mold_temp_C`. Others, with what is assumed: `vent_mm` (the mold's own; a list:
/// one diameter for each vent of the mold; 0: plugged), `left_in_cup_g` (0), `ambient_pressure_kPa` (absolute) or
/// `altitude_m` (sea level), `closing_time_s` (0), `demold_time_s` (300), `clamp_force_N` (the mold's own),
/// `opening_limit_kPa` (5, gauge: what counts as low), `weighed_after_h` (0: at demold), and a leak: `leak_mm`,
/// `leak_length_mm`, and `leak_time_s` or `leak_pressure_kPa` (gauge). Any unit of the quantity will do: `charge_oz`,
/// `vent_in`, `mix_temp_F`. Raises `ArgumentError`.
#[pyclass(frozen, eq, name = "Casting", module = "risefit")]
#[derive(Clone, PartialEq)]
pub struct PyCasting(pub Casting);

#[pymethods]
impl PyCasting {
    #[new]
    #[pyo3(signature = (**settings))]
    fn new(py: Python<'_>, settings: Option<&Bound<'_, PyDict>>) -> PyResult<Self> {
        changed(py, Given::default(), settings).map(PyCasting)
    }

    /// The same casting with some settings changed; `None` takes a setting back to what is assumed.
    #[pyo3(signature = (**changes))]
    fn replace(&self, py: Python<'_>, changes: Option<&Bound<'_, PyDict>>) -> PyResult<Self> {
        changed(py, Given::of(&self.0), changes).map(PyCasting)
    }

    fn __getattr__<'py>(&self, py: Python<'py>, name: &str) -> PyResult<Bound<'py, PyAny>> {
        attributes::get(py, "Casting", name, &casting_attributes(&self.0))
    }

    fn __dir__<'py>(slf: &Bound<'py, Self>) -> PyResult<Bound<'py, PyList>> {
        attributes::dir(slf.as_any(), &casting_attributes(&slf.get().0))
    }

    fn __repr__(&self) -> String {
        let list = self.0.vent_diameters.iter().map(|d| format!("{}", attributes::short(d * 1e3)));
        let vents = list.collect::<Vec<_>>().join(", ");
        let vents = if vents.is_empty() { vents } else { format!(", vent_mm=[{vents}]") };
        format!("Casting({}{vents})", attributes::shown(&casting_attributes(&self.0)))
    }

    fn __reduce__<'py>(slf: &Bound<'py, Self>) -> PyResult<(Bound<'py, PyAny>, Bound<'py, PyTuple>)> {
        pickle::reduce(slf.as_any(), &slf.get().0)
    }

    #[staticmethod]
    fn _unpickle(data: &Bound<'_, PyBytes>) -> PyResult<Self> {
        pickle::restore(data).map(PyCasting)
    }
}
