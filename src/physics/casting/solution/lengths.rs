//! How many values move at once, for each number of nodes.
//!
//! Arrays that are as long as a constant computed from a type's own constants are not in the language yet. So lengths
//! are listed here for each number of nodes that castings are made of: one line each.

use super::course::Course;
use super::stopped::Stopped;
use crate::numerics::Scalar;
use crate::physics::casting::equations::layout::{NODES, Shared, moving};

/// A course whose moving parts have known lengths.
pub trait Lengths {
    /// Integrates all reactions and what is named, in the mode that suits it; the number of the event that ended it.
    fn integrate(&mut self, until: f64, others: &'static [Shared]) -> Result<Option<usize>, Stopped>;
    /// Integrates the reactions while the air follows; see `quasi_steady_air`.
    fn let_air_follow(&mut self, until: f64) -> Option<Option<usize>>;
}

macro_rules! lengths_for {
    ($nodes:expr) => {
        impl<S: Scalar> Lengths for Course<'_, S, { $nodes }> {
            fn integrate(&mut self, until: f64, others: &'static [Shared]) -> Result<Option<usize>, Stopped> {
                match others.len() {
                    0 => self.integrate_moving::<{ moving($nodes, 0) }>(until, others),
                    1 => self.integrate_moving::<{ moving($nodes, 1) }>(until, others),
                    2 => self.integrate_moving::<{ moving($nodes, 2) }>(until, others),
                    _ => self.integrate_moving::<{ moving($nodes, 3) }>(until, others),
                }
            }

            fn let_air_follow(&mut self, until: f64) -> Option<Option<usize>> {
                self.follow_while_close::<{ moving($nodes, 0) }>(until)
            }
        }
    };
}

lengths_for!(NODES);
#[cfg(test)]
lengths_for!(2);
