//! The Jacobian of what moves, with the pressure as a state where it is one.

use super::moving_part::{MovingPart, Replaced};
use super::pressure_state::gradient_turning;
use crate::numerics::Scalar;
use crate::numerics::rosenbrock::Stiff;
use crate::physics::casting::equations::CavityState;
use crate::physics::casting::equations::layout::{Jacobian, State, moving};
use crate::physics::kinetics::REACTING;

impl<S: Scalar, const D: usize, const N: usize> MovingPart<'_, S, D, N> {
    /// Derivatives of the rates with the pressure as a state, from those with what it stands for, `slopes`: what stands
    /// still is then the pressure, and the pressure's own rate is `gradient . rate`.
    fn pressure_jacobian(
        &self,
        replaced: Replaced,
        y: &State<S, N>,
        now: &CavityState<S, N>,
        slopes: &Jacobian<S, N>,
    ) -> [[S; D]; D] {
        let gradient = self.twin.exact.gradient(y, now);
        let mut climb = gradient_turning(&self.twin.exact, y, now);
        gradient.values().zip(slopes.values()).for_each(|(g, row)| climb.add_scaled(*g, row));
        let along: [S; D] = self.moving.of(&gradient);
        let mut rows: [State<S, N>; D] = self.moving.of(slopes);
        rows[replaced.slot] = climb;
        rows.map(|row| {
            let per_pascal = row[replaced.which] / gradient[replaced.which];
            let row: [S; D] = self.moving.of(&row);
            std::array::from_fn(|i| if i == replaced.slot { per_pascal } else { row[i] - per_pascal * along[i] })
        })
    }
}

impl<S: Scalar, const D: usize, const N: usize> Stiff<S, D> for MovingPart<'_, S, D, N> {
    fn jacobian(&self, y: &[S; D]) -> [[S; D]; D] {
        let exact = &self.twin.exact;
        if D == moving(N, 0) {
            let mass = exact.mass(&self.rest);
            let mut out = [[S::zero(); D]; D];
            for (node, at) in y.as_chunks().0.iter().enumerate() {
                for (k, by) in exact.reaction_jacobian(at, mass).into_iter().enumerate() {
                    let first = node * REACTING;
                    out[first + k][first..first + REACTING].copy_from_slice(&by);
                }
            }
            return out;
        }
        let (all, now) = self.cavity_at(y);
        let slopes = exact.jacobian_at(&all, &now);
        match self.replaced {
            Some(replaced) => self.pressure_jacobian(replaced, &all, &now, &slopes),
            None => {
                let rows: [State<S, N>; D] = self.moving.of(&slopes);
                rows.map(|row| self.moving.of(&row))
            }
        }
    }
}
