//! Reactions and heat of the foam, node by node, with what it loses to the wall.

use super::Equations;
use super::layout::{LEADING, State};
use crate::numerics::Scalar;
use crate::physics::kinetics::{BLOW, GEL, REACTING, TEMP, gelled, unblown};

impl<S: Scalar> Equations<S> {
    /// Mass of foam in the cavity, kg.
    #[inline(always)]
    pub fn mass<const N: usize>(&self, y: &State<S, N>) -> S {
        use super::layout::Shared::{Flash, VentLoss};
        self.poured - y[VentLoss] - y[Flash]
    }

    /// Rates of a node's turnovers and temperature, with this share of the gas unmade, of `mass` (kg) of foam in the
    /// cavity: nodes share the wall as they share the mass.
    #[inline(always)]
    pub fn reaction_rate(&self, node: &[S; REACTING], unblown: S, mass: S) -> [S; REACTING] {
        let [blow, gel, heat] = self.kinetics.rate_with(node, unblown);
        [blow, gel, heat - self.cooling * (node[TEMP] - self.wall_temp) / mass]
    }

    /// Derivatives of those rates by the node's own values.
    pub fn reaction_jacobian(&self, node: &[S; REACTING], mass: S) -> [[S; REACTING]; REACTING] {
        let mut by = self.kinetics.jacobian(*node);
        by[TEMP][TEMP] -= self.cooling / mass;
        by
    }

    /// Upper bound of the core temperature, K: of foam that lost no heat.
    pub fn core_temp<const N: usize>(&self, y: &State<S, N>) -> S {
        let core = &y.nodes[LEADING];
        self.kinetics.adiabatic_temp(self.mix_temp, S::one() - unblown(core[BLOW]), gelled(core[GEL]))
    }

    /// Time that gelling takes at this temperature, s: longer than with the heat to come.
    pub fn time_to_gel<const N: usize>(&self, y: &State<S, N>) -> S {
        let leading = &y.nodes[LEADING];
        let [_, gel] = self.kinetics.speeds(leading[TEMP]);
        let left = (self.foam.gel_conversion - gelled(leading[GEL])).max(S::zero());
        left / ((S::one() - self.foam.gel_conversion) * gel)
    }
}
