//! One casting through its phases: open, rising, filled, set, and cooling to demold. What holds is in `equations`, when
//! and how it is integrated in `solution`; `equations` never looks at `solution`.

mod equations;
mod solution;

pub use super::accuracy::Accuracy;
pub(crate) use equations::setup::foam_within;
pub use solution::{Sampled, sampled, simulate};
