//! Derivatives of every outcome of a casting, and of a free rise, against extrapolated central differences: also where events
//! follow each other closely.

use risefit::model::CastingResult;
use risefit::model::{Casting, Cavity, FoamConstants, Leak, LeakStart, PartingLine, Vent};
use risefit::numerics::{Dual, Scalar};
use risefit::{Accuracy, sampled};
use risefit::{CupTest, free_rise};

/// What is varied, each by its logarithm (temperatures by 10 K).
const LANES: usize = 16;
const NAMES: [&str; LANES] = [
    "gas_yield",
    "blow_rate",
    "gel_rate",
    "solubility",
    "viscosity",
    "gel_conversion",
    "air_fraction",
    "gel_heat",
    "charge",
    "vent",
    "volume",
    "heat_transfer",
    "mix_temp",
    "ambient_pressure",
    "closing_time_and_weighed_after",
    "clamp_force_and_opening_limit",
];
const ACCURACY: Accuracy = Accuracy { relative: 1e-11 };

/// A scene to differentiate in.
#[derive(Clone, Copy)]
struct Scene {
    charge: f64,
    vent: f64,
    stretch: f64,
    clamp: Option<f64>,
    leak: Option<LeakStart>,
    cell_opening_time: f64,
    closing_time: f64,
    gel_rate: f64,
    layers: usize,
}

const USUAL: Scene = Scene {
    charge: 62e-3,
    vent: 3e-3,
    stretch: 0.0,
    clamp: None,
    leak: None,
    cell_opening_time: f64::INFINITY,
    closing_time: 10.0,
    gel_rate: 1.0 / 45.0,
    layers: 1,
};

fn foam<S: Scalar>(scene: &Scene, x: &[S; LANES]) -> FoamConstants<S> {
    let c = S::constant;
    FoamConstants {
        liquid_density: c(1050.0),
        heat_capacity: c(1800.0),
        conductivity: c(FoamConstants::default().conductivity),
        induction: x[6].exp() * 1.5,
        gas_yield: x[0].exp() * 0.5,
        blow_rate: x[1].exp() / 30.0,
        blow_activation: c(33e3),
        gel_rate: x[2].exp() * scene.gel_rate,
        gel_activation: c(40e3),
        competition: x[5].exp() * 0.5,
        blow_heat: c(20.0),
        gel_heat: x[7].exp() * 90.0,
        solubility: x[3].exp() * 1e-8,
        air_fraction: x[6].exp() * 0.03,
        gel_conversion: x[5].exp() * 0.65,
        rise_end_conversion: c(0.72),
        viscosity: x[4].exp() * 1.2,
        viscosity_activation: c(35e3),
        viscosity_a: c(1.5),
        viscosity_b: c(1.0),
        settling: c(0.01),
        cell_opening_time: c(scene.cell_opening_time),
    }
}

fn cavity<S: Scalar>(scene: &Scene, x: &[S; LANES]) -> Cavity<S> {
    let c = S::constant;
    let line = PartingLine { length: c(0.6), land: c(5e-3), gap: c(0.0), opening: c(2e-6), at_fill: c(1.0) };
    Cavity {
        volume: x[10].exp() * 620e-6,
        projected_area: c(0.015),
        wall_area: c(0.048),
        heat_transfer: x[11].exp() * 12.0,
        layers: scene.layers,
        contact_transfer: c(Cavity::CONTACT_TRANSFER),
        conduction_factor: x[11].exp(),
        stretch: c(scene.stretch),
        clamp_force: scene.clamp.map(|force| x[15].exp() * force),
        gas_retention: c(1.0),
        rate_factor: c(1.0),
        discharge: c(0.82),
        vents: vec![Vent::hole(1, x[9].exp() * scene.vent, c(12e-3), c(1.0))],
        parting_line: scene.clamp.map(|_| line),
    }
}

fn casting<S: Scalar>(scene: &Scene, x: &[S; LANES]) -> Casting<S> {
    let c = S::constant;
    Casting {
        charge: x[8].exp() * scene.charge,
        left_in_cup: c(0.0),
        mix_temp: x[12] * 10.0 + 296.15,
        mold_temp: c(303.15),
        ambient_pressure: x[13].exp() * 101_325.0,
        closing_time: x[14].exp() * scene.closing_time,
        clamp_force: None,
        vent_diameters: vec![],
        leak: scene.leak.map(|start| Leak { diameter: c(1.5e-3), length: c(5e-3), start }),
        demold_time: c(300.0),
        opening_limit: x[15].exp() * 5e3,
        weighed_after: x[14].exp() * 7200.0,
    }
}

const TIMES: [f64; 6] = [5.0, 15.0, 24.0, 28.0, 60.0, 299.0];

/// What an outcome's error is measured by: its value or largest slope; for pressures, which are a few pascals above ambient while
/// the air leaves (noise of the differences: that of the absolute pressure), at least this, Pa.
fn scale_of(name: &str, value: &Dual<LANES>, least_pressure: f64) -> f64 {
    let least = if name.contains("pressure") && !name.ends_with("time") { least_pressure } else { 0.0 };
    value.slope.iter().fold(value.value.abs().max(least), |a, s| a.max(s.abs()))
}

/// Every number that a casting comes to, named.
fn outcomes<S: Scalar>(scene: &Scene, x: &[S; LANES], accuracy: Accuracy) -> Vec<(String, S)> {
    let run = sampled(&foam(scene, x), &cavity(scene, x), &casting(scene, x), &TIMES, accuracy).unwrap();
    let r: CastingResult<S> = run.result;
    let maybe = [
        ("rise_start", r.rise_start),
        ("fill_time", r.fill_time),
        ("gel_time", r.gel_time),
        ("clamp_opened", r.clamp_opened),
        ("leak_opened", r.leak_opened),
        ("pressure_at_gel", r.pressure_at_gel),
        ("skin_thickness", r.skin_thickness),
        ("core_density", r.core_density),
        ("skin_set_time", r.skin_set_time),
        ("skin_set_pressure", r.skin_set_pressure),
        ("skin_set_temp", r.skin_set_temp),
        ("low_pressure_time", r.low_pressure_time),
    ];
    let always = [
        ("peak_pressure", r.peak_pressure),
        ("part_mass", r.part_mass),
        ("scale_reading", r.scale_reading),
        ("vent_loss", r.vent_loss),
        ("flash", r.flash),
        ("fill_fraction", r.fill_fraction),
        ("density", r.density),
        ("core_temp", r.core_temp),
        ("pressure_at_demold", r.pressure_at_demold),
        ("temp_at_demold", r.temp_at_demold),
        ("blown_at_demold", r.blown_at_demold),
        ("gelled_at_demold", r.gelled_at_demold),
    ];
    let fixed = always.into_iter().map(|(name, x)| (name, Some(x)));
    let named = maybe.into_iter().chain(fixed).filter_map(|(name, x)| Some((name.to_owned(), x?)));
    let pressure = TIMES.iter().zip(run.pressure).map(|(t, p)| (format!("pressure at {t} s"), p));
    let temp = TIMES.iter().zip(run.temp).map(|(t, p)| (format!("temperature at {t} s"), p));
    named.chain(pressure).chain(temp).collect()
}

/// Richardson's extrapolation of central differences of every value by each lane.
fn differences(f: impl Fn(&[f64; LANES]) -> Vec<(String, f64)>, step: f64) -> Vec<[f64; LANES]> {
    let mut out = vec![[0.0; LANES]; f(&[0.0; LANES]).len()];
    for lane in 0..LANES {
        let at = |h: f64| f(&std::array::from_fn(|i| if i == lane { h } else { 0.0 }));
        let central = |h: f64| -> Vec<f64> {
            let (right, left) = (at(h), at(-h));
            right.iter().zip(&left).map(|(r, l)| (r.1 - l.1) / (2.0 * h)).collect()
        };
        let (wide, narrow) = (central(step), central(0.5 * step));
        for (row, (w, n)) in out.iter_mut().zip(wide.iter().zip(narrow)) {
            row[lane] = (4.0 * n - w) / 3.0;
        }
    }
    out
}

/// The derivatives that duals carry against differences, to `within` of the outcome's size and its largest slope.
fn agree(scene: Scene, step: f64, within: f64) {
    let seeded = std::array::from_fn(|i| Dual::<LANES>::seeded(0.0, i, 1.0));
    let exact = outcomes(&scene, &seeded, ACCURACY);
    let rough = differences(|x| outcomes(&scene, x, ACCURACY), step);
    for ((name, value), rough) in exact.iter().zip(rough) {
        let scale = scale_of(name, value, 1e4);
        for lane in 0..LANES {
            let (got, expected) = (value.slope[lane], rough[lane]);
            let off = (got - expected).abs();
            assert!(
                off <= within * scale,
                "d {name} / d {}: {got:e}, differences {expected:e}, of {scale:e}",
                NAMES[lane]
            );
        }
    }
}

#[test]
fn full_part() {
    agree(USUAL, 1e-3, 2e-7);
}

#[test]
fn soft_mold_with_open_cells() {
    agree(Scene { stretch: 1e-7, cell_opening_time: 40.0, ..USUAL }, 1e-3, 2e-7);
}

#[test]
fn wide_vent() {
    agree(Scene { vent: 10e-3, charge: 68e-3, ..USUAL }, 1e-3, 2e-7);
}

#[test]
fn clamp_that_gives_way() {
    agree(Scene { clamp: Some(300.0), charge: 66e-3, ..USUAL }, 5e-4, 1e-6);
}

#[test]
fn leak_that_opens_under_pressure() {
    agree(Scene { leak: Some(LeakStart::GaugePressure(15e3)), ..USUAL }, 5e-4, 1e-6);
}

#[test]
fn leak_that_opens_in_time() {
    agree(Scene { leak: Some(LeakStart::Time(27.0)), ..USUAL }, 1e-3, 2e-7);
}

#[test]
fn short_shot() {
    agree(Scene { charge: 40e-3, ..USUAL }, 1e-3, 1e-6);
}

/// Gas leaves fast through opened cells: the pressure falls below the limit long before demold.
#[test]
fn pressure_that_falls_below_the_limit() {
    let scene = Scene { cell_opening_time: 15.0, ..USUAL };
    let low = sampled(
        &foam(&scene, &[0.0; LANES]),
        &cavity(&scene, &[0.0; LANES]),
        &casting(&scene, &[0.0; LANES]),
        &[],
        ACCURACY,
    );
    let result = low.unwrap().result;
    assert!(result.low_pressure_time.unwrap() > result.gel_time.unwrap() + 10.0, "{result:?}");
    agree(scene, 1e-3, 2e-7);
}

/// Filled half a second before gel, where the mix is all but set.
#[test]
fn fill_just_before_gel() {
    agree(Scene { gel_rate: 1.0 / 36.2, ..USUAL }, 1e-4, 2e-6);
}

/// Closed half a second before it would be full.
#[test]
fn closed_late() {
    agree(Scene { closing_time: 23.8, ..USUAL }, 2e-4, 2e-6);
}

/// Closed while nothing has risen yet.
#[test]
fn closed_at_once() {
    agree(Scene { closing_time: 1.0, ..USUAL }, 1e-3, 2e-7);
}

/// Layers of a full part, of a soft mold, of a clamp that gives way, of a leak, of a short shot.
#[test]
fn in_layers() {
    let layered = Scene { layers: 4, ..USUAL };
    agree(layered, 1e-3, 1e-6);
    agree(Scene { stretch: 1e-7, cell_opening_time: 40.0, ..layered }, 1e-3, 1e-6);
    agree(Scene { clamp: Some(300.0), charge: 66e-3, ..layered }, 5e-4, 1e-6);
    agree(Scene { leak: Some(LeakStart::GaugePressure(15e3)), ..layered }, 5e-4, 1e-6);
    agree(Scene { charge: 40e-3, layers: 3, ..layered }, 1e-3, 1e-6);
}

/// At working accuracy the derivatives keep what the fit needs: a percent of their outcome's largest.
#[test]
fn working_accuracy_is_enough_for_a_fit() {
    let seeded = std::array::from_fn(|i| Dual::<LANES>::seeded(0.0, i, 1.0));
    let tight = outcomes(&USUAL, &seeded, ACCURACY);
    for (relative, within) in [(1e-4, 1e-2), (1e-6, 1e-4)] {
        let quick = outcomes(&USUAL, &seeded, Accuracy { relative });
        for ((name, a), (_, b)) in tight.iter().zip(&quick) {
            let scale = scale_of(name, a, 2e4);
            let off = a.slope.iter().zip(b.slope).map(|(a, b)| (a - b).abs()).fold((a.value - b.value).abs(), f64::max);
            assert!(off <= within * scale, "{name} at {relative:e}: off by {:e}", off / scale);
        }
    }
}

fn cup<S: Scalar>(x: &[S; LANES], accuracy: Accuracy) -> Vec<(String, S)> {
    let c = S::constant;
    let test = CupTest {
        mass: x[8].exp() * 0.06,
        mix_temp: x[12] * 10.0 + 296.15,
        ambient_temp: c(296.15),
        ambient_pressure: x[13].exp() * 101_325.0,
        heat_area: c(0.04),
        heat_transfer: x[11].exp() * 6.0,
        core_heat_loss_factor: x[11].exp() * 0.3,
        sensor_lag: c(2.0),
    };
    // Not at 33 s, where the rise stops: the curvature jumps there, which differences cannot follow.
    let times = [1.0, 10.0, 29.0, 31.0, 36.0, 90.0];
    let rise = free_rise(&foam(&USUAL, x), &test, &times, accuracy).unwrap();
    let courses = [("volume", rise.volume), ("temp", rise.temp), ("sensed", rise.sensed)];
    let read = courses.into_iter().flat_map(|(name, course)| course.into_iter().map(move |x| (name.to_owned(), x)));
    let stopwatch = [
        ("cream", rise.cream_time.unwrap()),
        ("gel", rise.gel_time.unwrap()),
        ("end of rise", rise.end_of_rise.unwrap()),
        ("tack free", rise.tack_free.unwrap()),
        ("density", rise.density),
    ];
    read.chain(stopwatch.map(|(name, x)| (name.to_owned(), x))).collect()
}

#[test]
fn free_rise_in_a_cup() {
    let seeded = std::array::from_fn(|i| Dual::<LANES>::seeded(0.0, i, 1.0));
    let exact = cup(&seeded, ACCURACY);
    let rough = differences(|x| cup(x, ACCURACY), 1e-3);
    for ((name, value), rough) in exact.iter().zip(rough) {
        let scale = value.slope.iter().fold(value.value.abs(), |a, s| a.max(s.abs()));
        for lane in 0..LANES {
            let off = (value.slope[lane] - rough[lane]).abs();
            assert!(off <= 1e-6 * scale, "d {name} / d {}: {:e}, {:e}", NAMES[lane], value.slope[lane], rough[lane]);
        }
    }
}
