//! Pressure and volumes in the cavity at one state, and the pressure's gradient.

use super::Equations;
use super::layout::Shared::{Flash, HeadspaceAir, VentLoss};
use super::layout::State;
use crate::numerics::Scalar;
use crate::physics::cavity::{Contents, Foam};
use crate::physics::kinetics::{BLOW, TEMP, unblown};
use crate::physics::layers::{Layers, each_node, sum_over};
use crate::physics::properties::GAS_CONSTANT;

/// Pressure and volumes at one state: what rates, events and traces are made of.
#[derive(Clone, Copy, Debug)]
pub struct CavityState<S, const NODES: usize> {
    /// Absolute pressure, Pa.
    pub pressure: S,
    /// Volume of the headspace, m3.
    pub headspace: S,
    /// Volume of the cavity, m3.
    pub cavity: S,
    /// Of each layer the share of the gas that is not made yet: 1 less the blowing conversion.
    pub unblown: [S; NODES],
}

impl<S: Scalar, const N: usize> CavityState<S, N> {
    /// What is not known.
    pub fn unknown() -> Self {
        let lost = S::constant(f64::NAN);
        CavityState { pressure: lost, headspace: lost, cavity: lost, unblown: [lost; N] }
    }

    /// The same in other numbers.
    pub fn map<T>(&self, to: impl Fn(S) -> T) -> CavityState<T, N> {
        CavityState {
            pressure: to(self.pressure),
            headspace: to(self.headspace),
            cavity: to(self.cavity),
            unblown: self.unblown.map(&to),
        }
    }

    /// Share of the cavity that foam fills.
    #[inline]
    pub fn fill(&self) -> S {
        S::one() - self.headspace / self.cavity
    }
}

/// Of each layer the share of the gas that is not made yet.
#[inline(always)]
pub fn unblown_of<S: Scalar, const N: usize>(y: &State<S, N>) -> [S; N] {
    each_node(|i| unblown(y.nodes[i][BLOW]))
}

impl<S: Scalar> Equations<S> {
    /// What stands in the cavity, if the foam has this mass, kg.
    #[inline(always)]
    pub fn contents_of<const N: usize>(&self, y: &State<S, N>, unblown: &[S; N], mass: S) -> Contents<S, N> {
        let of = |i: usize| Foam {
            mass: mass * Layers::<N>::NODES.share[i],
            blown: S::one() - unblown[i],
            temp: y.nodes[i][TEMP],
            lost: y.lost[i],
            saturated: self.regime.saturated[i],
        };
        Contents { foam: each_node(of), headspace: y[HeadspaceAir] }
    }

    /// What stands in the cavity.
    #[inline(always)]
    pub fn contents<const N: usize>(&self, y: &State<S, N>, unblown: &[S; N]) -> Contents<S, N> {
        self.contents_of(y, unblown, self.mass(y))
    }

    /// Volume of the foam where it is free to expand to this pressure (Pa), m3.
    #[inline(always)]
    pub fn free_volume<const N: usize>(&self, y: &State<S, N>, unblown: &[S; N], mass: S, pressure: S) -> S {
        let of = |i: usize| self.gases.specific_volume(S::one() - unblown[i], y.nodes[i][TEMP], pressure);
        sum_over::<N, S>(|i| of(i) * (mass * Layers::<N>::NODES.share[i]))
    }

    /// Pressure and volumes at a state.
    #[inline]
    pub fn cavity_state<const N: usize>(&self, y: &State<S, N>) -> CavityState<S, N> {
        self.cavity_state_with(y, unblown_of(y))
    }

    /// The same where [`unblown`] is known. Always inlined: what a call returns is copied before it has arrived in
    /// memory.
    #[inline(always)]
    pub fn cavity_state_with<const N: usize>(&self, y: &State<S, N>, unblown: [S; N]) -> CavityState<S, N> {
        if self.regime.open {
            let (pressure, cavity) = (self.cavity.ambient, self.cavity.volume);
            let volume = self.free_volume(y, &unblown, self.mass(y), pressure);
            return CavityState { pressure, headspace: cavity - volume, cavity, unblown };
        }
        let pressure = match self.regime.held_headspace {
            Some(headspace) => y[HeadspaceAir] * (self.cavity.headspace_temp * GAS_CONSTANT) / headspace,
            None => self.cavity.pressure(&self.gases, &self.contents(y, &unblown)),
        };
        self.cavity_state_at(y, pressure, unblown)
    }

    /// What is known of the cavity while its air follows the rise: for rates that do not ask for its pressure.
    #[inline(always)]
    pub fn free_state<const N: usize>(&self, y: &State<S, N>) -> CavityState<S, N> {
        let (pressure, cavity) = (self.cavity.ambient, self.cavity.volume);
        CavityState { pressure, headspace: S::zero(), cavity, unblown: unblown_of(y) }
    }

    /// The same in the closed cavity where the absolute pressure (Pa) is known as well.
    #[inline(always)]
    pub fn cavity_state_at<const N: usize>(&self, y: &State<S, N>, pressure: S, unblown: [S; N]) -> CavityState<S, N> {
        let rt = self.cavity.headspace_temp * GAS_CONSTANT;
        let headspace = self.regime.held_headspace.unwrap_or_else(|| y[HeadspaceAir] * rt / pressure);
        CavityState { pressure, headspace, cavity: self.cavity.volume_at(pressure), unblown }
    }

    /// Gradient of the pressure by the state.
    pub fn gradient<const N: usize>(&self, y: &State<S, N>, now: &CavityState<S, N>) -> State<S, N> {
        let mut g = State::zero();
        if self.regime.open {
            return g;
        }
        if let Some(headspace) = self.regime.held_headspace {
            g[HeadspaceAir] = self.cavity.headspace_temp * GAS_CONSTANT / headspace;
            return g;
        }
        let p = self.cavity.slopes(&self.gases, &self.contents(y, &now.unblown), now.pressure);
        for (i, p) in p.foam.iter().enumerate() {
            g.nodes[i][BLOW] = p.by_blown * now.unblown[i];
            g.nodes[i][TEMP] = p.by_temp;
            g.lost[i] = p.by_lost;
        }
        g[HeadspaceAir] = p.by_headspace;
        let by_mass = sum_over::<N, S>(|i| p.foam[i].by_mass * Layers::<N>::NODES.share[i]);
        g[VentLoss] = -by_mass;
        g[Flash] = -by_mass;
        g
    }

    /// How fast the pressure climbs at these rates of the state, Pa/s.
    #[inline]
    pub fn climb<const N: usize>(&self, y: &State<S, N>, now: &CavityState<S, N>, rate: &State<S, N>) -> S {
        self.gradient(y, now).dot(rate)
    }

    /// Share of the cavity that the foam would fill at ambient pressure.
    pub fn fill_at_ambient<const N: usize>(&self, y: &State<S, N>) -> S {
        self.free_volume(y, &unblown_of(y), self.mass(y), self.cavity.ambient) / self.cavity.volume
    }
}
