//! Foam that leaves through the openings that it has reached, with the derivatives by the state.

use super::layout::Shared::{Flash, HeadspaceAir, VentLoss};
use super::layout::{Shared, State};
use super::{CavityState, Equations};
use crate::numerics::Scalar;
use crate::physics::kinetics::{GEL, TEMP};
use crate::physics::layers::Layers;
use crate::physics::opening::Flow;
use crate::physics::properties::GAS_CONSTANT;

impl<S: Scalar> Equations<S> {
    /// Whether foam can leave.
    fn foam_leaves(&self) -> bool {
        !self.regime.gelled && self.regime.any_reached()
    }

    /// Hands on the foam that leaves, opening by opening: what of the state counts it, and its rate.
    #[inline]
    pub fn foam_leaving<const N: usize>(
        &self,
        y: &State<S, N>,
        now: &CavityState<S, N>,
        mut take: impl FnMut(Shared, S),
    ) {
        if !self.foam_leaves() {
            return;
        }
        let gauge = now.pressure - self.cavity.ambient;
        let density = self.mass(y) / (now.cavity - now.headspace);
        let viscosity = self.viscosity.value(self.mean_gelled(y), self.mean_temp(y));
        self.each_opening(true, now.pressure, |opening, _, outlet| {
            take(outlet.counted_in(), opening.foam_rate(gauge, density, viscosity));
        });
    }

    /// The same with the derivatives of each rate by the state in place of the rate.
    pub fn foam_leaving_slopes<const N: usize>(
        &self,
        y: &State<S, N>,
        now: &CavityState<S, N>,
        gradient: &State<S, N>,
        mut take: impl FnMut(Shared, State<S, N>),
    ) {
        if !self.foam_leaves() {
            return;
        }
        let gauge = now.pressure - self.cavity.ambient;
        let mass = self.mass(y);
        let density = mass / (now.cavity - now.headspace);
        let mu = self.viscosity.at(self.mean_gelled(y), self.mean_temp(y));
        self.each_opening(true, now.pressure, |opening, by_log_gap, outlet| {
            let flow = opening.foam_flow(gauge, density, mu.value);
            if flow.rate.value() > 0.0 {
                let mut by = self.foam_flow_slopes(now, gradient, &flow, by_log_gap, mass);
                let by_mu = flow.rate * flow.by_log_viscosity;
                for (i, by) in by.nodes.iter_mut().enumerate() {
                    by[TEMP] += by_mu * mu.by_temp * Layers::<N>::NODES.share[i];
                    by[GEL] += by_mu * mu.by_conversion * self.mean_gelled_by(y, i);
                }
                take(outlet.counted_in(), by);
            }
        });
    }

    /// Derivatives of a foam flow through pressure and density; those through viscosity are added by the caller.
    fn foam_flow_slopes<const N: usize>(
        &self,
        now: &CavityState<S, N>,
        gradient: &State<S, N>,
        flow: &Flow<S>,
        by_log_gap: S,
        mass: S,
    ) -> State<S, N> {
        let p = now.pressure;
        let foam_volume = now.cavity - now.headspace;
        let by_density = flow.rate * flow.by_log_density;
        // d ln density = dm/m - dV_foam/V_foam; V_foam = V(p) - n_head R T_h / p
        let foam_by_pressure = self.cavity.volume * self.cavity.stretch + now.headspace / p;
        let by_p = flow.by_pressure + flow.by_log_gap * by_log_gap - by_density * foam_by_pressure / foam_volume;
        let mut by = gradient.map(|g| g * by_p);
        by[HeadspaceAir] += by_density * (self.cavity.headspace_temp * GAS_CONSTANT) / (p * foam_volume);
        by[VentLoss] -= by_density / mass;
        by[Flash] -= by_density / mass;
        by
    }
}
