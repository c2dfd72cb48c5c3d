//! The equations' own derivatives in every regime, against those of their rates, of a lump and of layers.

use std::cell::Cell;

use super::course::Course;
use super::events::collect_events;
use super::moving_part::MovingPart;
use super::stepping_mode::SteppingMode;
use super::twin::Twin;
use crate::model::{Casting, Cavity, FoamConstants, Leak, LeakStart, PartingLine, Vent};
use crate::numerics::integrate::{System, Tolerance};
use crate::numerics::rosenbrock::Stiff;
use crate::numerics::{Dual, Scalar};
use crate::physics::accuracy::Accuracy;
use crate::physics::casting::equations::Equations;
use crate::physics::casting::equations::layout::Shared::{self, Flash, HeadspaceAir, VentLoss};
use crate::physics::casting::equations::layout::{Beside, Moving, SHARED_COUNT, State, moving, moving_gas};
use crate::physics::gas::CO2;
use crate::physics::kinetics::TEMP;
use crate::physics::layers::Layers;
use crate::physics::properties::GAS_CONSTANT;
use crate::units::STANDARD_PRESSURE;

fn foam<S: Scalar>() -> FoamConstants<S> {
    let c = S::constant;
    FoamConstants { cell_opening_time: 60.0, competition: 0.7, ..FoamConstants::default() }.map(c)
}

fn cavity<S: Scalar>(layers: usize, stretch: f64) -> Cavity<S> {
    let c = S::constant;
    let vent = |diameter, at_fill| Vent::hole(2, c(diameter), c(12e-3), c(at_fill));
    Cavity {
        volume: c(620e-6),
        projected_area: c(0.015),
        wall_area: c(0.048),
        heat_transfer: c(12.0),
        layers,
        contact_transfer: c(Cavity::CONTACT_TRANSFER),
        conduction_factor: c(1.0),
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
        opening_limit: c(5e3),
        weighed_after: c(0.0),
    }
}

/// All of it for so many layers.
macro_rules! slopes_of {
    ($name:ident, $layers:literal) => {
        mod $name {
            use super::*;

            const LAYERS: usize = $layers;
            /// Values of a whole state, and numbers with derivatives by each of them.
            const SIZE: usize = moving_gas(LAYERS) + SHARED_COUNT;
            type D = Dual<SIZE>;
            type Whole<T> = State<T, LAYERS>;

            fn twin(stretch: f64) -> Twin<D> {
                let mut twin = Twin::new(&foam::<D>(), &cavity(LAYERS, stretch), &casting(63e-3), Accuracy::default());
                twin.exact.regime.open = false;
                twin
            }

            /// A state at these conversions with this much headspace air, as a share of what fills the cavity at
            /// ambient pressure.
            fn state(blown: f64, gelled: f64, temp: f64, air: f64, lost: [f64; 3]) -> Whole<D> {
                let full = STANDARD_PRESSURE * 620e-6 / (303.15 * GAS_CONSTANT);
                let mut y = Whole::uniform([-(1.0 - blown).ln(), gelled / (1.0 - gelled), temp], 0.0);
                (y[HeadspaceAir], y[VentLoss], y[Flash]) = (air * full, lost[0], lost[1]);
                y.lost = Layers::<LAYERS>::NODES.share.map(|share| lost[2] * share);
                for (i, node) in y.nodes.iter_mut().enumerate() {
                    // Layers that differ: colder and behind toward the wall.
                    let behind = 1.0 - 0.1 * i as f64;
                    *node = [node[0] * behind, node[1] * behind, node[2] - 4.0 * i as f64];
                }
                let lanes = Cell::new(0);
                y.map(|y| D::seeded(y, lanes.replace(lanes.get() + 1), 1.0))
            }

            /// The Jacobian against the slopes of the rates, and each event's speed against the slopes of the event.
            fn agree(name: &str, equations: &Equations<D>, y: &Whole<D>) {
                let (rate, jacobian) = (equations.rate(y), equations.jacobian(y));
                for (row, (jacobian, rate)) in jacobian.values().zip(rate.values()).enumerate() {
                    for (col, (got, expected)) in jacobian.values().zip(rate.slope).enumerate() {
                        let off = (got.value - expected).abs();
                        assert!(
                            off <= 1e-9 * expected.abs(),
                            "{name} [{row}][{col}]: {:e}, not {expected:e}",
                            got.value
                        );
                    }
                }
                let now = equations.cavity_state(y);
                let climb = equations.climb(y, &now, &rate).value;
                let mut events = Vec::new();
                collect_events(equations, LAYERS, &mut events);
                for event in events {
                    let slope = event.function(equations, y, &now).slope;
                    let parts: Vec<f64> =
                        slope.iter().zip(rate.values()).map(|(slope, rate)| slope * rate.value).collect();
                    let (expected, scale) = (parts.iter().sum::<f64>(), parts.iter().map(|p| p.abs()).sum::<f64>());
                    let got = event.speed(equations, y, &rate, &now, climb);
                    assert!((got - expected).abs() <= 1e-9 * scale, "{name}, {event:?}: {got:e}, not {expected:e}");
                }
            }

            /// With the pressure as a state: the Jacobian against the slopes of the rates along states of that kind.
            fn agree_with_pressure<const N: usize>(
                name: &str,
                twin: &mut Twin<D>,
                y: &Whole<D>,
                others: &'static [Shared],
            ) {
                twin.enter_regime(LAYERS);
                let plain = |y: &Whole<D>| y.map(|y| D::constant(y.value));
                let part = MovingPart::<D, N, LAYERS>::new(twin, plain(y), Moving::new(Beside::shared(others)), false)
                    .in_mode(Some(SteppingMode::Implicit));
                assert!(part.pressure_slot().is_some(), "{name}");
                let at = part.of(&plain(y));
                let seeded: [D; N] = std::array::from_fn(|i| D::seeded(at[i].value, i, 1.0));
                let (rate, jacobian) = (part.rate(&seeded), part.jacobian(&at));
                for (row, (jacobian, rate)) in jacobian.iter().zip(&rate).enumerate() {
                    let scale = rate.slope.iter().map(|s| s.abs()).fold(0.0, f64::max);
                    for (col, (got, expected)) in jacobian.iter().zip(rate.slope).enumerate() {
                        let off = (got.value - expected).abs();
                        assert!(
                            off <= 1e-6 * expected.abs() + 1e-9 * scale,
                            "{name} [{row}][{col}]: {got:?}, not {expected:e}"
                        );
                    }
                }
            }

            fn gauge(equations: &Equations<D>, y: &Whole<D>) -> f64 {
                (equations.cavity_state(y).pressure - equations.cavity.ambient).value
            }

            fn saturate(twin: &mut Twin<D>, saturated: bool) {
                twin.exact.regime.saturated.iter_mut().for_each(|layer| layer[CO2] = saturated);
            }

            #[test]
            fn slopes_hold_while_open_and_rising() {
                for stretch in [0.0, 2e-7] {
                    let mut m = twin(stretch);
                    m.exact.regime.open = true;
                    agree("open, not saturated", &m.exact, &state(0.01, 0.01, 300.0, 0.0, [0.0; 3]));
                    saturate(&mut m, true);
                    agree("open", &m.exact, &state(0.3, 0.1, 310.0, 0.0, [0.0; 3]));
                    m.exact.regime.open = false;
                    let rising = state(0.4, 0.2, 315.0, 0.7, [0.0; 3]);
                    assert!(gauge(&m.exact, &rising) > 0.0);
                    agree("rising", &m.exact, &rising);
                    agree_with_pressure::<{ moving(LAYERS, 1) }>("rising", &mut m, &rising, &[HeadspaceAir]);
                    let drawn = state(0.2, 0.2, 310.0, 0.5, [0.0; 3]);
                    assert!(gauge(&m.exact, &drawn) < 0.0);
                    agree("air drawn in", &m.exact, &drawn);
                    let choked = state(0.9, 0.3, 350.0, 1.2, [0.0; 3]);
                    assert!(gauge(&m.exact, &choked) > STANDARD_PRESSURE);
                    agree("choked", &m.exact, &choked);
                    agree_with_pressure::<{ moving(LAYERS, 1) }>("choked", &mut m, &choked, &[HeadspaceAir]);
                    saturate(&mut m, false);
                    agree("dissolved again", &m.exact, &state(0.05, 0.1, 300.0, 1.0, [0.0; 3]));
                }
            }

            #[test]
            fn slopes_hold_while_foam_leaves() {
                for stretch in [0.0, 2e-7] {
                    let mut m = twin(stretch);
                    saturate(&mut m, true);
                    let passing = state(0.7, 0.4, 350.0, 0.2, [1e-3, 5e-4, 0.0]);
                    for front in [0.6, 0.9] {
                        m.exact.regime.front = Some(front);
                        agree("front passed some openings", &m.exact, &passing);
                        agree_with_pressure::<{ moving(LAYERS, 3) }>(
                            "front passed some openings",
                            &mut m,
                            &passing,
                            &[HeadspaceAir, VentLoss, Flash],
                        );
                    }
                    m.exact.regime.clamp_open = true;
                    assert!(gauge(&m.exact, &passing) * 0.015 > 100.0);
                    agree("clamp open, air ahead", &m.exact, &passing);
                    m.exact.regime.front = Some(1.0);
                    m.exact.regime.headspace = false;
                    let full = state(0.8, 0.6, 370.0, 0.0, [2e-3, 1e-3, 0.0]);
                    agree("full, clamp open", &m.exact, &full);
                    agree_with_pressure::<{ moving(LAYERS, 2) }>("full, clamp open", &mut m, &full, &[VentLoss, Flash]);
                    m.exact.regime.closed_leak = None;
                    agree("full, leak open", &m.exact, &full);
                    m.exact.regime.clamp_open = false;
                    agree("full", &m.exact, &full);
                }
            }

            #[test]
            fn slopes_hold_after_gel() {
                for stretch in [0.0, 2e-7] {
                    let mut m = twin(stretch);
                    saturate(&mut m, true);
                    m.exact.regime.gelled = true;
                    m.exact.regime.front = Some(1.0);
                    m.exact.regime.headspace = false;
                    let set = state(0.9, 0.8, 390.0, 0.0, [2e-3, 1e-3, 2e-3]);
                    agree("set, losing gas", &m.exact, &set);
                    saturate(&mut m, false);
                    agree("set, CO2 dissolved", &m.exact, &state(0.9, 0.8, 390.0, 0.0, [2e-3, 1e-3, 0.0]));
                    saturate(&mut m, true);
                    m.exact.regime.headspace = true;
                    m.exact.regime.front = None;
                    m.exact.regime.held_headspace = Some(D::constant(60e-6));
                    let short = state(0.7, 0.7, 380.0, 0.11, [0.0; 3]);
                    agree("short shot", &m.exact, &short);
                    agree_with_pressure::<{ moving(LAYERS, 1) }>("short shot", &mut m, &short, &[HeadspaceAir]);
                }
            }
        }
    };
}

slopes_of!(of_a_lump, 1);
slopes_of!(of_four_layers, 4);

/// What a turnover of set foam may be off by moves its conversion by what that may be off by; a turnover of foam that
/// flows may be off by no more than its own size says.
#[test]
fn a_turnover_of_set_foam_counts_by_its_conversion() {
    let mut twin: Twin<f64> = Twin::new(&foam(), &cavity(1, 0.0), &casting(60e-3), Accuracy::default());
    let tolerance = Tolerance { relative: 1e-5, absolute: [1e-6, 1e-6, 1e-3], max_steps: 1 };
    for (blow, gel) in [(1e-3, 1e-2), (1.0, 2.0), (4.0, 30.0)] {
        let y = [blow, gel, 350.0];
        let slack = |twin: &mut Twin<f64>, gelled: bool| {
            twin.exact.regime.gelled = gelled;
            twin.enter_regime(1);
            let part =
                MovingPart::<f64, { moving(1, 0) }, 1>::new(twin, State::zero(), Moving::new(Beside::NOTHING), false);
            part.slack(&y, &tolerance)
        };
        assert_eq!(slack(&mut twin, false), [1.0; 3]);
        let slack = slack(&mut twin, true);
        let conversions = [|y: f64| 1.0 - (-y).exp(), |y: f64| y / (1.0 + y)];
        for (place, conversion) in conversions.iter().enumerate() {
            let of = |size: f64| tolerance.absolute[place] + tolerance.relative * size;
            let off = slack[place] * of(y[place]);
            let moved = conversion(y[place] + off) - conversion(y[place]);
            assert!((moved / of(conversion(y[place])) - 1.0).abs() < 1e-2, "{place} at {}: {moved}", y[place]);
        }
        assert_eq!(slack[TEMP], 1.0);
    }
}

/// Three and four layers come ever closer to the answers of six.
#[test]
fn answers_converge_with_the_number_of_layers() {
    fn run<const N: usize>() -> [f64; 6]
    where
        for<'a> Course<'a, f64, N>: super::lengths::Lengths,
    {
        let (foam, cavity, casting) = (foam(), cavity(N, 0.0), casting(63e-3));
        let accuracy = Accuracy { relative: 1e-8 };
        // Six are for this test alone.
        let checked = Cavity { layers: 4, ..cavity.clone() };
        let mut course = Course::<f64, N>::pour(&foam, &checked, &casting, &[], false, accuracy).expect("poured");
        course.run(&casting).expect("a casting");
        let r = course.finish().0;
        let seen = |x: Option<f64>| x.expect("seen");
        let (skin, core) = (seen(r.skin_thickness), seen(r.core_density));
        [r.peak_pressure, seen(r.fill_time), seen(r.gel_time), r.core_temp - 273.15, skin, core]
    }
    let (three, four, six) = (run::<3>(), run::<4>(), run::<6>());
    for (i, within) in [5e-3, 5e-3, 5e-3, 1e-2, 0.1, 1e-2].into_iter().enumerate() {
        let off = |x: [f64; 6]| (x[i] / six[i] - 1.0).abs();
        assert!(off(three) < within && off(four) < 0.5 * within, "{i}: {three:?} {four:?} {six:?}");
    }
}
