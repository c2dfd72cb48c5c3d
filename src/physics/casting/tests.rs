//! The machine's own derivatives in every regime, against those of its rates.

use super::course::Accuracy;
use super::machine::{FLASHED, HEAD, LOST, Machine, SIZE, State, VENTED};
use super::manner::Manner;
use super::motion::Part;
use super::setup::build;
use crate::model::{Casting, Cavity, FoamConstants, Leak, LeakStart, PartingLine, Vent};
use crate::numerics::integrate::{System, Tolerance};
use crate::numerics::rosenbrock::Stiff;
use crate::numerics::{Dual, Scalar};
use crate::physics::kinetics::{BLOW, GEL, TEMP};
use crate::physics::properties::GAS_CONSTANT;
use crate::units::STANDARD_PRESSURE;

type D = Dual<SIZE>;

fn foam<S: Scalar>() -> FoamConstants<S> {
    let c = S::constant;
    FoamConstants { cell_opening_time: 60.0, competition: 0.7, ..FoamConstants::default() }.map(c)
}

fn cavity<S: Scalar>(stretch: f64) -> Cavity<S> {
    let c = S::constant;
    let vent = |diameter, at_fill| Vent { count: 2, diameter: c(diameter), length: c(12e-3), at_fill: c(at_fill) };
    Cavity {
        volume: c(620e-6),
        projected_area: c(0.015),
        wall_area: c(0.048),
        heat_transfer: c(12.0),
        stretch: c(stretch),
        clamp_force: Some(c(100.0)),
        gas_retention: c(1.0),
        rate_factor: c(1.0),
        discharge: c(0.82),
        vents: vec![vent(0.8e-3, 0.6), vent(3e-3, 1.0)],
        parting_line: Some(PartingLine {
            length: c(0.6),
            land: c(5e-3),
            gap: c(2e-5),
            opening: c(1e-7),
            at_fill: c(0.9),
        }),
    }
}

fn casting<S: Scalar>(charge: f64) -> Casting<S> {
    let c = S::constant;
    let start = LeakStart::GaugePressure(20e3);
    Casting {
        charge: c(charge),
        left_in_cup: c(1e-3),
        mix_temp: c(296.15),
        mold_temp: c(303.15),
        ambient_pressure: c(STANDARD_PRESSURE),
        closing_time: c(0.0),
        clamp_force: None,
        vent_diameters: vec![],
        leak: Some(Leak { diameter: c(1e-3), length: c(5e-3), start }),
        demold_time: c(300.0),
    }
}

fn machine(stretch: f64) -> Machine<D> {
    let mut machine = build(&foam::<D>(), &cavity(stretch), &casting(63e-3), Accuracy::default());
    machine.regime.open = false;
    machine
}

/// A state at these conversions with this much headspace air, as a share of what fills the cavity at ambient pressure.
fn state(blown: f64, gelled: f64, temp: f64, air: f64, lost: [f64; 3]) -> State<D> {
    let full = STANDARD_PRESSURE * 620e-6 / (303.15 * GAS_CONSTANT);
    let mut y = [0.0; SIZE];
    (y[BLOW], y[GEL], y[TEMP], y[HEAD]) = (-(1.0 - blown).ln(), gelled / (1.0 - gelled), temp, air * full);
    (y[VENTED], y[FLASHED], y[LOST]) = (lost[0], lost[1], lost[2]);
    std::array::from_fn(|i| D::seeded(y[i], i, 1.0))
}

/// The Jacobian against the slopes of the rates, and each armed event's speed against the slopes of the event.
fn agree(name: &str, machine: &mut Machine<D>, y: &State<D>) {
    let (rate, jacobian) = (machine.rate(y), machine.jacobian(y));
    for (row, (jacobian, rate)) in jacobian.iter().zip(&rate).enumerate() {
        for (col, (got, expected)) in jacobian.iter().zip(rate.slope).enumerate() {
            let off = (got.value - expected).abs();
            assert!(off <= 1e-9 * expected.abs(), "{name} [{row}][{col}]: {:e}, not {expected:e}", got.value);
        }
    }
    machine.arm();
    let now = machine.reading(y);
    let climb = machine.climb(y, &now, &rate).value;
    for mark in machine.regime.armed.clone() {
        let slope = machine.mark(mark, y, &now).slope;
        let parts: [f64; SIZE] = std::array::from_fn(|i| slope[i] * rate[i].value);
        let (expected, scale) = (parts.iter().sum::<f64>(), parts.iter().map(|p| p.abs()).sum::<f64>());
        let got = machine.mark_rate(mark, y, &rate, &now, climb);
        assert!((got - expected).abs() <= 1e-9 * scale, "{name}, {mark:?}: {got:e}, not {expected:e}");
    }
}

/// With the pressure as a state: the Jacobian against the slopes of the rates along states of that kind.
fn agree_pressed<const N: usize>(name: &str, machine: &Machine<D>, y: &State<D>, places: [usize; N]) {
    let plain = |y: &State<D>| y.map(|y| D::constant(y.value));
    let mut values = build(&foam::<f64>(), &cavity(machine.room.stretch.value), &casting(63e-3), Accuracy::default());
    machine.regime.set_values(&mut values.regime);
    let part = Part::new((machine, &values), plain(y), places, false).in_manner(Some(Manner::Stiff));
    assert!(part.pressure_slot().is_some(), "{name}");
    let at = part.of(&plain(y));
    let seeded: [D; N] = std::array::from_fn(|i| D::seeded(at[i].value, i, 1.0));
    let (rate, jacobian) = (part.rate(&seeded), part.jacobian(&at));
    for (row, (jacobian, rate)) in jacobian.iter().zip(&rate).enumerate() {
        let scale = rate.slope.iter().map(|s| s.abs()).fold(0.0, f64::max);
        for (col, (got, expected)) in jacobian.iter().zip(rate.slope).enumerate() {
            let off = (got.value - expected).abs();
            assert!(off <= 1e-6 * expected.abs() + 1e-9 * scale, "{name} [{row}][{col}]: {got:?}, not {expected:e}");
        }
    }
}

fn gauge(machine: &Machine<D>, y: &State<D>) -> f64 {
    (machine.reading(y).pressure - machine.room.ambient).value
}

#[test]
fn slopes_hold_while_open_and_rising() {
    for stretch in [0.0, 2e-7] {
        let mut m = machine(stretch);
        m.regime.open = true;
        agree("open, not saturated", &mut m, &state(0.01, 0.01, 300.0, 0.0, [0.0; 3]));
        m.regime.saturated = true;
        agree("open", &mut m, &state(0.3, 0.1, 310.0, 0.0, [0.0; 3]));
        m.regime.open = false;
        let rising = state(0.4, 0.2, 315.0, 0.7, [0.0; 3]);
        assert!(gauge(&m, &rising) > 0.0);
        agree("rising", &mut m, &rising);
        agree_pressed("rising", &m, &rising, [0, 1, 2, HEAD]);
        let drawn = state(0.2, 0.2, 310.0, 0.5, [0.0; 3]);
        assert!(gauge(&m, &drawn) < 0.0);
        agree("air drawn in", &mut m, &drawn);
        let choked = state(0.9, 0.3, 350.0, 1.2, [0.0; 3]);
        assert!(gauge(&m, &choked) > STANDARD_PRESSURE);
        agree("choked", &mut m, &choked);
        agree_pressed("choked", &m, &choked, [0, 1, 2, HEAD]);
        m.regime.saturated = false;
        agree("dissolved again", &mut m, &state(0.05, 0.1, 300.0, 1.0, [0.0; 3]));
    }
}

#[test]
fn slopes_hold_while_foam_leaves() {
    for stretch in [0.0, 2e-7] {
        let mut m = machine(stretch);
        m.regime.saturated = true;
        let passing = state(0.7, 0.4, 350.0, 0.2, [1e-3, 5e-4, 0.0]);
        for front in [0.6, 0.9] {
            m.regime.front = Some(front);
            agree("front passed some openings", &mut m, &passing);
            agree_pressed("front passed some openings", &m, &passing, [0, 1, 2, HEAD, VENTED, FLASHED]);
        }
        m.regime.clamp_open = true;
        assert!(gauge(&m, &passing) * 0.015 > 100.0);
        agree("clamp open, air ahead", &mut m, &passing);
        m.regime.front = Some(1.0);
        m.regime.headspace = false;
        let full = state(0.8, 0.6, 370.0, 0.0, [2e-3, 1e-3, 0.0]);
        agree("full, clamp open", &mut m, &full);
        agree_pressed("full, clamp open", &m, &full, [0, 1, 2, VENTED, FLASHED]);
        m.regime.closed_port = None;
        agree("full, leak open", &mut m, &full);
        m.regime.clamp_open = false;
        agree("full", &mut m, &full);
    }
}

#[test]
fn slopes_hold_after_gel() {
    for stretch in [0.0, 2e-7] {
        let mut m = machine(stretch);
        m.regime.saturated = true;
        m.regime.gelled = true;
        m.regime.front = Some(1.0);
        m.regime.headspace = false;
        let set = state(0.9, 0.8, 390.0, 0.0, [2e-3, 1e-3, 2e-3]);
        agree("set, losing gas", &mut m, &set);
        m.regime.saturated = false;
        agree("set, CO2 dissolved", &mut m, &state(0.9, 0.8, 390.0, 0.0, [2e-3, 1e-3, 0.0]));
        m.regime.saturated = true;
        m.regime.headspace = true;
        m.regime.front = None;
        m.regime.held = Some(D::constant(60e-6));
        let short = state(0.7, 0.7, 380.0, 0.11, [0.0; 3]);
        agree("short shot", &mut m, &short);
        agree_pressed("short shot", &m, &short, [0, 1, 2, HEAD]);
    }
}

/// What a turnover of set foam may be off by moves its conversion by what that may be off by; a turnover of foam that flows may
/// be off by no more than its own size says.
#[test]
fn a_turnover_of_set_foam_counts_by_its_conversion() {
    let mut machine: Machine<f64> = build(&foam(), &cavity(0.0), &casting(60e-3), Accuracy::default());
    let tolerance = Tolerance { relative: 1e-5, absolute: [1e-6, 1e-6, 1e-3], max_steps: 1 };
    for (blow, gel) in [(1e-3, 1e-2), (1.0, 2.0), (4.0, 30.0)] {
        let y = [blow, gel, 350.0];
        let slack = |machine: &Machine<f64>| {
            let part = Part::new((machine, machine), [0.0; SIZE], [BLOW, GEL, TEMP], false);
            part.slack(&y, &tolerance)
        };
        machine.regime.gelled = false;
        assert_eq!(slack(&machine), [1.0; 3]);
        machine.regime.gelled = true;
        let conversions = [|y: f64| 1.0 - (-y).exp(), |y: f64| y / (1.0 + y)];
        for (place, conversion) in conversions.iter().enumerate() {
            let of = |size: f64| tolerance.absolute[place] + tolerance.relative * size;
            let off = slack(&machine)[place] * of(y[place]);
            let moved = conversion(y[place] + off) - conversion(y[place]);
            assert!((moved / of(conversion(y[place])) - 1.0).abs() < 1e-2, "{place} at {}: {moved}", y[place]);
        }
        assert_eq!(slack(&machine)[TEMP], 1.0);
    }
}
