//! What came in and what is known: rise logs, trials, grades, molds and how one casting is run. SI inside, units in the
//! names at the edge.

mod casting;
mod cup;
mod grade;
mod log;
mod mold;
mod trial;

pub use casting::{Casting, Leak, LeakStart};
pub use cup::Cup;
pub use grade::{FoamConstants, Grade};
pub use log::{RiseLog, Stopwatch};
pub use mold::{Cavity, Mold, PartingLine, Vent};
pub use trial::{Outcome, Trace, Trial};
