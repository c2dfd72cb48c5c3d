//! What is known of a grade, from the forms in which it is given.

use pyo3::exceptions::PyTypeError;
use pyo3::prelude::*;
use risefit::fit::{FitOptions, GradeKnowledge};

use crate::records::PyGrade;
use crate::results::{PyFreeRiseFit, PyGradeKnowledge};

/// From a fit to cup tests, a grade with its doubt, or a grade that may be off by what is believed.
pub fn known(grade: &Bound<'_, PyAny>, options: &FitOptions) -> PyResult<GradeKnowledge> {
    if let Ok(fit) = grade.cast::<PyFreeRiseFit>() {
        return Ok(GradeKnowledge::from_cup_tests(&fit.get().0));
    }
    if let Ok(grade) = grade.cast::<PyGrade>() {
        return Ok(GradeKnowledge::from_priors(&grade.get().0, options));
    }
    if let Ok(known) = grade.cast::<PyGradeKnowledge>() {
        return Ok(known.get().0.clone());
    }
    let found = grade.get_type().name()?;
    let expected = "a FreeRiseFit, a GradeKnowledge or a Grade";
    Err(PyTypeError::new_err(format!("expected {expected} as first argument, got {found}")))
}
