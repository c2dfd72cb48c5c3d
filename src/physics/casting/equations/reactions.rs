//! Reactions and heat of the foam, layer by layer, with what a lump loses to the wall.

use super::layout::State;
use super::{CavityState, Equations};
use crate::numerics::Scalar;
use crate::physics::kinetics::{GEL, REACTING, TEMP, gelled, ungelled};
use crate::physics::layers::{Layers, sum_over};

impl<S: Scalar> Equations<S> {
    /// Mass of foam in the cavity, kg.
    #[inline(always)]
    pub fn mass<const N: usize>(&self, y: &State<S, N>) -> S {
        use super::layout::Shared::{Flash, VentLoss};
        self.poured - y[VentLoss] - y[Flash]
    }

    /// Rates of a layer's turnovers and temperature, with this share of the gas unmade, of `mass` (kg) of foam in the
    /// cavity. The only layer of a lump also gives heat to the wall.
    #[inline(always)]
    pub fn reaction_rate<const N: usize>(&self, node: &[S; REACTING], unblown: S, mass: S) -> [S; REACTING] {
        let asleep = || [S::zero(); REACTING];
        let [blow, gel, heat] = if self.regime.dormant { asleep() } else { self.kinetics.rate_with(node, unblown) };
        [blow, gel, if N == 1 { heat - self.cooling * (node[TEMP] - self.wall_temp) / mass } else { heat }]
    }

    /// Derivatives of those rates by the layer's own values.
    pub fn reaction_jacobian<const N: usize>(&self, node: &[S; REACTING], mass: S) -> [[S; REACTING]; REACTING] {
        let asleep = || [[S::zero(); REACTING]; REACTING];
        let mut by = if self.regime.dormant { asleep() } else { self.kinetics.jacobian(*node) };
        if N == 1 {
            by[TEMP][TEMP] -= self.cooling / mass;
        }
        by
    }

    /// Gelling conversion, mean by mass: what decides whether foam flows.
    #[inline(always)]
    pub fn mean_gelled<const N: usize>(&self, y: &State<S, N>) -> S {
        sum_over::<N, S>(|i| gelled(y.nodes[i][GEL]) * Layers::<N>::NODES.share[i])
    }

    /// Its derivative by a layer's turnover of gelling.
    #[inline(always)]
    pub fn mean_gelled_by<const N: usize>(&self, y: &State<S, N>, layer: usize) -> S {
        let left = ungelled(y.nodes[layer][GEL]);
        left * left * Layers::<N>::NODES.share[layer]
    }

    /// Temperature, mean by mass, K.
    #[inline(always)]
    pub fn mean_temp<const N: usize>(&self, y: &State<S, N>) -> S {
        sum_over::<N, S>(|i| y.nodes[i][TEMP] * Layers::<N>::NODES.share[i])
    }

    /// Blowing conversion, mean by mass.
    pub fn mean_blown<const N: usize>(&self, unblown: &[S; N]) -> S {
        S::one() - sum_over::<N, S>(|i| unblown[i] * Layers::<N>::NODES.share[i])
    }

    /// Temperature of the core, K: of layers at the mid-plane; of a lump the upper bound, of foam that lost no heat.
    pub fn core_temp<const N: usize>(&self, y: &State<S, N>, now: &CavityState<S, N>) -> S {
        if N > 1 {
            let (core, by_wall) = Layers::<N>::NODES.at(0.0);
            return sum_over::<N, S>(|i| y.nodes[i][TEMP] * core[i]) + self.surface_temp(y, now) * by_wall;
        }
        self.kinetics.adiabatic_temp(self.mix_temp, self.mean_blown(&now.unblown), self.mean_gelled(y))
    }

    /// Time that gelling takes at this temperature, s: longer than with the heat to come.
    pub fn time_to_gel<const N: usize>(&self, y: &State<S, N>) -> S {
        let [_, gel] = self.kinetics.speeds(self.mean_temp(y));
        let left = (self.foam.gel_conversion - self.mean_gelled(y)).max(S::zero());
        left / ((S::one() - self.foam.gel_conversion) * gel)
    }
}
