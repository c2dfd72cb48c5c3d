//! What came in and what is known: rise logs, trials, grades, molds and how one casting is run. SI inside, units in the
//! names at the edge.

mod ambient;
mod datasheet;
mod entries;
mod files;
mod grade;
mod ledger;
mod log;
mod mold;
mod recipe;
mod section;
mod table;
mod text;
mod trace;
mod trial;
mod vocabulary;

pub use datasheet::Datasheet;
pub use grade::Grade;
pub use ledger::read_trials;
pub use log::{RiseLog, Stopwatch, read_rise_logs};
pub use mold::{CAVITY_NUMBERS, Mold};
pub use recipe::{Polyol, Recipe};
pub use trial::{OBSERVATIONS, Observation, Trace, Trial};
