//! One casting through its phases: open, rising, filled, set, and cooling to demold. Each phase ends with an event.

mod check;
mod course;
mod headspace;
mod machine;
mod manner;
mod marks;
mod motion;
mod pressed;
mod regime;
mod setup;
#[cfg(test)]
mod tests;
mod watch;

pub(crate) use check::temperature as check_temperature;
pub(crate) use check::{ambient as check_ambient, foam as check_foam, positive as check_positive};
pub use course::{Accuracy, Sampled, sampled, simulate};
pub(crate) use setup::foam_within;
