//! What came in and what is known: rise logs, trials, grades, molds and how one casting is run. SI inside, units in the
//! names at the edge.

mod ambient;
mod casting;
mod cup;
mod datasheet;
mod entries;
mod field;
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

pub use casting::{Casting, Leak, LeakStart};
pub use cup::Cup;
pub use datasheet::Datasheet;
pub use grade::{FoamConstants, Grade};
pub use ledger::read_trials;
pub use log::{RiseLog, Stopwatch, read_rise_logs};
pub use mold::{Cavity, Mold, PartingLine, Vent};
pub use recipe::{Polyol, Recipe};
pub use trial::{Outcome, Trace, Trial};
