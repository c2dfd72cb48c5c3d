//! The equations of one casting under one regime: reactions, headspace, and what leaves through each opening.

use super::regime::{Mark, Regime};
use crate::numerics::Scalar;
use crate::numerics::rosenbrock::System;
use crate::physics::cavity::{Contents, Pressure, Room};
use crate::physics::gas::Gas;
use crate::physics::kinetics::{BLOW, GEL, Kinetics, TEMP};
use crate::physics::properties::{AIR_MOLAR_MASS, GAS_CONSTANT};
use crate::physics::venting::{Flow, Opening, air_flow, foam_flow};
use crate::physics::viscosity::Viscosity;
use crate::records::{FoamConstants, PartingLine};

/// Position of the headspace air (mol) in the state.
pub(super) const HEAD: usize = 3;
/// Position of the foam that left through vents (kg) in the state.
pub(super) const VENTED: usize = 4;
/// Position of the foam that left through the parting line or a leak (kg) in the state.
pub(super) const FLASHED: usize = 5;
/// Position of the gas lost from opened cells (mol) in the state.
pub(super) const LOST: usize = 6;
/// Length of the state.
pub(super) const SIZE: usize = 7;

pub(super) type State<S> = [S; SIZE];

/// Where foam that leaves through an opening is weighed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Outlet {
    Vent,
    Seam,
}

/// An opening of fixed size.
#[derive(Clone, Copy, Debug)]
pub(super) struct Port<S> {
    pub opening: Opening<S>,
    pub at_fill: S,
    pub outlet: Outlet,
}

/// The parting line with the clamp that holds it.
#[derive(Clone, Copy, Debug)]
pub(super) struct Seam<S> {
    pub line: PartingLine<S>,
    pub clamp: Option<S>,
    pub area: S,
    pub discharge: S,
}

/// One casting: its constants and the regime it is in.
#[derive(Clone, Debug)]
pub(super) struct Machine<S> {
    pub foam: FoamConstants<S>,
    pub kinetics: Kinetics<S>,
    pub viscosity: Viscosity<S>,
    pub gas: Gas<S>,
    pub room: Room<S>,
    /// Mass poured, kg.
    pub poured: S,
    pub mix_temp: S,
    /// Area that the pressure pushes open, m2.
    pub clamped_area: S,
    /// Heat transfer times area over heat capacity, kg/s.
    pub cooling: S,
    pub wall_temp: S,
    pub ports: Vec<Port<S>>,
    pub seam: Option<Seam<S>>,
    pub regime: Regime<S>,
}

/// Pressure, flows and headspace at one state; what rates, events and traces are made of.
pub(super) struct Reading<S> {
    pub pressure: Pressure<S>,
    /// Volume of the headspace, m3.
    pub headspace: S,
    /// Volume of the cavity, m3.
    pub cavity: S,
}

impl<S: Scalar> Reading<S> {
    /// Share of the cavity that foam fills.
    pub fn fill(&self) -> S {
        S::one() - self.headspace / self.cavity
    }
}

/// Foam that leaves through one outlet, with its derivatives by the state.
struct Loss<S> {
    /// Position in the state of what it adds to.
    place: usize,
    rate: S,
    by: State<S>,
}

impl<S: Scalar> Machine<S> {
    pub fn contents(&self, y: &State<S>) -> Contents<S> {
        Contents {
            mass: self.poured - y[VENTED] - y[FLASHED],
            blown: y[BLOW],
            temp: y[TEMP],
            headspace: y[HEAD],
            lost: y[LOST],
            saturated: self.regime.saturated,
        }
    }

    pub fn reading(&self, y: &State<S>) -> Reading<S> {
        let contents = self.contents(y);
        let rt = self.room.headspace_temp * GAS_CONSTANT;
        if self.regime.open {
            let volume = self.gas.specific_volume(y[BLOW], y[TEMP], self.room.ambient) * contents.mass;
            let pressure = constant_pressure(self.room.ambient);
            return Reading { pressure, headspace: self.room.volume - volume, cavity: self.room.volume };
        }
        if let Some(headspace) = self.regime.held {
            let pressure = Pressure { by_headspace: rt / headspace, ..constant_pressure(y[HEAD] * rt / headspace) };
            return Reading { pressure, headspace, cavity: self.room.volume_at(pressure.value) };
        }
        let pressure = self.room.pressure(&self.gas, &contents);
        let cavity = self.room.volume_at(pressure.value);
        Reading { pressure, headspace: y[HEAD] * rt / pressure.value, cavity }
    }

    /// Upper bound of the core temperature, K.
    pub fn core_temp(&self, y: &State<S>) -> S {
        self.kinetics.adiabatic_temp(self.mix_temp, y[BLOW], y[GEL])
    }

    /// Fill fractions at which the openings are reached that are there now.
    pub fn thresholds(&self) -> impl Iterator<Item = S> + '_ {
        let ports = self.ports.iter().enumerate().filter(|(i, _)| self.regime.closed_port != Some(*i));
        let seam = self.seam.iter().filter(|s| s.line.gap.value() > 0.0 || s.line.opening.value() > 0.0);
        ports.map(|(_, p)| p.at_fill).chain(seam.map(|s| s.line.at_fill))
    }

    /// The next fill fraction at which the front reaches an opening.
    pub fn next_front(&self) -> Option<S> {
        let ahead = self.thresholds().filter(|f| !self.regime.is_reached(*f));
        ahead.reduce(|a, b| if b.value() < a.value() { b } else { a })
    }

    /// Arms the marks that can end the present regime.
    pub fn arm(&mut self) {
        let mut armed = std::mem::take(&mut self.regime.armed);
        armed.clear();
        let regime = &self.regime;
        if !regime.gelled {
            armed.push(Mark::Gel);
        }
        armed.push(if regime.saturated { Mark::Unsaturated } else { Mark::Saturated });
        if !regime.open {
            if let (true, false, Some(fill)) = (regime.headspace, regime.gelled, self.next_front()) {
                armed.push(Mark::Front(fill));
            }
            if self.seam.as_ref().is_some_and(|s| s.clamp.is_some()) {
                armed.push(if regime.clamp_open { Mark::ClampHolds } else { Mark::ClampOpens });
            }
            if let (Some(_), Some(gauge)) = (regime.closed_port, regime.leak_at) {
                armed.push(Mark::LeakOpens(S::constant(gauge)));
            }
        }
        self.regime.armed = armed;
    }

    /// Gradient of the pressure by the state.
    fn gradient(p: &Pressure<S>) -> State<S> {
        let mut g = [S::zero(); SIZE];
        g[BLOW] = p.by_blown;
        g[TEMP] = p.by_temp;
        g[HEAD] = p.by_headspace;
        g[VENTED] = -p.by_mass;
        g[FLASHED] = -p.by_mass;
        g[LOST] = p.by_lost;
        g
    }

    /// dp/dt at this state, Pa/s.
    pub fn pressure_rate(&self, y: &State<S>, rate: &State<S>) -> f64 {
        let g = Self::gradient(&self.reading(y).pressure);
        g.iter().zip(rate).map(|(g, r)| g.value() * r.value()).sum()
    }

    /// The parting line as it stands at this pressure, and d ln gap / dp.
    fn seam_opening(&self, seam: &Seam<S>, pressure: S) -> (Opening<S>, S) {
        let mut gap = seam.line.gap;
        let mut by_pressure = S::zero();
        if let (true, Some(clamp)) = (self.regime.clamp_open, seam.clamp) {
            let excess = (pressure - self.room.ambient) * seam.area - clamp;
            gap += seam.line.opening * excess.max(S::zero());
            by_pressure = seam.line.opening * seam.area;
        }
        let by_log = if gap.value() > 0.0 { by_pressure / gap } else { S::zero() };
        let slot = Opening::slot(seam.line.length, seam.line.land, gap, seam.discharge);
        (slot.blunted(self.room.ambient, self.room.headspace_temp), by_log)
    }

    /// Every opening that is there now: the opening, d ln gap / dp, its outlet, and whether foam has reached it.
    fn openings(&self, pressure: S) -> impl Iterator<Item = (Opening<S>, S, Outlet, bool)> + '_ {
        let ports = self.ports.iter().enumerate().filter(|(i, _)| self.regime.closed_port != Some(*i));
        let ports = ports.map(|(_, p)| (p.opening, S::zero(), p.outlet, self.regime.is_reached(p.at_fill)));
        let seam = self.seam.iter().map(move |s| {
            let (opening, by_log_gap) = self.seam_opening(s, pressure);
            (opening, by_log_gap, Outlet::Seam, self.regime.is_reached(s.line.at_fill))
        });
        ports.chain(seam)
    }

    /// Whether the headspace is connected to the outside.
    pub fn has_air_path(&self) -> bool {
        let lifts = |s: &Seam<S>| self.regime.clamp_open && s.line.opening.value() > 0.0;
        let seam = self.seam.iter().any(|s| lifts(s) && !self.regime.is_reached(s.line.at_fill));
        seam || self.openings(self.room.ambient).any(|(o, _, _, reached)| !reached && o.duct.value() > 0.0)
    }

    /// Air that leaves the headspace, mol/s, and its derivative by the pressure.
    fn air_leaving(&self, pressure: S) -> (S, S) {
        let (mut rate, mut by_pressure) = (S::zero(), S::zero());
        for (opening, by_log_gap, _, reached) in self.openings(pressure) {
            if !reached {
                let flow = air_flow(&opening, pressure, self.room.ambient, self.room.headspace_temp);
                rate += flow.rate / AIR_MOLAR_MASS;
                by_pressure += (flow.by_pressure + flow.by_log_gap * by_log_gap) / AIR_MOLAR_MASS;
            }
        }
        (rate, by_pressure)
    }

    /// Hands on the foam that leaves, opening by opening. `slopes`: whether the derivatives are wanted too.
    fn foam_leaving(&self, y: &State<S>, now: &Reading<S>, slopes: bool, mut take: impl FnMut(Loss<S>)) {
        if self.regime.gelled || !self.regime.any_reached() {
            return;
        }
        let p = now.pressure.value;
        let mass = self.poured - y[VENTED] - y[FLASHED];
        let foam_volume = now.cavity - now.headspace;
        let density = mass / foam_volume;
        let mu = self.viscosity.at(y[GEL], y[TEMP]);
        for (opening, by_log_gap, outlet, reached) in self.openings(p) {
            if !reached {
                continue;
            }
            let flow = foam_flow(&opening, p - self.room.ambient, density, mu.value);
            let mut by = [S::zero(); SIZE];
            if slopes && flow.rate.value() > 0.0 {
                by = self.loss_slopes(now, &flow, by_log_gap, mass, foam_volume);
                let by_mu = flow.rate * flow.by_log_viscosity;
                by[TEMP] += by_mu * mu.by_temp;
                by[GEL] += by_mu * mu.by_conversion;
            }
            let place = if outlet == Outlet::Vent { VENTED } else { FLASHED };
            take(Loss { place, rate: flow.rate, by });
        }
    }

    /// Derivatives of a foam flow through pressure and density; those through viscosity are added by the caller.
    fn loss_slopes(&self, now: &Reading<S>, flow: &Flow<S>, by_log_gap: S, mass: S, foam_volume: S) -> State<S> {
        let p = now.pressure.value;
        let by_density = flow.rate * flow.by_log_density;
        // d ln density = dm/m - dV_foam/V_foam; V_foam = V(p) - n_head R T_h / p
        let foam_by_pressure = self.room.volume * self.room.stretch + now.headspace / p;
        let by_p = flow.by_pressure + flow.by_log_gap * by_log_gap - by_density * foam_by_pressure / foam_volume;
        let mut by = Self::gradient(&now.pressure).map(|g| g * by_p);
        by[HEAD] += by_density * (self.room.headspace_temp * GAS_CONSTANT) / (p * foam_volume);
        by[VENTED] -= by_density / mass;
        by[FLASHED] -= by_density / mass;
        by
    }

    fn loses_gas(&self) -> bool {
        self.regime.gelled && self.regime.held.is_none() && self.foam.open_time.value().is_finite()
    }

    /// Gas lost through opened cells after gel, mol/s: the gauge share of the free gas per time constant.
    fn gas_leaving(&self, y: &State<S>, now: &Reading<S>) -> S {
        let p = now.pressure.value;
        let free = Room::free_gas(&self.gas, &self.contents(y), p);
        free * (S::one() - self.room.ambient / p) / self.foam.open_time
    }

    fn gas_leaving_slopes(&self, y: &State<S>, now: &Reading<S>) -> State<S> {
        let (p, c) = (now.pressure.value, self.contents(y));
        let free = Room::free_gas(&self.gas, &c, p);
        let share = S::one() - self.room.ambient / p;
        let henry = if c.saturated { self.gas.henry } else { S::zero() };
        let by_p = (free * self.room.ambient / (p * p) - henry * c.mass * share) / self.foam.open_time;
        let mut by = Self::gradient(&now.pressure).map(|g| g * by_p);
        let per = share / self.foam.open_time;
        let by_mass = Room::free_gas(&self.gas, &Contents { mass: S::one(), lost: S::zero(), ..c }, p) * per;
        if c.saturated {
            by[BLOW] += self.gas.yielded * c.mass * per;
        }
        by[VENTED] -= by_mass;
        by[FLASHED] -= by_mass;
        by[LOST] -= per;
        by
    }
}

fn constant_pressure<S: Scalar>(value: S) -> Pressure<S> {
    let z = S::zero();
    Pressure { value, by_blown: z, by_temp: z, by_headspace: z, by_mass: z, by_lost: z }
}

impl<S: Scalar> System<S, SIZE> for Machine<S> {
    fn rate(&self, y: &State<S>) -> State<S> {
        let mut out = [S::zero(); SIZE];
        let [blow, gel, heat] = self.kinetics.rate([y[BLOW], y[GEL], y[TEMP]]);
        let mass = self.poured - y[VENTED] - y[FLASHED];
        out[BLOW] = blow;
        out[GEL] = gel;
        out[TEMP] = heat - self.cooling * (y[TEMP] - self.wall_temp) / mass;
        if self.regime.open {
            return out;
        }
        let now = self.reading(y);
        if self.regime.headspace {
            out[HEAD] = -self.air_leaving(now.pressure.value).0;
        }
        self.foam_leaving(y, &now, false, |loss| out[loss.place] += loss.rate);
        if self.loses_gas() {
            out[LOST] = self.gas_leaving(y, &now);
        }
        out
    }

    fn jacobian(&self, y: &State<S>) -> [State<S>; SIZE] {
        let mut out = [[S::zero(); SIZE]; SIZE];
        let reactions = self.kinetics.jacobian([y[BLOW], y[GEL], y[TEMP]]);
        for (row, from) in out.iter_mut().zip(reactions) {
            row[..3].copy_from_slice(&from);
        }
        let mass = self.poured - y[VENTED] - y[FLASHED];
        let cooling = self.cooling / mass;
        let by_loss = cooling * (y[TEMP] - self.wall_temp) / mass;
        out[TEMP][TEMP] -= cooling;
        out[TEMP][VENTED] -= by_loss;
        out[TEMP][FLASHED] -= by_loss;
        if self.regime.open {
            return out;
        }
        let now = self.reading(y);
        if self.regime.headspace {
            let by_pressure = self.air_leaving(now.pressure.value).1;
            out[HEAD] = Self::gradient(&now.pressure).map(|g| -(g * by_pressure));
        }
        self.foam_leaving(y, &now, true, |loss| {
            out[loss.place].iter_mut().zip(loss.by).for_each(|(to, by)| *to += by);
        });
        if self.loses_gas() {
            out[LOST] = self.gas_leaving_slopes(y, &now);
        }
        out
    }

    fn events(&self) -> usize {
        self.regime.armed.len()
    }

    fn event(&self, which: usize, y: &State<S>) -> S {
        match self.regime.armed[which] {
            Mark::Gel => y[GEL] - self.foam.gel_conversion,
            Mark::Saturated => self.saturation(y),
            Mark::Unsaturated => -self.saturation(y),
            Mark::Front(fill) => self.reading(y).fill() - fill,
            Mark::ClampOpens => self.clamp_excess(y),
            Mark::ClampHolds => -self.clamp_excess(y),
            Mark::LeakOpens(gauge) => (self.reading(y).pressure.value - self.room.ambient - gauge) / self.room.ambient,
        }
    }

    fn event_rate(&self, which: usize, y: &State<S>, rate: &State<S>) -> f64 {
        let climb = self.pressure_rate(y, rate);
        let gas = &self.gas;
        let saturation = || rate[BLOW].value() - gas.henry.value() * climb / gas.yielded.value();
        let clamp = || self.seam.as_ref().map_or(0.0, |s| climb * s.area.value() / clamp_scale(s));
        match self.regime.armed[which] {
            Mark::Gel => rate[GEL].value(),
            Mark::Saturated => saturation(),
            Mark::Unsaturated => -saturation(),
            Mark::Front(_) => self.fill_rate(y, rate, climb),
            Mark::ClampOpens => clamp(),
            Mark::ClampHolds => -clamp(),
            Mark::LeakOpens(_) => climb / self.room.ambient.value(),
        }
    }
}

impl<S: Scalar> Machine<S> {
    /// CO2 beyond saturation, as a share of the yield.
    fn saturation(&self, y: &State<S>) -> S {
        self.gas.excess(y[BLOW], self.reading(y).pressure.value) / self.gas.yielded
    }

    fn clamp_excess(&self, y: &State<S>) -> S {
        let Some(Seam { clamp: Some(clamp), area, .. }) = self.seam else { return S::constant(-1.0) };
        let push = (self.reading(y).pressure.value - self.room.ambient) * area;
        (push - clamp) / clamp.value().max(1.0)
    }

    /// d fill / dt.
    fn fill_rate(&self, y: &State<S>, rate: &State<S>, climb: f64) -> f64 {
        let now = self.reading(y);
        let (p, v, h) = (now.pressure.value.value(), now.cavity.value(), now.headspace.value());
        let by_air = self.room.headspace_temp.value() * GAS_CONSTANT / p * rate[HEAD].value();
        let growth = self.room.volume.value() * self.room.stretch.value() * climb;
        -(by_air - h * climb / p) / v + h / (v * v) * growth
    }
}

fn clamp_scale<S: Scalar>(seam: &Seam<S>) -> f64 {
    seam.clamp.map_or(1.0, |c| c.value().max(1.0))
}
