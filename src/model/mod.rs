//! What a casting is set to and what it comes to: the words and tables that records, physics, fits and reports share.

mod casting;
mod cavity;
mod cup;
mod field;
mod foam;
mod result;

pub use casting::{Casting, Leak, LeakStart};
pub use cavity::{Cavity, PartingLine, Vent};
pub use cup::Cup;
pub(crate) use field::{Field, Range};
pub use foam::FoamConstants;
pub use result::{CastingResult, CastingTrace, Phase, Run, Verdict};
