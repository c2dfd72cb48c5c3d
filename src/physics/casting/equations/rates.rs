//! How fast the state of a casting moves, and the Jacobian.

use super::Equations;
use super::cavity_state::CavityState;
use super::layout::Shared::{Flash, GasLost, HeadspaceAir, VentLoss};
use super::layout::{Jacobian, State};
use crate::numerics::Scalar;
use crate::physics::kinetics::{REACTING, TEMP};

impl<S: Scalar> Equations<S> {
    /// dy/dt.
    pub fn rate<const N: usize>(&self, y: &State<S, N>) -> State<S, N> {
        self.rate_at(y, &self.cavity_state(y))
    }

    /// The same where the cavity's state is known.
    pub fn rate_at<const N: usize>(&self, y: &State<S, N>, now: &CavityState<S, N>) -> State<S, N> {
        let mut out = State::zero();
        self.add_rates(y, now, &mut out);
        out
    }

    /// Adds them in place: a copy of what was just written would be waited for.
    #[inline]
    pub fn add_rates<const N: usize>(&self, y: &State<S, N>, now: &CavityState<S, N>, out: &mut State<S, N>) {
        let mass = self.mass(y);
        for i in 0..N {
            let rate = self.reaction_rate(&y.nodes[i], now.unblown[i], mass);
            (0..REACTING).for_each(|k| out.nodes[i][k] += rate[k]);
        }
        if self.regime.open {
            return;
        }
        if self.regime.headspace {
            out[HeadspaceAir] -= self.air_rate(now.pressure);
        }
        self.foam_leaving(y, now, |counted_in, rate| out[counted_in] += rate);
        if self.loses_gas() {
            out[GasLost] += self.gas_leaving(y, now);
        }
    }

    /// Derivatives of [`Equations::rate`] by the state.
    pub fn jacobian<const N: usize>(&self, y: &State<S, N>) -> Jacobian<S, N> {
        self.jacobian_at(y, &self.cavity_state(y))
    }

    /// The same where the cavity's state is known.
    pub fn jacobian_at<const N: usize>(&self, y: &State<S, N>, now: &CavityState<S, N>) -> Jacobian<S, N> {
        let mut out = State::filled(State::zero());
        let mass = self.mass(y);
        let cooling = self.cooling / mass;
        for i in 0..N {
            let reactions = self.reaction_jacobian(&y.nodes[i], mass);
            for (row, by) in out.nodes[i].iter_mut().zip(reactions) {
                row.nodes[i] = by;
            }
            let by_loss = cooling * (y.nodes[i][TEMP] - self.wall_temp) / mass;
            out.nodes[i][TEMP][VentLoss] -= by_loss;
            out.nodes[i][TEMP][Flash] -= by_loss;
        }
        if self.regime.open {
            return out;
        }
        if self.regime.headspace {
            let by_pressure = self.air_leaving(now.pressure).1;
            out[HeadspaceAir] = self.gradient(y, now).map(|g| -(g * by_pressure));
        }
        self.foam_leaving_slopes(y, now, |counted_in, by| out[counted_in].add(&by));
        if self.loses_gas() {
            out[GasLost] = self.gas_leaving_slopes(y, now);
        }
        out
    }
}
