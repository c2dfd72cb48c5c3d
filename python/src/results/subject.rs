//! What is swept: a grade in a mold, a calibration, or draws of either.

use pyo3::exceptions::PyTypeError;
use pyo3::prelude::*;
use pyo3::types::PyTuple;
use risefit::sweep::Case;
use risefit::{Accuracy, Error};

use super::calibration::PyCalibration;
use crate::convert::errors::to_python;
use crate::records::{PyGrade, PyMold};
use crate::settings::PyCasting;

const EXPECTED: &str =
    "expected a Grade and a Mold, a Calibration, or a list of (Grade, Mold) pairs; then, if wanted, a Casting";

/// What is swept.
pub struct Subject<'py> {
    pub cases: Vec<Case>,
    /// The accuracy of its own simulations.
    pub accuracy: Accuracy,
    /// Settings that do not vary.
    pub casting: Option<Bound<'py, PyCasting>>,
}

impl<'py> Subject<'py> {
    /// Reads the positional arguments of a call.
    pub fn of(args: &Bound<'py, PyTuple>, layers: Option<usize>) -> PyResult<Self> {
        let refused = || {
            let kinds: Vec<_> = args.iter().map(|a| a.get_type().name().map(|n| n.to_string())).collect();
            let kinds = kinds.into_iter().collect::<PyResult<Vec<_>>>().unwrap_or_default().join(", ");
            PyTypeError::new_err(format!("{EXPECTED}; got ({kinds})"))
        };
        let (cases, accuracy, used) = cases(args, layers).ok_or_else(refused)?;
        if layers.is_some() && used == 1 && args.get_item(0)?.is_instance_of::<PyCalibration>() {
            let advice = "calibrate with these layers";
            let error = Error::argument(
                "layers",
                "layers",
                "nothing: a calibration keeps those that it was fitted with",
                advice,
            );
            return Err(to_python(args.py(), error));
        }
        let rest: Vec<_> = args.iter().skip(used).filter(|arg| !arg.is_none()).collect();
        let casting = match &rest[..] {
            [] => None,
            [casting] => Some(casting.cast::<PyCasting>().map_err(|_| refused())?.clone()),
            _ => return Err(refused()),
        };
        Ok(Subject { cases, accuracy, casting })
    }
}

/// The cases, the accuracy, and how many arguments they took.
fn cases(args: &Bound<'_, PyTuple>, layers: Option<usize>) -> Option<(Vec<Case>, Accuracy, usize)> {
    let first = args.get_item(0).ok()?;
    if let Ok(calibration) = first.cast::<PyCalibration>() {
        let calibration = &calibration.get().0;
        return Some((vec![calibration.case()], calibration.accuracy(), 1));
    }
    if first.is_instance_of::<PyGrade>() {
        return Some((vec![pair(&first, &args.get_item(1).ok()?, layers)?], Accuracy::default(), 2));
    }
    let draws: Vec<(Bound<'_, PyAny>, Bound<'_, PyAny>)> = first.extract().ok()?;
    let cases = draws.iter().map(|(grade, mold)| pair(grade, mold, layers)).collect::<Option<Vec<_>>>()?;
    Some((cases, Accuracy::default(), 1))
}

fn pair(grade: &Bound<'_, PyAny>, mold: &Bound<'_, PyAny>, layers: Option<usize>) -> Option<Case> {
    let (grade, mold) = (grade.cast::<PyGrade>().ok()?, mold.cast::<PyMold>().ok()?);
    Some(Case::new(grade.get().0.constants, mold.get().in_layers(layers).cavity))
}
