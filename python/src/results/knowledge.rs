//! What is known of a grade: its constants, and which of them are in doubt.

use pyo3::prelude::*;
use pyo3::types::{PyBytes, PyTuple};
use risefit::fit::GradeKnowledge;

use crate::convert::pickle;
use crate::records::PyGrade;

/// A grade with the doubt about its constants.
#[pyclass(frozen, name = "GradeKnowledge", module = "risefit")]
pub struct PyGradeKnowledge(pub GradeKnowledge);

#[pymethods]
impl PyGradeKnowledge {
    /// The grade at its best values.
    #[getter]
    fn grade(&self) -> PyGrade {
        PyGrade(self.0.grade.clone())
    }

    /// Names of the constants in doubt, with their units.
    #[getter]
    fn in_doubt(&self) -> Vec<&'static str> {
        self.0.parameters.iter().map(|(parameter, _)| parameter.label().name).collect()
    }

    fn __repr__(&self) -> String {
        let (grade, doubts) = (&self.0.grade, self.in_doubt());
        format!("GradeKnowledge({:?}, {}, {} constants in doubt)", grade.name, grade.note, doubts.len())
    }

    fn __eq__(&self, other: &Self) -> bool {
        pickle::same(&self.0, &other.0)
    }

    fn __reduce__<'py>(slf: &Bound<'py, Self>) -> PyResult<(Bound<'py, PyAny>, Bound<'py, PyTuple>)> {
        pickle::reduce(slf.as_any(), &slf.get().0)
    }

    #[staticmethod]
    fn _unpickle(data: &Bound<'_, PyBytes>) -> PyResult<Self> {
        pickle::restore(data).map(PyGradeKnowledge)
    }
}
