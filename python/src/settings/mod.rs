//! Settings from keyword arguments: of castings, sweeps, questions, cup tests and fits.

pub mod axes;
pub mod cup_test;
pub mod fit_options;

mod casting;
mod limits;
mod question;

pub use casting::{PyCasting, casting, casting_attributes};
pub use limits::limits;
pub use question::question;
