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
        if D == moving(1, 0) {
            let (mass, mut out) = (exact.mass(&self.rest), [[S::zero(); D]; D]);
            for (rows, node) in out.chunks_mut(REACTING).zip(y.as_chunks().0) {
                for (row, by) in rows.iter_mut().zip(exact.reaction_jacobian::<N>(node, mass)) {
                    row[..REACTING].copy_from_slice(&by);
                }
            }
            return out;
        }
        let (all, now) = if self.follows { self.free_at(y) } else { self.cavity_at(y) };
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
