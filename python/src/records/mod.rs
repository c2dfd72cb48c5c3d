//! Records as Python has them: grades, molds, data sheets, rise logs and trials.

mod datasheet;
mod grade;
mod log;
mod mold;
mod numbers;
mod trace;
mod trial;

pub use datasheet::{PyDatasheet, PyRecipe};
pub use grade::PyGrade;
pub use log::PyRiseLog;
pub use mold::PyMold;
pub use trace::PyTrace;
pub use trial::PyTrial;
