//! Gas that set foam loses through opened cells: the gauge share of the free gas per time constant.

use super::cavity_state::share;
use super::layout::Shared::{Flash, GasLost, VentLoss};
use super::layout::State;
use super::{CavityState, Equations};
use crate::numerics::Scalar;
use crate::physics::cavity::{Contents, Foam};
use crate::physics::kinetics::BLOW;

impl<S: Scalar> Equations<S> {
    /// Whether gas is lost.
    pub fn loses_gas(&self) -> bool {
        self.regime.gelled && self.regime.held_headspace.is_none() && self.foam.cell_opening_time.value().is_finite()
    }

    /// Gas lost, mol/s.
    pub fn gas_leaving<const N: usize>(&self, y: &State<S, N>, now: &CavityState<S, N>) -> S {
        let p = now.pressure;
        let free = self.contents(y, &now.unblown).free_gas(&self.gases, p);
        free * (S::one() - self.cavity.ambient / p) / self.foam.cell_opening_time
    }

    /// Its derivatives by the state.
    pub fn gas_leaving_slopes<const N: usize>(&self, y: &State<S, N>, now: &CavityState<S, N>) -> State<S, N> {
        let (p, c) = (now.pressure, self.contents(y, &now.unblown));
        let free = c.free_gas(&self.gases, p);
        let gauge_share = S::one() - self.cavity.ambient / p;
        let mass = self.mass(y);
        let dissolving = self.gases.henry(&c.saturated) * mass * gauge_share;
        let by_p = (free * self.cavity.ambient / (p * p) - dissolving) / self.foam.cell_opening_time;
        let mut by = self.gradient(y, now).map(|g| g * by_p);
        let per = gauge_share / self.foam.cell_opening_time;
        let of_a_kilogram = |foam: Foam<S>| Foam { mass: S::constant(share::<N>()), lost: S::zero(), ..foam };
        let by_mass = Contents { foam: c.foam.map(of_a_kilogram), ..c }.free_gas(&self.gases, p) * per;
        let made = self.gases.made_by_blown(&c.saturated);
        for (i, by) in by.nodes.iter_mut().enumerate() {
            by[BLOW] += made * c.foam[i].mass * per * now.unblown[i];
        }
        by[VentLoss] -= by_mass;
        by[Flash] -= by_mass;
        by[GasLost] -= per;
        by
    }
}
