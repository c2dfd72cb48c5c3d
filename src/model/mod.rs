//! What a casting is set to and what it comes to: the words and tables that records, physics, fits and reports share.

mod casting;
mod causes;
mod cavity;
mod constants;
mod cup;
mod field;
mod foam;
mod given;
mod number;
mod outcomes;
mod parameters;
mod result;
mod settings;
mod vent;
mod verdicts;

pub use casting::{Casting, Leak, LeakStart};
pub use causes::{Cause, CauseRow, Effect, EffectRow};
pub use cavity::{Cavity, LAYER_COUNTS, PartingLine};
pub use constants::CONSTANTS;
pub use cup::Cup;
pub(crate) use field::{Field, Range};
pub use foam::FoamConstants;
pub use given::{Given, GivenFault};
pub use number::Number;
pub use outcomes::{Outcome, OutcomeRow};
pub use parameters::{Action, FittedTo, Group, Label, Needs, Parameter, ParameterRow};
pub use result::{CastingResult, CastingTrace, DensityProfile, Phase, Run, SKIN_RATIO, SKIN_SHARE};
pub(crate) use settings::WEIGHED_AT_DEMOLD;
pub use settings::{Absent, Setting, SettingRow};
pub(crate) use vent::{AT_FILL, COUNT, VENT_KINDS};
pub use vent::{Dimension, Vent, VentKind, VentKindRow, vent_settings};
pub(crate) use verdicts::{FLASH_SHARE, FLASH_TO_THE_EYE, SEALED_FULL};
pub use verdicts::{Verdict, VerdictRow};
