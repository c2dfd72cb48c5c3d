//! How many values move at once, for each number of layers.
//!
//! Arrays that are as long as a constant computed from a type's own constants are not in the language yet. So lengths
//! are listed here for each number of layers that a casting may have: one line each, here and in [`with_layers`].

use super::course::Course;
use super::stopped::Stopped;
use crate::numerics::Scalar;
use crate::physics::casting::equations::layout::{Beside, moving, moving_gas};

/// A course whose moving parts have known lengths.
pub trait Lengths {
    /// Integrates all reactions and what is named, in the mode that suits it; the number of the event that ended it.
    fn integrate(&mut self, until: f64, beside: Beside) -> Result<Option<usize>, Stopped>;
    /// Integrates the reactions while the air follows; see `quasi_steady_air`.
    fn let_air_follow(&mut self, until: f64) -> Option<Option<usize>>;
}

macro_rules! lengths_for {
    ($nodes:expr) => {
        impl<S: Scalar> Lengths for Course<'_, S, { $nodes }> {
            fn integrate(&mut self, until: f64, beside: Beside) -> Result<Option<usize>, Stopped> {
                match beside.shared.len() {
                    0 if beside.gas_lost => self.integrate_moving::<{ moving_gas($nodes) }>(until, beside),
                    0 => self.integrate_moving::<{ moving($nodes, 0) }>(until, beside),
                    1 => self.integrate_moving::<{ moving($nodes, 1) }>(until, beside),
                    2 => self.integrate_moving::<{ moving($nodes, 2) }>(until, beside),
                    _ => self.integrate_moving::<{ moving($nodes, 3) }>(until, beside),
                }
            }

            fn let_air_follow(&mut self, until: f64) -> Option<Option<usize>> {
                self.follow_while_close::<{ moving($nodes, 0) }>(until)
            }
        }
    };
}

lengths_for!(1);
lengths_for!(3);
lengths_for!(4);
#[cfg(test)]
lengths_for!(6);

/// Runs an expression with the constant `$nodes` for the number of layers: one of `model::LAYER_COUNTS`.
macro_rules! with_layers {
    ($layers:expr, $nodes:ident => $run:expr) => {{
        macro_rules! of {
            ($count:literal) => {{
                const $nodes: usize = $count;
                $run
            }};
        }
        match $layers {
            1 => of!(1),
            3 => of!(3),
            _ => of!(4),
        }
    }};
}
pub(super) use with_layers;
