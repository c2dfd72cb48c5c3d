//! How a casting is run, from keyword arguments with units in their names: the one place where they are read.

use std::collections::BTreeMap;

use pyo3::prelude::*;
use pyo3::types::{PyBytes, PyDict, PyList, PyTuple};
use risefit::model::{Leak, LeakStart};
use risefit::units::{Quantity, parse, resolve, standard_pressure};
use risefit::{Casting, Error};

use crate::attributes::{self, Attribute, Value, maybe, one};
use crate::errors::to_python;
use crate::{convert, pickle};

/// Which values make sense.
#[derive(Clone, Copy, PartialEq)]
enum Least {
    Any,
    Zero,
    AboveZero,
}

/// The settings of a casting: what they measure, and which values make sense.
const SETTINGS: [(&str, Quantity, Least); 14] = [
    ("charge", Quantity::Mass, Least::AboveZero),
    ("vent", Quantity::Length, Least::Zero),
    ("mix_temp", Quantity::Temperature, Least::Any),
    ("mold_temp", Quantity::Temperature, Least::Any),
    ("left_in_cup", Quantity::Mass, Least::Zero),
    ("ambient_pressure", Quantity::AbsolutePressure, Least::AboveZero),
    ("altitude", Quantity::Altitude, Least::Any),
    ("closing_time", Quantity::Time, Least::Zero),
    ("demold_time", Quantity::Time, Least::AboveZero),
    ("clamp_force", Quantity::Force, Least::Zero),
    ("leak", Quantity::Length, Least::AboveZero),
    ("leak_length", Quantity::Length, Least::AboveZero),
    ("leak_time", Quantity::Time, Least::Zero),
    ("leak_pressure", Quantity::GaugePressure, Least::Zero),
];

/// Settings that stand for the same thing: giving one takes the other back.
const RIVALS: [(&str, &str); 2] = [("ambient_pressure", "altitude"), ("leak_time", "leak_pressure")];

/// What is assumed where nothing is given, as in a ledger: sea level, Pa, and demold, s.
const AMBIENT_PRESSURE: f64 = 101_325.0;
const DEMOLD_TIME: f64 = 300.0;

/// Settings by their names without units, in SI; `vent` may have several.
type Draft = BTreeMap<&'static str, Vec<f64>>;

/// A casting from the arguments of a call: settings by name, or one `Casting` and, if there are any, changes to it.
pub fn casting(
    py: Python<'_>,
    given: Option<&Bound<'_, PyCasting>>,
    kwargs: Option<&Bound<'_, PyDict>>,
) -> PyResult<Casting> {
    changed(py, given.map_or_else(Draft::new, |casting| draft_of(&casting.get().0)), kwargs)
}

fn changed(py: Python<'_>, mut draft: Draft, kwargs: Option<&Bound<'_, PyDict>>) -> PyResult<Casting> {
    let given = read_all(py, kwargs)?;
    check_rivals(&given).map_err(|e| to_python(py, e))?;
    for (one, other) in RIVALS {
        if given.contains_key(one) || given.contains_key(other) {
            draft.remove(one);
            draft.remove(other);
        }
    }
    draft.extend(given);
    // `None` takes a setting back.
    draft.retain(|_, values| !values.is_empty());
    finish(&draft).map_err(|e| to_python(py, e))
}

fn read_all(py: Python<'_>, kwargs: Option<&Bound<'_, PyDict>>) -> PyResult<Draft> {
    let mut given = Draft::new();
    for (name, value) in kwargs.into_iter().flatten() {
        let name: String = name.extract()?;
        let (base, values) = read(&name, &value)?;
        if given.insert(base, values).is_some() {
            let error = Error::argument(name, "the same setting twice", "one value", "keep one of the two");
            return Err(to_python(py, error));
        }
    }
    Ok(given)
}

/// One setting: its name without unit and its values in SI; none for `None`.
fn read(name: &str, value: &Bound<'_, PyAny>) -> PyResult<(&'static str, Vec<f64>)> {
    let table = SETTINGS.map(|(base, quantity, _)| (base, quantity));
    if let (true, Ok((index, _))) = (value.is_none(), resolve(name, &table, &[])) {
        return Ok((table[index].0, Vec::new()));
    }
    let in_si = |x: f64| in_si(name, x).map_err(|e| to_python(value.py(), e));
    // A NumPy scalar has no length; a text has one, and is refused as a row.
    if name.starts_with("vent") && value.len().is_ok_and(|n| n > 0) {
        let row = convert::numbers(name, value)?.into_iter().map(in_si).collect::<PyResult<Vec<_>>>()?;
        return Ok(("vent", row.into_iter().map(|(_, si)| si).collect()));
    }
    let (base, si) = in_si(convert::number(name, value)?)?;
    Ok((base, vec![si]))
}

/// One value of a setting: the setting's name without unit, and the value in SI.
pub fn in_si(name: &str, x: f64) -> Result<(&'static str, f64), Error> {
    let reading = parse(name, x, &SETTINGS.map(|(base, quantity, _)| (base, quantity)))?;
    check_least(name, x, reading.base, reading.value)?;
    Ok((reading.base, reading.value))
}

fn check_least(name: &str, x: f64, base: &str, si: f64) -> Result<(), Error> {
    let least = SETTINGS.iter().find(|(known, ..)| *known == base).map_or(Least::Any, |(.., least)| *least);
    let expected = match least {
        Least::Zero if si < 0.0 => "zero or more",
        Least::AboveZero if si <= 0.0 => "a number above zero",
        _ => return Ok(()),
    };
    Err(Error::argument(name, x, expected, "look at the value and its unit"))
}

fn check_rivals(given: &Draft) -> Result<(), Error> {
    let has = |base: &str| given.get(base).is_some_and(|values| !values.is_empty());
    match RIVALS.iter().find(|(one, other)| has(one) && has(other)) {
        None => Ok(()),
        Some((one, other)) => {
            Err(Error::argument(*one, format!("both {one} and {other}"), "one of the two", "leave one of them out"))
        }
    }
}

fn finish(draft: &Draft) -> Result<Casting, Error> {
    let number = |base: &str| draft.get(base).and_then(|values| values.first().copied());
    let needed = |base: &str| number(base).ok_or_else(|| missing(base));
    let ambient_pressure = match (number("ambient_pressure"), number("altitude")) {
        (Some(pressure), _) => pressure,
        (None, Some(altitude)) => standard_pressure(altitude)?,
        (None, None) => AMBIENT_PRESSURE,
    };
    Ok(Casting {
        charge: needed("charge")?,
        left_in_cup: number("left_in_cup").unwrap_or(0.0),
        mix_temp: needed("mix_temp")?,
        mold_temp: needed("mold_temp")?,
        ambient_pressure,
        closing_time: number("closing_time").unwrap_or(0.0),
        clamp_force: number("clamp_force"),
        vent_diameters: draft.get("vent").cloned().unwrap_or_default(),
        leak: leak(&number)?,
        demold_time: number("demold_time").unwrap_or(DEMOLD_TIME),
    })
}

fn leak(number: &impl Fn(&str) -> Option<f64>) -> Result<Option<Leak>, Error> {
    let parts = ["leak", "leak_length", "leak_time", "leak_pressure"];
    if parts.iter().all(|part| number(part).is_none()) {
        return Ok(None);
    }
    let start = match (number("leak_time"), number("leak_pressure")) {
        (Some(time), _) => LeakStart::Time(time),
        (None, Some(pressure)) => LeakStart::GaugePressure(pressure),
        (None, None) => return Err(missing("leak_time")),
    };
    let needed = |base: &str| number(base).ok_or_else(|| missing(base));
    Ok(Some(Leak { diameter: needed("leak")?, length: needed("leak_length")?, start }))
}

fn missing(base: &str) -> Error {
    let quantity = SETTINGS.iter().find(|(known, ..)| *known == base).map_or(Quantity::Number, |(_, q, _)| *q);
    let names = quantity.accepted_names(base).join(", ");
    let advice = match base {
        "leak" | "leak_length" => {
            "a leak has a diameter, a length along the flow, and a time or pressure at which it opens"
        }
        "leak_time" => "say when the leak opens: leak_time_s=0 for from the start, or leak_pressure_kPa (gauge)",
        _ => "every casting needs a charge and the temperatures of mix and mold",
    };
    Error::argument(quantity.customary_name(base), "nothing", format!("one of: {names}"), advice)
}

fn draft_of(casting: &Casting) -> Draft {
    let mut draft = Draft::new();
    for (base, _, value) in casting_attributes(casting) {
        match value {
            Value::One(Some(si)) => draft.insert(base, vec![si]),
            Value::Row(Some(si)) => draft.insert(base, si.to_vec()),
            _ => None,
        };
    }
    draft
}

/// The settings as attributes; `vent` is the array of diameters, `None` for the mold's own.
pub fn casting_attributes(casting: &Casting) -> Vec<Attribute<'_>> {
    let start = casting.leak.map(|leak| leak.start);
    let vents = (!casting.vent_diameters.is_empty()).then_some(casting.vent_diameters.as_slice());
    vec![
        one("charge", Quantity::Mass, casting.charge),
        ("vent", Quantity::Length, Value::Row(vents)),
        one("mix_temp", Quantity::Temperature, casting.mix_temp),
        one("mold_temp", Quantity::Temperature, casting.mold_temp),
        one("left_in_cup", Quantity::Mass, casting.left_in_cup),
        one("ambient_pressure", Quantity::AbsolutePressure, casting.ambient_pressure),
        one("closing_time", Quantity::Time, casting.closing_time),
        one("demold_time", Quantity::Time, casting.demold_time),
        maybe("clamp_force", Quantity::Force, casting.clamp_force),
        maybe("leak", Quantity::Length, casting.leak.map(|leak| leak.diameter)),
        maybe("leak_length", Quantity::Length, casting.leak.map(|leak| leak.length)),
        maybe("leak_time", Quantity::Time, start.and_then(|s| if let LeakStart::Time(t) = s { Some(t) } else { None })),
        maybe(
            "leak_pressure",
            Quantity::GaugePressure,
            start.and_then(|s| if let LeakStart::GaugePressure(p) = s { Some(p) } else { None }),
        ),
    ]
}

/// How one casting is run.
///
/// Needed: `charge_g`, `mix_temp_C`, `mold_temp_C`. Others, with what is assumed: `vent_mm` (the mold's own; a list: one
/// diameter for each vent of the mold; 0: plugged), `left_in_cup_g` (0), `ambient_pressure_kPa` (absolute) or `altitude_m`
/// (sea level), `closing_time_s` (0), `demold_time_s` (300), `clamp_force_N` (the mold's own), and a leak: `leak_mm`,
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
        changed(py, Draft::new(), settings).map(PyCasting)
    }

    /// The same casting with some settings changed; `None` takes a setting back to what is assumed.
    #[pyo3(signature = (**changes))]
    fn with_(&self, py: Python<'_>, changes: Option<&Bound<'_, PyDict>>) -> PyResult<Self> {
        changed(py, draft_of(&self.0), changes).map(PyCasting)
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
