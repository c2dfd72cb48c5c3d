//! Simulated free rise in a cup: the call, and the rise with its courses and stopwatch times.

use std::collections::BTreeMap;

use pyo3::prelude::*;
use pyo3::types::{PyDict, PyList};
use risefit::fit::Parameter;
use risefit::units::{Quantity, parse, standard_pressure};
use risefit::{Cup, Error};
use risefit::{CupTest, FreeRise};

use crate::attributes::{self, Attribute, Value, maybe, one, row};
use crate::errors::to_python;
use crate::records::PyGrade;
use crate::simulate::checked;
use crate::{call, convert};

/// How a cup test is run; names as in the head of a rise log.
const SETTINGS: [(&str, Quantity); 13] = [
    ("mass", Quantity::Mass),
    ("mix_temp", Quantity::Temperature),
    ("ambient_temp", Quantity::Temperature),
    ("ambient_pressure", Quantity::AbsolutePressure),
    ("altitude", Quantity::Altitude),
    ("cup_diameter", Quantity::Length),
    ("cup_bottom_diameter", Quantity::Length),
    ("cup_top_diameter", Quantity::Length),
    ("cup_height", Quantity::Length),
    ("heat_area", Quantity::Area),
    ("cup_heat_transfer", Quantity::HeatTransfer),
    ("core_heat_loss_factor", Quantity::Number),
    ("sensor_lag", Quantity::Time),
];

/// What a cup loses of heat where it is not given: the center of what a fit believes.
fn usual(parameter: Parameter) -> f64 {
    parameter.prior().median
}

type Given = BTreeMap<&'static str, f64>;

/// Simulates a free rise.
///
/// Needed: `mass_g`, `mix_temp_C`. Others, with what is assumed: `ambient_temp_C` (that of the mix), `ambient_pressure_kPa`
/// (absolute) or `altitude_m` (sea level), `cup_diameter_mm` or `cup_bottom_diameter_mm` and `cup_top_diameter_mm`, with
/// `cup_height_mm` (no cup: no heights), `heat_area_cm2` (the cup's inside; no cup: 0), `cup_heat_transfer_W_m2K` (8),
/// `core_heat_loss_factor` (0.1: the share of the mean loss of heat that the core feels), `sensor_lag_s` (0). `times_s` are the times to read it at; by default 0 to 300 s, every second. `accuracy` is the relative
/// error per step. Raises `ArgumentError`, `IntegrationError`.
#[pyfunction]
#[pyo3(signature = (grade, *, times_s=None, accuracy=1e-6, **settings))]
pub fn free_rise(
    py: Python<'_>,
    grade: &Bound<'_, PyGrade>,
    times_s: Option<&Bound<'_, PyAny>>,
    accuracy: f64,
    settings: Option<&Bound<'_, PyDict>>,
) -> PyResult<PyFreeRise> {
    let given = read(py, settings)?;
    let accuracy = checked(accuracy).map_err(|e| to_python(py, e))?;
    let times = match times_s {
        Some(times) => convert::numbers("times_s", times)?,
        None => (0..=300).map(f64::from).collect(),
    };
    check_times(&times).map_err(|e| to_python(py, e))?;
    let foam = &grade.get().0.constants;
    call::run(py, || {
        let cup = cup(&given)?;
        let test = test(&given, cup)?;
        let rise = risefit::free_rise(foam, &test, &times, accuracy)?;
        let volume: Vec<f64> = rise.volume.iter().map(|v| v * test.mass).collect();
        let height = cup.map(|cup| volume.iter().map(|v| cup.height_of(*v)).collect());
        Ok(PyFreeRise { rise, times, volume, height })
    })
}

fn read(py: Python<'_>, settings: Option<&Bound<'_, PyDict>>) -> PyResult<Given> {
    let mut given = Given::new();
    for (name, value) in convert::quantities(settings)? {
        let reading = parse(&name, value, &SETTINGS).map_err(|e| to_python(py, e))?;
        if given.insert(reading.base, reading.value).is_some() {
            let error = Error::argument(name, "the same setting twice", "one value", "keep one of the two");
            return Err(to_python(py, error));
        }
    }
    Ok(given)
}

fn check_times(times: &[f64]) -> risefit::Result<()> {
    let rising = times.windows(2).all(|pair| pair[0] <= pair[1]) && times.first().is_none_or(|first| *first >= 0.0);
    if rising {
        return Ok(());
    }
    Err(Error::argument("times_s", "times out of order", "times from 0 on, rising", "sort them"))
}

fn needed(given: &Given, base: &str) -> risefit::Result<f64> {
    given.get(base).copied().ok_or_else(|| {
        let quantity = SETTINGS.iter().find(|(known, _)| *known == base).map_or(Quantity::Number, |(_, q)| *q);
        let names = quantity.accepted_names(base).join(", ");
        let advice = "a cup test needs mass_g and mix_temp_C; a cup needs its diameters and height";
        Error::argument(quantity.customary_name(base), "nothing", format!("one of: {names}"), advice)
    })
}

fn test(given: &Given, cup: Option<Cup>) -> risefit::Result<CupTest> {
    let (mass, mix_temp) = (needed(given, "mass")?, needed(given, "mix_temp")?);
    let ambient_pressure = match (given.get("ambient_pressure"), given.get("altitude")) {
        (Some(_), Some(_)) => {
            let found = "both a pressure and an altitude";
            return Err(Error::argument("ambient_pressure", found, "one of the two", "leave one of them out"));
        }
        (Some(pressure), None) => *pressure,
        (None, Some(altitude)) => standard_pressure(*altitude)?,
        (None, None) => standard_pressure(0.0)?,
    };
    let number = |base: &str, other: f64| given.get(base).copied().unwrap_or(other);
    let not_below = |base: &str, x: f64| match x {
        x if x >= 0.0 => Ok(x),
        _ => Err(Error::argument(base, x, "zero or more", "look at the value and its unit")),
    };
    Ok(CupTest {
        mass,
        mix_temp,
        ambient_temp: number("ambient_temp", mix_temp),
        ambient_pressure,
        heat_area: not_below("heat_area_cm2", number("heat_area", cup.map_or(0.0, |cup| cup.inner_area())))?,
        heat_transfer: not_below(
            "cup_heat_transfer_W_m2K",
            number("cup_heat_transfer", usual(Parameter::CupHeatTransfer)),
        )?,
        core_heat_loss_factor: not_below(
            "core_heat_loss_factor",
            number("core_heat_loss_factor", usual(Parameter::CoreHeatLossFactor)),
        )?,
        sensor_lag: not_below("sensor_lag_s", number("sensor_lag", 0.0))?,
    })
}

fn cup(given: &Given) -> risefit::Result<Option<Cup>> {
    let parts = ["cup_diameter", "cup_bottom_diameter", "cup_top_diameter", "cup_height"];
    if let Some(part) = parts.iter().find(|part| given.get(*part).is_some_and(|x| *x <= 0.0)) {
        let name = Quantity::Length.customary_name(part);
        return Err(Error::argument(name, given[part] * 1e3, "a number above zero", "look at the value and its unit"));
    }
    if !parts.iter().any(|part| given.contains_key(part)) {
        return Ok(None);
    }
    let height = needed(given, "cup_height")?;
    let (bottom_diameter, top_diameter) = match given.get("cup_diameter") {
        Some(diameter) => (*diameter, *diameter),
        None => (needed(given, "cup_bottom_diameter")?, needed(given, "cup_top_diameter")?),
    };
    Ok(Some(Cup { bottom_diameter, top_diameter, height }))
}

/// A simulated free rise. Courses are arrays over `time_s`; `height_mm` is `None` without a cup.
#[pyclass(frozen, name = "FreeRise", module = "risefit")]
pub struct PyFreeRise {
    rise: FreeRise,
    times: Vec<f64>,
    volume: Vec<f64>,
    height: Option<Vec<f64>>,
}

impl PyFreeRise {
    fn attributes(&self) -> Vec<Attribute<'_>> {
        let r = &self.rise;
        vec![
            maybe("cream_time", Quantity::Time, r.cream_time),
            maybe("string_gel_time", Quantity::Time, r.gel_time),
            maybe("end_of_rise", Quantity::Time, r.end_of_rise),
            maybe("tack_free_time", Quantity::Time, r.tack_free),
            one("density", Quantity::Density, r.density),
            one("peak_temp", Quantity::Temperature, r.peak_temp),
            row("time", Quantity::Time, &self.times),
            row("volume", Quantity::Volume, &self.volume),
            ("height", Quantity::Length, Value::Row(self.height.as_deref())),
            row("temp", Quantity::Temperature, &r.temp),
            row("sensed_temp", Quantity::Temperature, &r.sensed),
        ]
    }
}

#[pymethods]
impl PyFreeRise {
    /// The courses as a `pandas.DataFrame`, one time a row.
    fn to_frame<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        convert::frame(py, attributes::columns(&self.attributes()))
    }

    fn __getattr__<'py>(&self, py: Python<'py>, name: &str) -> PyResult<Bound<'py, PyAny>> {
        attributes::get(py, "FreeRise", name, &self.attributes())
    }

    fn __dir__<'py>(slf: &Bound<'py, Self>) -> PyResult<Bound<'py, PyList>> {
        attributes::dir(slf.as_any(), &slf.get().attributes())
    }

    fn __repr__(&self) -> String {
        format!("FreeRise({})", attributes::shown(&self.attributes()))
    }
}
