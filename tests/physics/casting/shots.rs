//! Castings to try: the usual one, any that a mold could see, and ordinary ones of which the trend is known. Invented.

use proptest::prelude::*;
use risefit::error::Result;
use risefit::model::{Casting, Cavity, FoamConstants, Leak, LeakStart, PartingLine, Vent};
use risefit::model::{CastingResult, Run};
use risefit::{Accuracy, simulate};

pub const SEA_LEVEL: f64 = 101_325.0;

/// One casting: what it is made of, in what, and how.
#[derive(Clone, Debug)]
pub struct Shot {
    pub foam: FoamConstants,
    pub cavity: Cavity,
    pub casting: Casting,
}

impl Shot {
    /// A light grade in a mold of 620 mL with one vent (invented).
    pub fn usual(charge: f64, vent: f64) -> Shot {
        let foam = FoamConstants { gas_yield: 0.5, ..FoamConstants::default() };
        let cavity = Cavity {
            volume: 620e-6,
            projected_area: 0.015,
            wall_area: 0.048,
            heat_transfer: 12.0,
            layers: 1,
            contact_transfer: Cavity::CONTACT_TRANSFER,
            conduction_factor: 1.0,
            stretch: 0.0,
            clamp_force: None,
            gas_retention: 1.0,
            rate_factor: 1.0,
            discharge: 0.82,
            vents: vec![Vent::hole(1, vent, 12e-3, 1.0)],
            parting_line: None,
        };
        let casting = Casting {
            charge,
            left_in_cup: 0.0,
            mix_temp: 296.15,
            mold_temp: 303.15,
            ambient_pressure: SEA_LEVEL,
            closing_time: 10.0,
            clamp_force: None,
            vent_diameters: vec![],
            leak: None,
            demold_time: 300.0,
            opening_limit: 5e3,
            weighed_after: 0.0,
        };
        Shot { foam, cavity, casting }
    }

    pub fn run(&self, points: usize) -> Result<Run> {
        simulate(&self.foam, &self.cavity, &self.casting, points, Accuracy::default())
    }

    pub fn result(&self) -> CastingResult {
        self.run(0).unwrap_or_else(|e| panic!("{e}: {self:?}")).result
    }
}

pub fn foam() -> impl Strategy<Value = FoamConstants> {
    let rates = (0.1..1.6, 0.005..0.2, 20e3..60e3, 0.003..0.1, 25e3..65e3);
    let heats = (0.0..60.0, 0.0..150.0, 0.0..4e-8, 0.0..0.15);
    let thick = (0.5..0.75, 0.1..50.0, 20e3..50e3, 0.5..3.0, -1.0..3.0);
    let cell_opening_time = prop_oneof![Just(f64::INFINITY), 5.0..500.0];
    (rates, heats, thick, cell_opening_time, 950.0..1200.0).prop_map(|(r, h, t, cell_opening_time, liquid_density)| {
        FoamConstants {
            liquid_density,
            gas_yield: r.0,
            blow_rate: r.1,
            blow_activation: r.2,
            gel_rate: r.3,
            gel_activation: r.4,
            blow_heat: h.0,
            gel_heat: h.1,
            solubility: h.2,
            air_fraction: h.3,
            gel_conversion: t.0,
            viscosity: t.1,
            viscosity_activation: t.2,
            viscosity_a: t.3,
            viscosity_b: t.4,
            cell_opening_time,
            ..FoamConstants::default()
        }
    })
}

pub fn at_fill() -> impl Strategy<Value = f64> {
    prop_oneof![2 => Just(1.0), 1 => 0.3..1.0]
}

pub fn vent() -> impl Strategy<Value = Vent> {
    (1..4u32, -4.0..-1.7, 1e-3..30e-3, at_fill())
        .prop_map(|(count, log, length, at_fill)| Vent::hole(count, 10f64.powf(log), length, at_fill))
}

pub fn parting_line() -> impl Strategy<Value = PartingLine> {
    let gap = prop_oneof![Just(0.0), 1e-6..2e-4];
    let opening = prop_oneof![Just(0.0), 1e-9..1e-6];
    (0.1..2.0, 1e-3..20e-3, gap, opening, at_fill()).prop_map(|(length, land, gap, opening, at_fill)| PartingLine {
        length,
        land,
        gap,
        opening,
        at_fill,
    })
}

pub fn cavity() -> impl Strategy<Value = Cavity> {
    let sizes = (50e-6..5e-3, 0.001..0.1, 0.01..0.2, 0.0..60.0);
    let stretch = prop_oneof![Just(0.0), 1e-9..1e-6];
    let clamp = prop_oneof![Just(None), (0.0..3000.0).prop_map(Some)];
    let openings = (prop::collection::vec(vent(), 0..4), prop::option::of(parting_line()));
    (sizes, stretch, clamp, 0.5..1.0, openings).prop_map(|(s, stretch, clamp_force, discharge, openings)| Cavity {
        volume: s.0,
        projected_area: s.1,
        wall_area: s.2,
        heat_transfer: s.3,
        layers: 1,
        contact_transfer: Cavity::CONTACT_TRANSFER,
        conduction_factor: 1.0,
        stretch,
        clamp_force,
        gas_retention: 1.0,
        rate_factor: 1.0,
        discharge,
        vents: openings.0,
        parting_line: openings.1,
    })
}

pub fn leak() -> impl Strategy<Value = Leak> {
    let start = prop_oneof![(0.0..400.0).prop_map(LeakStart::Time), (0.0..200e3).prop_map(LeakStart::GaugePressure),];
    (1e-4..1e-2, 1e-3..20e-3, start).prop_map(|(diameter, length, start)| Leak { diameter, length, start })
}

pub fn shot() -> impl Strategy<Value = Shot> {
    let temps = (275.0..330.0, 275.0..350.0, 60e3..105e3);
    let times = (prop_oneof![Just(0.0), 0.0..40.0], 60.0..900.0);
    let vents = prop_oneof![2 => Just(None), 1 => Just(Some(0.0)), 1 => (5e-4..1e-2).prop_map(Some)];
    let settings = (20.0..400.0, 0.0..0.1, temps, times, prop::option::of(leak()), vents);
    (foam(), cavity(), settings).prop_map(|(foam, cavity, (density, left, temps, times, leak, vent))| {
        let charge = density * cavity.volume;
        let vent_diameters = vent.filter(|_| !cavity.vents.is_empty()).into_iter().collect();
        let casting = Casting {
            charge,
            left_in_cup: left * charge,
            mix_temp: temps.0,
            mold_temp: temps.1,
            ambient_pressure: temps.2,
            closing_time: times.0,
            clamp_force: None,
            vent_diameters,
            leak,
            demold_time: times.1,
            opening_limit: 5e3,
            weighed_after: 0.0,
        };
        Shot { foam, cavity, casting }
    })
}

/// Settings under which more or less of one thing has a known effect.
pub fn ordinary() -> impl Strategy<Value = Shot> {
    (58e-3..72e-3, 1.5e-3..4e-3, 0.45..0.6, 0.5..5.0, 290.0..303.0, 295.0..315.0).prop_map(
        |(charge, vent, gas_yield, viscosity, mix_temp, mold_temp)| {
            let mut shot = Shot::usual(charge, vent);
            (shot.foam.gas_yield, shot.foam.viscosity) = (gas_yield, viscosity);
            (shot.casting.mix_temp, shot.casting.mold_temp) = (mix_temp, mold_temp);
            shot
        },
    )
}
