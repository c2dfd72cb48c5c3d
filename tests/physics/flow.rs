//! Flow of air and foam against published tables and closed forms, and the laws in series against their own limits.

use risefit::numerics::integrate::{Begin, System, Tolerance, integrate};
use risefit::numerics::rosenbrock::{Rodas5P, Stiff};
use risefit::numerics::{Dual, Scalar};
use risefit::physics::opening::{Air, Duct, air_flow, foam_flow, foam_rate, isentropic};
use risefit::physics::properties::{AIR_GAMMA, AIR_GAS_CONSTANT, air_viscosity};
use std::f64::consts::PI;

const AMBIENT: f64 = 101_325.0;
const ROOM: f64 = 293.15;
/// An orifice so wide that only the duct is felt.
const NO_ORIFICE: f64 = 1e4;

fn close(what: &str, got: f64, expected: f64, relative: f64) {
    let off = got / expected - 1.0;
    assert!(off.abs() <= relative, "{what}: got {got:e}, expected {expected:e}, off by {off:e}");
}

fn circle(diameter: f64) -> f64 {
    0.25 * PI * diameter * diameter
}

/// NACA Report 1135 (1953), gamma 1.4: mass-flow parameter 0.684731, critical ratio 0.528282 (computed from its formulas).
#[test]
fn choked_flow_has_the_tabulated_parameter_and_critical_ratio() {
    let (rate, by_up, by_down) = isentropic(1e-6, 2e5, 5e4, 300.0);
    close("mass-flow parameter", rate * (AIR_GAS_CONSTANT * 300.0).sqrt() / (2e5 * 1e-6), 0.684731, 1e-6);
    close("slope of choked flow", by_up, rate / 2e5, 1e-14);
    assert_eq!(by_down, 0.0);
    let by_down_at = |ratio: f64| isentropic(1e-6, 2e5, ratio * 2e5, 300.0).2;
    assert_eq!(by_down_at(0.528281), 0.0);
    assert!(by_down_at(0.528283) < 0.0);
}

/// ISO 9300's critical mass flow (computed): 1.000 mm2, 200 kPa, 300 K. Its gas constant is 287.05, hence 2e-5.
#[test]
fn critical_nozzle_passes_the_standard_mass_flow() {
    close("critical nozzle", isentropic(1e-6, 2e5, 5e4, 300.0).0, 4.666708e-4, 2e-5);
}

/// Isentropic flow through an ideal orifice into 101.325 kPa at 293.15 K (computed with R 287.05), mg/s.
#[test]
fn ideal_orifices_pass_the_isentropic_mass_flow() {
    let cases = [
        (1e-3, 1e3, 38.529),
        (1e-3, 10e3, 121.451),
        (1e-3, 50e3, 267.833),
        (1e-3, 100e3, 373.233),
        (2e-3, 10e3, 485.805),
        (2e-3, 200e3, 2234.487),
    ];
    for (diameter, dp, mg) in cases {
        let (rate, ..) = isentropic(circle(diameter), AMBIENT + dp, AMBIENT, ROOM);
        close(&format!("{diameter} m, {dp} Pa"), 1e6 * rate, mg, 3e-5);
    }
}

/// Compressible Hagen-Poiseuille: tube d 0.25 mm, L 10 mm, 10 kPa, air of 18.13e-6 Pa s (computed), mg/s.
#[test]
fn narrow_tube_passes_the_laminar_air_flow() {
    let tube = Duct { area: NO_ORIFICE, ..Duct::round(1, 0.25e-3, 10e-3, 1.0) };
    let rate = air_flow(&tube, AMBIENT + 10e3, AMBIENT, ROOM).rate * air_viscosity(ROOM) / 18.13e-6;
    // R 287.05 in the source.
    close("tube", 1e6 * rate, 6.6816, 4e-5);
}

/// Slot flow w h^3 dp/(12 mu L): w 100 mm, L 10 mm, h 0.05 mm, 10 kPa, air of 18.13e-6 Pa s (computed): 57.5 cm3/s.
#[test]
fn slot_passes_the_laminar_air_flow() {
    let slot = Duct { area: NO_ORIFICE, ..Duct::slot(0.1, 10e-3, 0.05e-3, 1.0) };
    let rate = air_flow(&slot, AMBIENT + 10e3, AMBIENT, ROOM).rate * air_viscosity(ROOM) / 18.13e-6;
    let mean_density = (AMBIENT + 5e3) / (AIR_GAS_CONSTANT * ROOM);
    close("slot", 1e6 * rate / mean_density, 57.5, 1e-3);
}

/// Hagen-Poiseuille for liquids (computed): water in a capillary, mm3/s; and thick liquids in 2 mm x 10 mm at 50 kPa, cm3/s.
#[test]
fn liquids_pass_as_hagen_and_poiseuille_say() {
    let capillary = Duct::round(1, 1e-3, 1.0, 1.0);
    let capillary = Duct { area: NO_ORIFICE, foam_duct: capillary.duct, ..capillary };
    close("water", 1e9 * foam_flow(&capillary, 10e3, 998.2, 1.0016e-3).rate / 998.2, 245.045, 3e-6);
    // 7 mm and an entry of 1.5 diameters make 10 mm.
    let vent = Duct { area: NO_ORIFICE, ..Duct::round(1, 2e-3, 7e-3, 1.0) };
    for (viscosity, expected) in [(1.0, 1.9635), (10.0, 0.19635), (100.0, 0.019635), (1000.0, 0.0019635)] {
        close("thick liquid", 1e6 * foam_flow(&vent, 50e3, 300.0, viscosity).rate / 300.0, expected, 3e-6);
    }
}

/// How the pressure in a vessel falls.
#[derive(Clone, Copy)]
enum Vessel {
    /// Through an ideal throat of 2 mm, at constant temperature.
    Isothermal,
    /// The same without heat from the wall.
    Adiabatic,
    /// Through a laminar duct of 0.25 mm and 10 mm, at constant temperature.
    Laminar,
}

const FULL: f64 = 500e3;
const LITER: f64 = 1e-3;

impl Vessel {
    fn climb<S: Scalar>(self, pressure: S) -> S {
        let rt = AIR_GAS_CONSTANT * ROOM;
        let (ambient, temp) = (S::constant(AMBIENT), S::constant(ROOM));
        match self {
            Vessel::Isothermal => -(isentropic(S::constant(circle(2e-3)), pressure, ambient, temp).0 * (rt / LITER)),
            Vessel::Adiabatic => {
                let temp = ((pressure / FULL).ln() * ((AIR_GAMMA - 1.0) / AIR_GAMMA)).exp() * ROOM;
                let rate = isentropic(S::constant(circle(2e-3)), pressure, ambient, temp).0;
                -(rate * temp * (AIR_GAMMA * AIR_GAS_CONSTANT / LITER))
            }
            Vessel::Laminar => {
                let c = S::constant;
                let tube = Duct { area: c(NO_ORIFICE), ..Duct::round(1, c(0.25e-3), c(10e-3), c(1.0)) };
                -(air_flow(&tube, pressure, ambient, temp).rate * (rt / LITER))
            }
        }
    }
}

impl System<f64, 1> for Vessel {
    fn rate(&self, y: &[f64; 1]) -> [f64; 1] {
        [self.climb(y[0])]
    }
    fn events(&self) -> usize {
        usize::from(!matches!(self, Vessel::Laminar))
    }
    fn event(&self, _: usize, y: &[f64; 1]) -> f64 {
        (200e3 - y[0]) / FULL
    }
    fn event_exact(&self, which: usize, y: &[f64; 1]) -> f64 {
        self.event(which, y)
    }
    fn event_rate(&self, _: usize, _: &[f64; 1], rate: &[f64; 1]) -> f64 {
        -rate[0] / FULL
    }
}

impl Stiff<f64, 1> for Vessel {
    fn jacobian(&self, y: &[f64; 1]) -> [[f64; 1]; 1] {
        [self.climb(Dual::<1>::seeded(y[0], 0, 1.0)).slope]
    }
}

fn blow_down(vessel: Vessel, from: f64, until: f64) -> (f64, f64) {
    let tolerance = Tolerance { relative: 1e-11, absolute: [1e-7], max_steps: 10_000 };
    let end = integrate::<Rodas5P, _, _, 1>(
        &vessel,
        Begin { time: 0.0, state: [from], step: 1e-3 },
        until,
        &tolerance,
        |_| (),
    )
    .unwrap();
    (end.time, end.state[0])
}

/// Choked blow-down of 1 L from 500 to 200 kPa, closed form (computed with R 287.05, hence 2e-5), s.
#[test]
fn choked_blow_down_takes_the_closed_form_time() {
    close("isothermal", blow_down(Vessel::Isothermal, FULL, 100.0).0, 1.468371, 2e-5);
    close("adiabatic", blow_down(Vessel::Adiabatic, FULL, 100.0).0, 1.120578, 2e-5);
}

/// Laminar isothermal blow-down of 1 L from 150 kPa, air of 18.206e-6 Pa s, closed form (computed), Pa.
#[test]
fn laminar_blow_down_follows_the_closed_form() {
    let slower = air_viscosity(ROOM) / 18.206e-6;
    for (time, expected) in [(1.0, 146902.043), (5.0, 136616.907), (10.0, 127293.676), (20.0, 115789.191)] {
        close(&format!("{time} s"), blow_down(Vessel::Laminar, 150e3, time * slower).1, expected, 1e-8);
    }
}

/// Reference viscosity of air (CoolProp: Lemmon and Jacobsen), Pa s; Sutherland's formula claims 0.6 %.
#[test]
fn air_viscosity_is_near_the_reference_equation() {
    close("25 °C", air_viscosity(298.15), 18.448e-6, 6e-3);
    close("60 °C", air_viscosity(333.15), 20.099e-6, 6e-3);
}

/// Pressure that drives 50 mg/s of CO2 of 60 °C through a drilled vent, Cd 0.8 (computed): 0.12 kPa at 2 mm, 2.0 at 1 mm, 33
/// at 0.5 mm. Air of the same R T stands for CO2; its other gamma matters in the third digit.
#[test]
fn displaced_gas_costs_next_to_no_pressure_in_wide_vents() {
    let same_rt = 333.15 * 188.92 / AIR_GAS_CONSTANT;
    for (diameter, kilopascal, within) in [(2e-3, 0.12, 0.005), (1e-3, 2.0, 0.05), (0.5e-3, 33.0, 1.0)] {
        let rate = |dp: f64| isentropic(0.8 * circle(diameter), AMBIENT + dp, AMBIENT, same_rt).0;
        let dp = solve(|dp| rate(dp) - 50e-6, 1.0, 90e3);
        assert!((1e-3 * dp - kilopascal).abs() <= within, "{diameter} m: {dp} Pa");
    }
}

/// Where `f`, rising, is zero.
fn solve(f: impl Fn(f64) -> f64, mut low: f64, mut high: f64) -> f64 {
    for _ in 0..80 {
        let middle = 0.5 * (low + high);
        if f(middle) < 0.0 { low = middle } else { high = middle }
    }
    high
}

/// Gauge pressures from next to nothing to far beyond choking, and inflow, Pa.
fn gauges() -> impl Iterator<Item = f64> {
    let out = (0..60).map(|i| 1e-2 * 1.32_f64.powi(i)).filter(|p| *p < 3e5);
    out.clone().filter(|p| *p < 9e4).map(|p| -p).chain(out)
}

#[test]
fn in_series_meets_both_laws_in_their_limits() {
    let vent = Duct::round(1, 1e-3, 10e-3, 0.8);
    let only_duct = Duct { area: NO_ORIFICE, ..vent };
    let only_hole = Duct { duct: 1.0, foam_duct: 1.0, ..vent };
    for gauge in gauges().filter(|g| *g > 0.0) {
        let up = AMBIENT + gauge;
        let laminar = vent.duct * (up * up - AMBIENT * AMBIENT) / (2.0 * air_viscosity(ROOM) * AIR_GAS_CONSTANT * ROOM);
        let orifice = isentropic(vent.area, up, AMBIENT, ROOM).0;
        let air = |o: &Duct<f64>| air_flow(o, up, AMBIENT, ROOM).rate;
        // Difference of squares of nearly equal pressures: 1e-2 Pa of 1e5 costs seven digits.
        close("duct", air(&only_duct), laminar, 1e-9);
        close("hole", air(&only_hole), orifice, 1e-6);
        close("both", air(&vent), (laminar.powi(-2) + orifice.powi(-2)).powf(-0.5), 1e-9);
        let foam = |o: &Duct<f64>| foam_flow(o, gauge, 90.0, 3.0).rate;
        close("foam duct", foam(&only_duct), 90.0 * vent.foam_duct * gauge / 3.0, 1e-9);
        close("foam hole", foam(&only_hole), vent.area * (2.0 * 90.0 * gauge).sqrt(), 1e-9);
    }
}

#[test]
fn flow_rises_with_pressure_and_is_odd_in_direction_only() {
    for vent in [0.3e-3, 1e-3, 12e-3].map(|d| Duct::round(2, d, 10e-3, 0.8)) {
        for opening in [vent, vent.blunted(AMBIENT, ROOM)] {
            let mut pressures: Vec<f64> = gauges().map(|g| AMBIENT + g).collect();
            pressures.sort_by(f64::total_cmp);
            let rates: Vec<f64> = pressures.iter().map(|p| air_flow(&opening, *p, AMBIENT, ROOM).rate).collect();
            assert!(rates.windows(2).all(|w| w[0] < w[1] || w[0] == w[1] && w[0] < 0.0), "{rates:?}");
            assert!(rates.iter().zip(&pressures).all(|(r, p)| (*r > 0.0) == (*p > AMBIENT)));
        }
    }
}

#[test]
fn flow_is_continuous_at_rest_and_at_choking() {
    let opening = Duct::round(1, 3e-3, 12e-3, 0.8).blunted(AMBIENT, ROOM);
    let flow = |p: f64| air_flow(&opening, p, AMBIENT, ROOM);
    assert_eq!(flow(AMBIENT).rate, 0.0);
    close("slope at rest", flow(AMBIENT + 1e-3).by_pressure, flow(AMBIENT - 1e-3).by_pressure, 1e-4);
    // From purely laminar to both laws, at 1e-9 of the ambient pressure.
    let switch = AMBIENT * 1e-9;
    close("switch", flow(AMBIENT + switch * 1.001).rate / 1.001, flow(AMBIENT + switch * 0.999).rate / 0.999, 1e-5);
    let choking = AMBIENT / 0.528281787717174;
    close("choking", flow(choking * (1.0 + 1e-9)).rate, flow(choking * (1.0 - 1e-9)).rate, 1e-8);
    close("choking slope", flow(choking * (1.0 + 1e-7)).by_pressure, flow(choking * (1.0 - 1e-7)).by_pressure, 1e-5);
}

/// Every derivative that a flow carries against derivatives of its rate: outward, choked, inward.
#[test]
fn derivatives_of_air_flow_are_those_of_its_rate() {
    type D = Dual<2>;
    let c = D::constant;
    let gap = D::seeded(0.1e-3, 1, 0.1e-3);
    let plain = Duct::slot(c(0.3), c(5e-3), gap, c(0.8));
    for opening in [plain, plain.blunted(c(AMBIENT), c(ROOM))] {
        for gauge in gauges() {
            let flow = air_flow(&opening, D::seeded(AMBIENT + gauge, 0, 1.0), c(AMBIENT), c(ROOM));
            close("by pressure", flow.by_pressure.value, flow.rate.slope[0], 1e-11);
            close("by gap", flow.by_log_gap.value, flow.rate.slope[1], 1e-11);
        }
    }
}

#[test]
fn derivatives_of_foam_flow_are_those_of_its_rate() {
    type D = Dual<4>;
    let c = D::constant;
    for (gap, viscosity) in [(0.05e-3, 300.0), (0.3e-3, 3.0), (2e-3, 0.01)] {
        let opening = Duct::slot(c(0.3), c(5e-3), D::seeded(gap, 1, gap), c(0.8));
        for gauge in gauges().filter(|g| *g > 0.0) {
            let (density, viscosity) = (D::seeded(90.0, 2, 90.0), D::seeded(viscosity, 3, viscosity));
            let flow = foam_flow(&opening, D::seeded(gauge, 0, 1.0), density, viscosity);
            close("by pressure", flow.by_pressure.value, flow.rate.slope[0], 1e-11);
            close("by gap", flow.by_log_gap.value, flow.rate.slope[1], 1e-11);
            close("by density", flow.by_log_density.value * flow.rate.value, flow.rate.slope[2], 1e-11);
            let by_viscosity = flow.by_log_viscosity.value * flow.rate.value - flow.rate.slope[3];
            assert!(by_viscosity.abs() <= 1e-11 * flow.rate.value, "by viscosity: {by_viscosity:e}");
        }
    }
}

/// Rates that come without derivatives are those that come with them: outward, choked, inward.
#[test]
fn rates_alone_are_those_of_flows() {
    for opening in [0.3e-3, 12e-3].map(|d| Duct::round(2, d, 10e-3, 0.8).blunted(AMBIENT, ROOM)) {
        for gauge in gauges().chain([0.0, 1e-5]) {
            let air = Air::at(ROOM).rate(&opening, AMBIENT + gauge, AMBIENT);
            let flow = air_flow(&opening, AMBIENT + gauge, AMBIENT, ROOM).rate;
            assert!((air - flow).abs() <= 1e-9 * flow.abs(), "air at {gauge} Pa: {air:e}, not {flow:e}");
            let (foam, flow) = (foam_rate(&opening, gauge, 90.0, 3.0), foam_flow(&opening, gauge, 90.0, 3.0).rate);
            assert!((foam - flow).abs() <= 1e-12 * flow, "foam at {gauge} Pa: {foam:e}, not {flow:e}");
        }
    }
}

#[test]
fn foam_does_not_come_back() {
    let opening = Duct::round(1, 3e-3, 12e-3, 0.8);
    for gauge in [0.0, -1.0, -5e4] {
        let flow = foam_flow(&opening, gauge, 90.0, 3.0);
        assert_eq!([flow.rate, flow.by_pressure, flow.by_log_gap], [0.0; 3]);
    }
}

/// What blunting costs in pressure at the same flow: the 20 Pa it claims, at any flow that does not choke.
#[test]
fn blunting_costs_no_more_than_it_claims() {
    for diameter in [0.3e-3, 1e-3, 3e-3, 6e-3, 12e-3] {
        let plain = Duct::round(1, diameter, 12e-3, 0.82);
        let blunt = plain.blunted(AMBIENT, ROOM);
        for gauge in gauges().filter(|g| *g > 0.0 && *g < 9e4) {
            let rate = air_flow(&plain, AMBIENT + gauge, AMBIENT, ROOM).rate;
            let needed = solve(|g| air_flow(&blunt, AMBIENT + g, AMBIENT, ROOM).rate - rate, 0.0, 2e5);
            assert!(needed - gauge < 21.0 && needed > gauge - 1e-6, "{diameter} m, {gauge} Pa: {needed} Pa");
        }
    }
}
