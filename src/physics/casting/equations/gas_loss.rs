//! Gas that set foam loses through opened cells: in each layer the gauge share of its free gas per time constant.

use super::layout::Shared::{Flash, VentLoss};
use super::layout::State;
use super::{CavityState, Equations};
use crate::numerics::Scalar;
use crate::physics::cavity::Foam;
use crate::physics::kinetics::BLOW;
use crate::physics::layers::Layers;

impl<S: Scalar> Equations<S> {
    /// Whether gas is lost.
    pub fn loses_gas(&self) -> bool {
        self.regime.gelled && self.regime.held_headspace.is_none() && self.foam.cell_opening_time.value().is_finite()
    }

    /// The share of its free gas that each layer loses, 1/s.
    fn loss_rate<const N: usize>(&self, now: &CavityState<S, N>) -> S {
        (S::one() - self.cavity.ambient / now.pressure) / self.foam.cell_opening_time
    }

    /// Adds the gas that each layer loses, mol/s.
    pub fn add_gas_leaving<const N: usize>(&self, y: &State<S, N>, now: &CavityState<S, N>, out: &mut State<S, N>) {
        let (foam, per) = (self.contents(y, &now.unblown).foam, self.loss_rate(now));
        for (out, foam) in out.lost.iter_mut().zip(&foam) {
            *out += foam.free_gas(&self.gases, now.pressure) * per;
        }
    }

    /// The derivatives of a layer's loss by the state; `gradient`: the pressure's.
    pub fn gas_leaving_slopes<const N: usize>(
        &self,
        y: &State<S, N>,
        now: &CavityState<S, N>,
        gradient: &State<S, N>,
        layer: usize,
    ) -> State<S, N> {
        let (p, share) = (now.pressure, Layers::<N>::NODES.share[layer]);
        let foam = self.contents(y, &now.unblown).foam[layer];
        let (free, per) = (foam.free_gas(&self.gases, p), self.loss_rate(now));
        let dissolving = self.gases.henry(&foam.saturated) * foam.mass * per;
        let by_p = free * self.cavity.ambient / (p * p) / self.foam.cell_opening_time - dissolving;
        let mut by = gradient.map(|g| g * by_p);
        by.nodes[layer][BLOW] += self.gases.made_by_blown(&foam.saturated) * foam.mass * per * now.unblown[layer];
        let of_a_kilogram = Foam { mass: S::constant(share), lost: S::zero(), ..foam };
        let by_mass = of_a_kilogram.free_gas(&self.gases, p) * per;
        by[VentLoss] -= by_mass;
        by[Flash] -= by_mass;
        by.lost[layer] -= per;
        by
    }
}
