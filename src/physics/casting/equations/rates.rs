//! How fast the state of a casting moves, and the Jacobian.

use super::Equations;
use super::cavity_state::CavityState;
use super::layout::Shared::{Flash, HeadspaceAir, VentLoss};
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
            let rate = self.reaction_rate::<N>(&y.nodes[i], now.unblown[i], mass);
            (0..REACTING).for_each(|k| out.nodes[i][k] += rate[k]);
        }
        self.add_conduction(y, now, out);
        if self.regime.open {
            return;
        }
        if self.regime.headspace {
            out[HeadspaceAir] -= self.air_rate(now.pressure);
        }
        self.foam_leaving(y, now, |counted_in, rate| out[counted_in] += rate);
        if self.loses_gas() {
            self.add_gas_leaving(y, now, out);
        }
    }

    /// Derivatives of [`Equations::rate`] by the state.
    pub fn jacobian<const N: usize>(&self, y: &State<S, N>) -> Jacobian<S, N> {
        self.jacobian_at(y, &self.cavity_state(y))
    }

    /// The same where the cavity's state is known.
    pub fn jacobian_at<const N: usize>(&self, y: &State<S, N>, now: &CavityState<S, N>) -> Jacobian<S, N> {
        let mut out = State::filled(State::zero());
        let (mass, gradient) = (self.mass(y), self.gradient(y, now));
        for i in 0..N {
            let reactions = self.reaction_jacobian::<N>(&y.nodes[i], mass);
            for (row, by) in out.nodes[i].iter_mut().zip(reactions) {
                row.nodes[i] = by;
            }
        }
        if N == 1 {
            let by_loss = self.cooling * (y.nodes[0][TEMP] - self.wall_temp) / (mass * mass);
            out.nodes[0][TEMP][VentLoss] -= by_loss;
            out.nodes[0][TEMP][Flash] -= by_loss;
        }
        self.add_conduction_slopes(y, now, &gradient, &mut out);
        if self.regime.open {
            return out;
        }
        if self.regime.headspace {
            let by_pressure = self.air_leaving(now.pressure).1;
            out[HeadspaceAir] = gradient.map(|g| -(g * by_pressure));
        }
        self.foam_leaving_slopes(y, now, &gradient, |counted_in, by| out[counted_in].add(&by));
        if self.loses_gas() {
            (0..N).for_each(|i| out.lost[i] = self.gas_leaving_slopes(y, now, &gradient, i));
        }
        out
    }
}
