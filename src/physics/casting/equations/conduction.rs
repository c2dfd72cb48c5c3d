//! Heat that passes between layers of foam and from the outer one to the wall.
//!
//! Foam wets as much of the wall as it fills of the cavity, so that its half thickness stays volume over wall area
//! while it rises. While the headspace is open to the outside, densities are those of foam that is free to expand: what
//! a vent adds to the pressure makes no difference to conduction, and the heat does not wait for the pressure.

use super::layout::Shared::{Flash, HeadspaceAir, VentLoss};
use super::layout::{Jacobian, State};
use super::{CavityState, Equations};
use crate::numerics::Scalar;
use crate::physics::conductivity::MassConductivity;
use crate::physics::kinetics::{BLOW, TEMP};
use crate::physics::layers::{Layers, each_node, sum_over};
use crate::physics::properties::GAS_CONSTANT;

/// The volume of a kilogram of a layer, m3/kg, with its derivatives.
#[derive(Clone, Copy)]
struct Volume<S> {
    value: S,
    by_blow: S,
    by_temp: S,
    by_pressure: S,
    by_lost: S,
    by_mass: S,
}

/// The share of the wall that is wet per mass of foam, 1/kg, with its derivatives.
struct Wetting<S, const N: usize> {
    value: S,
    /// Through the layers' volumes.
    by_volume: [S; N],
    by_pressure: S,
    by_air: S,
    by_mass: S,
}

/// How heat passes between layers and to the wall.
struct Passing<S, const N: usize> {
    volumes: [Volume<S>; N],
    wet: Wetting<S, N>,
    /// Square of the wet area per mass and heat capacity.
    between: S,
    kappa: [MassConductivity<S>; N],
    /// What passes at each node per slope of the temperature, 1/s.
    passes: [S; N],
    /// That slope, K.
    slope: [S; N],
    /// Temperature of the foam at the wall, K: as much heat comes there as goes.
    surface: S,
    /// One over all that passes to and from the wall per temperature, s.
    all: S,
    freely: bool,
}

impl<S: Scalar> Equations<S> {
    /// Whether layers conduct as foam that is free to expand.
    #[inline]
    fn conducts_freely(&self) -> bool {
        self.regime.open || self.regime.headspace && self.has_air_path()
    }

    /// The volume of a kilogram of each layer.
    #[inline(always)]
    fn volumes<const N: usize>(&self, y: &State<S, N>, now: &CavityState<S, N>, freely: bool) -> [Volume<S>; N] {
        let mass = self.mass(y);
        each_node(|i| {
            let (blown, temp) = (S::one() - now.unblown[i], y.nodes[i][TEMP]);
            let rt = temp * GAS_CONSTANT;
            let liquid = S::one() / self.gases.liquid_density;
            if freely {
                let per = S::one() / self.cavity.ambient;
                let (free, made) = self.gases.free_where_it_can(blown, self.cavity.ambient);
                let (by_blow, by_temp) = (made * now.unblown[i] * rt * per, free * per * GAS_CONSTANT);
                let zero = S::zero();
                let value = liquid + by_temp * temp;
                return Volume { value, by_blow, by_temp, by_pressure: zero, by_lost: zero, by_mass: zero };
            }
            let (per, saturated) = (S::one() / now.pressure, &self.regime.saturated[i]);
            let own = mass * Layers::<N>::NODES.share[i];
            let free = self.gases.free(blown, now.pressure, saturated) - y.lost[i] / own;
            let value = liquid + free * rt * per;
            Volume {
                value,
                by_blow: self.gases.made_by_blown(saturated) * now.unblown[i] * rt * per,
                by_temp: free * per * GAS_CONSTANT,
                by_pressure: -(self.gases.henry(saturated) * rt + free * rt * per) * per,
                by_lost: -(rt * per / own),
                by_mass: y.lost[i] * rt * per / (own * mass),
            }
        })
    }

    /// How much of the wall the foam wets.
    #[inline(always)]
    fn wetting<const N: usize>(
        &self,
        y: &State<S, N>,
        now: &CavityState<S, N>,
        volumes: &[Volume<S>; N],
        freely: bool,
    ) -> Wetting<S, N> {
        let (zero, mass) = (S::zero(), self.mass(y));
        let none = Wetting { value: zero, by_volume: [zero; N], by_pressure: zero, by_air: zero, by_mass: zero };
        if let Some(headspace) = self.regime.held_headspace {
            let value = (S::one() - headspace / self.cavity.volume) / mass;
            return Wetting { value, by_mass: -(value / mass), ..none };
        }
        if freely {
            let per = S::one() / self.cavity.volume;
            let share = &Layers::<N>::NODES.share;
            let value = sum_over::<N, S>(|i| volumes[i].value * share[i]) * per;
            return Wetting { value, by_volume: each_node(|i| per * share[i]), ..none };
        }
        let value = now.fill() / mass;
        let per = S::one() / (now.cavity * mass);
        let growth = self.cavity.volume * self.cavity.stretch;
        let by_pressure = now.headspace * per * (S::one() / now.pressure + growth / now.cavity);
        let by_air = self.cavity.headspace_temp * GAS_CONSTANT / now.pressure;
        Wetting { value, by_pressure, by_air: -(by_air * per), by_mass: -(value / mass), ..none }
    }

    /// How heat passes at a state.
    #[inline(always)]
    fn passing<const N: usize>(&self, y: &State<S, N>, now: &CavityState<S, N>) -> Passing<S, N> {
        let (layers, freely) = (&Layers::<N>::NODES, self.conducts_freely());
        let volumes = self.volumes(y, now, freely);
        let wet = self.wetting(y, now, &volumes, freely);
        let between = self.heat_path.between * wet.value * wet.value;
        let kappa: [MassConductivity<S>; N] = each_node(|q| self.heat_path.conductivity.at(volumes[q].value));
        let passes: [S; N] = each_node(|q| kappa[q].value * between * layers.share[q]);
        let inside: [S; N] = each_node(|q| sum_over::<N, S>(|j| y.nodes[j][TEMP] * layers.slope[q][j]));
        let contact = self.heat_path.contact * wet.value;
        let by_wall = |q: usize| passes[q] * layers.slope_by_wall[q];
        let all = S::one() / (contact + sum_over::<N, S>(|q| by_wall(q) * layers.slope_by_wall[q]));
        let surface = (contact * self.wall_temp - sum_over::<N, S>(|q| by_wall(q) * inside[q])) * all;
        let slope = each_node(|q| inside[q] + surface * layers.slope_by_wall[q]);
        Passing { volumes, wet, between, kappa, passes, slope, surface, all, freely }
    }

    /// Adds to the rates of temperature what layers pass on, K/s.
    #[inline]
    pub fn add_conduction<const N: usize>(&self, y: &State<S, N>, now: &CavityState<S, N>, out: &mut State<S, N>) {
        if N == 1 {
            return;
        }
        let (layers, p) = (&Layers::<N>::NODES, self.passing(y, now));
        for i in 0..N {
            let passed = sum_over::<N, S>(|q| p.passes[q] * p.slope[q] * layers.slope[q][i]);
            out.nodes[i][TEMP] -= passed / layers.share[i];
        }
    }

    /// Temperature of the foam at the wall, K.
    pub fn surface_temp<const N: usize>(&self, y: &State<S, N>, now: &CavityState<S, N>) -> S {
        self.passing(y, now).surface
    }

    /// Adds the derivatives of what layers pass on by the state; `gradient`: the pressure's.
    pub fn add_conduction_slopes<const N: usize>(
        &self,
        y: &State<S, N>,
        now: &CavityState<S, N>,
        gradient: &State<S, N>,
        out: &mut Jacobian<S, N>,
    ) {
        if N == 1 {
            return;
        }
        let (layers, p) = (&Layers::<N>::NODES, self.passing(y, now));
        for i in 0..N {
            let row = &mut out.nodes[i][TEMP];
            let per = -1.0 / layers.share[i];
            // What passes into the layer moves the wall's temperature, too.
            let by_surface = sum_over::<N, S>(|q| p.passes[q] * (layers.slope_by_wall[q] * layers.slope[q][i])) * p.all;
            let into: [S; N] =
                each_node(|q| (by_surface * -layers.slope_by_wall[q] + S::constant(layers.slope[q][i])) * per);
            for j in 0..N {
                row.nodes[j][TEMP] += sum_over::<N, S>(|q| into[q] * p.passes[q] * layers.slope[q][j]);
            }
            // By how much of the wall is wet, and by what a layer conducts.
            let passed = sum_over::<N, S>(|q| into[q] * p.passes[q] * p.slope[q]);
            let excess = p.surface - self.wall_temp;
            let by_wet = passed * 2.0 / p.wet.value - by_surface * self.heat_path.contact * excess * per;
            let (mut by_pressure, mut by_mass) = (by_wet * p.wet.by_pressure, by_wet * p.wet.by_mass);
            for (q, volume) in p.volumes.iter().enumerate() {
                let by_kappa = into[q] * p.between * p.slope[q] * layers.share[q];
                let by_volume = by_kappa * p.kappa[q].by_volume + by_wet * p.wet.by_volume[q];
                row.nodes[q][BLOW] += by_volume * volume.by_blow;
                row.nodes[q][TEMP] += by_volume * volume.by_temp;
                row.lost[q] += by_volume * volume.by_lost;
                by_pressure += by_volume * volume.by_pressure;
                by_mass += by_volume * volume.by_mass;
            }
            row[HeadspaceAir] += by_wet * p.wet.by_air;
            row[VentLoss] -= by_mass;
            row[Flash] -= by_mass;
            if !p.freely {
                row.add_scaled(by_pressure, gradient);
            }
        }
    }

    /// At least as fast as any heat passes, 1/s, in values: by Gershgorin's theorem.
    pub fn fastest_conduction<const N: usize>(&self, y: &State<S, N>, now: &CavityState<S, N>) -> f64 {
        if N == 1 {
            return 0.0;
        }
        let mut slopes = State::filled(State::zero());
        self.add_conduction_slopes(y, now, &State::zero(), &mut slopes);
        let row = |i: usize| slopes.nodes[i][TEMP].nodes.iter().map(|by| by[TEMP].value().abs()).sum::<f64>();
        (0..N).map(row).fold(0.0, f64::max)
    }
}
