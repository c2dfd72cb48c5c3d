//! The equations of one casting under one regime: reactions, headspace, and what leaves through each opening.

use super::regime::Regime;
use crate::model::{FoamConstants, PartingLine};
use crate::numerics::Scalar;
use crate::physics::cavity::{Contents, Room};
use crate::physics::gas::Gas;
use crate::physics::kinetics::{BLOW, GEL, Kinetics, TEMP, gelled, unblown, ungelled};
use crate::physics::properties::{AIR_MOLAR_MASS, GAS_CONSTANT};
use crate::physics::venting::{Air, Flow, Opening, foam_flow, foam_rate};
use crate::physics::viscosity::Viscosity;

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

/// Of air, mol/kg.
const MOLES_PER_KILOGRAM: f64 = 1.0 / AIR_MOLAR_MASS;

/// Where foam that leaves through an opening is weighed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Outlet {
    Vent,
    Seam,
}

impl Outlet {
    /// Its place in the state.
    fn place(self) -> usize {
        match self {
            Outlet::Vent => VENTED,
            Outlet::Seam => FLASHED,
        }
    }
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
    /// The opening while the clamp holds.
    pub shut: Opening<S>,
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
    /// The headspace's air.
    pub air: Air<S>,
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
    /// How closely balances are found; see [`super::headspace::close`].
    pub close: f64,
}

/// Pressure, flows and headspace at one state; what rates, events and traces are made of.
#[derive(Clone, Copy, Debug)]
pub(super) struct Reading<S> {
    /// Absolute pressure, Pa.
    pub pressure: S,
    /// Volume of the headspace, m3.
    pub headspace: S,
    /// Volume of the cavity, m3.
    pub cavity: S,
    /// Share of the gas that is not made yet: 1 less the blowing conversion.
    pub unblown: S,
}

impl<S: Scalar> Reading<S> {
    /// What cannot be read.
    pub fn unknown() -> Self {
        let lost = S::constant(f64::NAN);
        Reading { pressure: lost, headspace: lost, cavity: lost, unblown: lost }
    }

    /// This reading in other numbers.
    pub fn map<T>(&self, to: impl Fn(S) -> T) -> Reading<T> {
        Reading {
            pressure: to(self.pressure),
            headspace: to(self.headspace),
            cavity: to(self.cavity),
            unblown: to(self.unblown),
        }
    }

    /// Share of the cavity that foam fills.
    #[inline]
    pub fn fill(&self) -> S {
        S::one() - self.headspace / self.cavity
    }
}

impl<S: Scalar> Machine<S> {
    /// Mass of foam in the cavity, kg.
    #[inline]
    pub fn mass(&self, y: &State<S>) -> S {
        self.poured - y[VENTED] - y[FLASHED]
    }

    #[inline(always)]
    pub fn contents(&self, y: &State<S>, unblown: S) -> Contents<S> {
        Contents {
            mass: self.mass(y),
            blown: S::one() - unblown,
            temp: y[TEMP],
            headspace: y[HEAD],
            lost: y[LOST],
            saturated: self.regime.saturated,
        }
    }

    #[inline]
    pub fn reading(&self, y: &State<S>) -> Reading<S> {
        self.reading_with(y, unblown(y[BLOW]))
    }

    /// The same where [`unblown`] is known. Always inlined: what a call returns is copied before it has arrived in memory.
    #[inline(always)]
    pub fn reading_with(&self, y: &State<S>, unblown: S) -> Reading<S> {
        if self.regime.open {
            let (pressure, cavity) = (self.room.ambient, self.room.volume);
            let volume = self.gas.specific_volume(S::one() - unblown, y[TEMP], pressure) * self.mass(y);
            return Reading { pressure, headspace: cavity - volume, cavity, unblown };
        }
        let pressure = match self.regime.held {
            Some(headspace) => y[HEAD] * (self.room.headspace_temp * GAS_CONSTANT) / headspace,
            None => self.room.pressure(&self.gas, &self.contents(y, unblown)),
        };
        self.reading_at(y, pressure, unblown)
    }

    /// Upper bound of the core temperature, K.
    pub fn core_temp(&self, y: &State<S>) -> S {
        self.kinetics.adiabatic_temp(self.mix_temp, S::one() - unblown(y[BLOW]), gelled(y[GEL]))
    }

    /// Gradient of the pressure by the state.
    pub fn gradient(&self, y: &State<S>, now: &Reading<S>) -> State<S> {
        let mut g = [S::zero(); SIZE];
        if self.regime.open {
            return g;
        }
        if let Some(headspace) = self.regime.held {
            g[HEAD] = self.room.headspace_temp * GAS_CONSTANT / headspace;
            return g;
        }
        let p = self.room.slopes(&self.gas, &self.contents(y, now.unblown), now.pressure);
        g[BLOW] = p.by_blown * now.unblown;
        g[TEMP] = p.by_temp;
        g[HEAD] = p.by_headspace;
        g[VENTED] = -p.by_mass;
        g[FLASHED] = -p.by_mass;
        g[LOST] = p.by_lost;
        g
    }

    /// How fast the pressure climbs at these rates of the state, Pa/s.
    #[inline]
    pub fn climb(&self, y: &State<S>, now: &Reading<S>, rate: &State<S>) -> S {
        let mut climb = S::zero();
        self.gradient(y, now).iter().zip(rate).for_each(|(g, r)| climb += *g * *r);
        climb
    }

    /// The parting line as it stands at this pressure, to foam or to air, and d ln gap / dp.
    fn seam_opening(&self, seam: &Seam<S>, to_foam: bool, pressure: S) -> (Opening<S>, S) {
        let (true, Some(clamp)) = (self.regime.clamp_open, seam.clamp) else { return (seam.shut, S::zero()) };
        let excess = (pressure - self.room.ambient) * seam.area - clamp;
        let gap = seam.line.gap + seam.line.opening * excess.max(S::zero());
        let by_log = if gap.value() > 0.0 { seam.line.opening * seam.area / gap } else { S::zero() };
        let slot = Opening::slot(seam.line.length, seam.line.land, gap, seam.discharge);
        let blunt = |slot: Opening<S>| match to_foam {
            true => slot.blunted_to_foam(),
            false => slot.blunted_to_air(self.room.ambient, self.room.headspace_temp),
        };
        (blunt(slot), by_log)
    }

    /// Hands on the openings there are now that foam has reached, or those that it has not: the opening, d ln gap / dp, its
    /// outlet.
    #[inline]
    fn each_opening(&self, reached: bool, pressure: S, mut take: impl FnMut(&Opening<S>, S, Outlet)) {
        for (i, port) in self.ports.iter().enumerate() {
            if self.regime.is_reached(port.at_fill) == reached && self.regime.closed_port != Some(i) {
                take(&port.opening, S::zero(), port.outlet);
            }
        }
        if let Some(seam) = self.seam.as_ref().filter(|s| self.regime.is_reached(s.line.at_fill) == reached) {
            let (opening, by_log_gap) = self.seam_opening(seam, reached, pressure);
            take(&opening, by_log_gap, Outlet::Seam);
        }
    }

    /// Whether foam has reached a vent.
    pub fn vents_pass(&self) -> bool {
        self.ports.iter().any(|port| port.outlet == Outlet::Vent && self.regime.is_reached(port.at_fill))
    }

    /// Whether anything can leave through the parting line or a leak.
    pub fn seam_passes(&self) -> bool {
        let leaks = self.ports.iter().any(|port| port.outlet == Outlet::Seam);
        leaks || self.seam.as_ref().is_some_and(|s| s.line.gap.value() > 0.0 || self.regime.clamp_open)
    }

    /// Whether the headspace is connected to the outside.
    #[inline]
    pub fn has_air_path(&self) -> bool {
        let lifts = |s: &Seam<S>| self.regime.clamp_open && s.line.opening.value() > 0.0;
        let mut any = self.seam.iter().any(|s| lifts(s) && !self.regime.is_reached(s.line.at_fill));
        self.each_opening(false, self.room.ambient, |o, _, _| any |= o.duct.value() > 0.0);
        any
    }

    /// Air that leaves the headspace, mol/s, and its derivative by the pressure.
    pub fn air_leaving(&self, pressure: S) -> (S, S) {
        let (mut rate, mut by_pressure) = (S::zero(), S::zero());
        self.each_opening(false, pressure, |opening, by_log_gap, _| {
            let flow = self.air.flow(opening, pressure, self.room.ambient);
            rate += flow.rate * MOLES_PER_KILOGRAM;
            by_pressure += (flow.by_pressure + flow.by_log_gap * by_log_gap) * MOLES_PER_KILOGRAM;
        });
        (rate, by_pressure)
    }

    /// The same without the derivative.
    fn air_rate(&self, pressure: S) -> S {
        let mut rate = S::zero();
        self.each_opening(false, pressure, |opening, _, _| {
            rate += self.air.rate(opening, pressure, self.room.ambient) * MOLES_PER_KILOGRAM;
        });
        rate
    }

    /// Whether foam can leave.
    fn foam_leaves(&self) -> bool {
        !self.regime.gelled && self.regime.any_reached()
    }

    /// Hands on the foam that leaves, opening by opening: the position in the state of what it adds to, and its rate.
    #[inline]
    fn foam_leaving(&self, y: &State<S>, now: &Reading<S>, mut take: impl FnMut(usize, S)) {
        if !self.foam_leaves() {
            return;
        }
        let gauge = now.pressure - self.room.ambient;
        let density = self.mass(y) / (now.cavity - now.headspace);
        let viscosity = self.viscosity.value(gelled(y[GEL]), y[TEMP]);
        self.each_opening(true, now.pressure, |opening, _, outlet| {
            take(outlet.place(), foam_rate(opening, gauge, density, viscosity));
        });
    }

    /// The same with the derivatives of each rate by the state in place of the rate.
    fn foam_leaving_slopes(&self, y: &State<S>, now: &Reading<S>, mut take: impl FnMut(usize, State<S>)) {
        if !self.foam_leaves() {
            return;
        }
        let gauge = now.pressure - self.room.ambient;
        let mass = self.mass(y);
        let density = mass / (now.cavity - now.headspace);
        let mu = self.viscosity.at(gelled(y[GEL]), y[TEMP]);
        let gradient = self.gradient(y, now);
        let left = ungelled(y[GEL]);
        self.each_opening(true, now.pressure, |opening, by_log_gap, outlet| {
            let flow = foam_flow(opening, gauge, density, mu.value);
            if flow.rate.value() > 0.0 {
                let mut by = self.loss_slopes(now, &gradient, &flow, by_log_gap, mass);
                let by_mu = flow.rate * flow.by_log_viscosity;
                by[TEMP] += by_mu * mu.by_temp;
                by[GEL] += by_mu * mu.by_conversion * left * left;
                take(outlet.place(), by);
            }
        });
    }

    /// Derivatives of a foam flow through pressure and density; those through viscosity are added by the caller.
    fn loss_slopes(&self, now: &Reading<S>, gradient: &State<S>, flow: &Flow<S>, by_log_gap: S, mass: S) -> State<S> {
        let p = now.pressure;
        let foam_volume = now.cavity - now.headspace;
        let by_density = flow.rate * flow.by_log_density;
        // d ln density = dm/m - dV_foam/V_foam; V_foam = V(p) - n_head R T_h / p
        let foam_by_pressure = self.room.volume * self.room.stretch + now.headspace / p;
        let by_p = flow.by_pressure + flow.by_log_gap * by_log_gap - by_density * foam_by_pressure / foam_volume;
        let mut by = gradient.map(|g| g * by_p);
        by[HEAD] += by_density * (self.room.headspace_temp * GAS_CONSTANT) / (p * foam_volume);
        by[VENTED] -= by_density / mass;
        by[FLASHED] -= by_density / mass;
        by
    }

    pub fn loses_gas(&self) -> bool {
        self.regime.gelled && self.regime.held.is_none() && self.foam.cell_opening_time.value().is_finite()
    }

    /// Gas lost through opened cells after gel, mol/s: the gauge share of the free gas per time constant.
    fn gas_leaving(&self, y: &State<S>, now: &Reading<S>) -> S {
        let p = now.pressure;
        let free = Room::free_gas(&self.gas, &self.contents(y, now.unblown), p);
        free * (S::one() - self.room.ambient / p) / self.foam.cell_opening_time
    }

    fn gas_leaving_slopes(&self, y: &State<S>, now: &Reading<S>) -> State<S> {
        let (p, c) = (now.pressure, self.contents(y, now.unblown));
        let free = Room::free_gas(&self.gas, &c, p);
        let share = S::one() - self.room.ambient / p;
        let henry = if c.saturated { self.gas.henry } else { S::zero() };
        let by_p = (free * self.room.ambient / (p * p) - henry * c.mass * share) / self.foam.cell_opening_time;
        let mut by = self.gradient(y, now).map(|g| g * by_p);
        let per = share / self.foam.cell_opening_time;
        let by_mass = Room::free_gas(&self.gas, &Contents { mass: S::one(), lost: S::zero(), ..c }, p) * per;
        if c.saturated {
            by[BLOW] += self.gas.yielded * c.mass * per * now.unblown;
        }
        by[VENTED] -= by_mass;
        by[FLASHED] -= by_mass;
        by[LOST] -= per;
        by
    }
}

impl<S: Scalar> Machine<S> {
    /// dy/dt.
    pub fn rate(&self, y: &State<S>) -> State<S> {
        self.rate_at(y, &self.reading(y))
    }

    /// The same, with what is read there.
    pub fn rate_at(&self, y: &State<S>, now: &Reading<S>) -> State<S> {
        let mut out = [S::zero(); SIZE];
        self.add_rates(y, now, &mut out);
        out
    }

    /// Adds them in place: a copy of what was just written would be waited for.
    pub fn add_rates(&self, y: &State<S>, now: &Reading<S>, out: &mut State<S>) {
        let [blow, gel, heat] = self.reaction_rate(&[y[BLOW], y[GEL], y[TEMP]], now.unblown, self.mass(y));
        out[BLOW] += blow;
        out[GEL] += gel;
        out[TEMP] += heat;
        if self.regime.open {
            return;
        }
        if self.regime.headspace {
            out[HEAD] -= self.air_rate(now.pressure);
        }
        self.foam_leaving(y, now, |place, rate| out[place] += rate);
        if self.loses_gas() {
            out[LOST] += self.gas_leaving(y, now);
        }
    }

    /// Derivatives of [`Machine::rate`] by the state.
    pub fn jacobian(&self, y: &State<S>) -> [State<S>; SIZE] {
        self.jacobian_at(y, &self.reading(y))
    }

    /// The same, with what is read there.
    pub fn jacobian_at(&self, y: &State<S>, now: &Reading<S>) -> [State<S>; SIZE] {
        let mut out = [[S::zero(); SIZE]; SIZE];
        let reactions = self.reaction_jacobian(y);
        for (row, from) in out.iter_mut().zip(reactions) {
            row[..3].copy_from_slice(&from);
        }
        let mass = self.mass(y);
        let cooling = self.cooling / mass;
        let by_loss = cooling * (y[TEMP] - self.wall_temp) / mass;
        out[TEMP][VENTED] -= by_loss;
        out[TEMP][FLASHED] -= by_loss;
        if self.regime.open {
            return out;
        }
        if self.regime.headspace {
            let by_pressure = self.air_leaving(now.pressure).1;
            out[HEAD] = self.gradient(y, now).map(|g| -(g * by_pressure));
        }
        self.foam_leaving_slopes(y, now, |place, by| {
            out[place].iter_mut().zip(by).for_each(|(to, by)| *to += by);
        });
        if self.loses_gas() {
            out[LOST] = self.gas_leaving_slopes(y, now);
        }
        out
    }
}
