//! What to do next: the charge and vent most likely to give a good part, and the casting or measurement that teaches most.

mod ahead;
mod chances;
mod drills;
mod gain;
mod goal;
mod map;
mod next_trial;
mod question;
mod recommend;

pub use chances::{Candidate, Chances};
pub use drills::{Drill, metric_drills, usual_drills};
pub use goal::{Goal, Limit, USUAL_TOLERANCE};
pub use map::{ChanceMap, chance_map};
pub use next_trial::{NextTrial, Proposal, Step, next_trial};
pub use question::{ASKED, Asked, Count, Question};
pub use recommend::{Binding, Recommendation, recommend};
