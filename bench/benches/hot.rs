//! Micro-benchmarks of the hot parts: `cargo bench --manifest-path bench/Cargo.toml`.

use divan::{Bencher, black_box};
use risefit::physics::cavity::{CavityLaw, Contents, Foam};
use risefit::physics::gas::{Gases, SPECIES_COUNT};
use risefit::physics::kinetics::Kinetics;
use risefit::physics::opening::{Duct, air_flow, foam_flow};
use risefit::physics::viscosity::Viscosity;
use risefit::{Accuracy, CupTest, free_rise, sampled, simulate};
use risefit_bench::plain::Shot;
use risefit_bench::slopes;

/// Relative tolerance of the benchmarks here; what it comes to in accuracy, the comparison with peers measures.
const RELATIVE: f64 = 1e-4;

fn main() {
    divan::main();
}

#[divan::bench]
fn casting(bencher: Bencher) {
    let shot = Shot::plain();
    bencher.bench_local(|| black_box(&shot).run(RELATIVE));
}

#[divan::bench]
fn casting_with_trace_of_300(bencher: Bencher) {
    let Shot { foam, cavity, casting } = Shot::plain();
    bencher.bench_local(|| simulate(black_box(&foam), &cavity, &casting, 300, Accuracy { relative: RELATIVE }));
}

#[divan::bench]
fn casting_read_at_300(bencher: Bencher) {
    let Shot { foam, cavity, casting } = Shot::plain();
    let times: Vec<f64> = (0..300).map(f64::from).collect();
    bencher.bench_local(|| sampled(black_box(&foam), &cavity, &casting, &times, Accuracy { relative: RELATIVE }));
}

#[divan::bench]
fn casting_with_10_derivatives(bencher: Bencher) {
    let shot = Shot::plain();
    bencher.bench_local(|| slopes::exact(black_box(&shot), RELATIVE));
}

#[divan::bench]
fn cup_rise_of_600_points(bencher: Bencher) {
    let foam = Shot::plain().foam;
    let test = CupTest {
        mass: 0.06,
        mix_temp: 296.15,
        ambient_temp: 296.15,
        ambient_pressure: 101_325.0,
        heat_area: 0.04,
        heat_transfer: 8.0,
        core_heat_loss_factor: 1.0,
        sensor_lag: 2.0,
    };
    let times: Vec<f64> = (0..600).map(|i| 0.5 * f64::from(i)).collect();
    bencher.bench_local(|| free_rise(black_box(&foam), &test, &times, Accuracy { relative: 1e-6 }));
}

#[divan::bench]
fn reaction_rate(bencher: Bencher) {
    let kinetics = Kinetics::new(&Shot::plain().foam);
    bencher.bench_local(|| kinetics.rate(black_box([0.4, 0.3, 330.0])));
}

#[divan::bench]
fn reaction_jacobian(bencher: Bencher) {
    let kinetics = Kinetics::new(&Shot::plain().foam);
    bencher.bench_local(|| kinetics.jacobian(black_box([0.4, 0.3, 330.0])));
}

#[divan::bench]
fn pressure_in_the_cavity(bencher: Bencher) {
    let gas = Gases::new(&Shot::plain().foam, 101_325.0, 296.15);
    let room = CavityLaw { volume: 620e-6, stretch: 0.0, ambient: 101_325.0, headspace_temp: 303.15 };
    let foam = [Foam { mass: 0.06, blown: 0.4, temp: 330.0, lost: 0.0, saturated: [true; SPECIES_COUNT] }];
    let contents = Contents { foam, headspace: 5e-3 };
    bencher.bench_local(|| black_box(&room).pressure(&gas, black_box(&contents)));
}

#[divan::bench]
fn air_through_a_vent(bencher: Bencher) {
    let vent = Duct::round(1, 3e-3, 12e-3, 0.82).blunted(101_325.0, 303.15);
    bencher.bench_local(|| air_flow(black_box(&vent), black_box(101_335.0), 101_325.0, 303.15));
}

#[divan::bench]
fn foam_through_a_vent(bencher: Bencher) {
    let vent = Duct::round(1, 3e-3, 12e-3, 0.82);
    bencher.bench_local(|| foam_flow(black_box(&vent), black_box(30e3), 97.0, 20.0));
}

#[divan::bench]
fn viscosity(bencher: Bencher) {
    let viscosity = Viscosity::new(&Shot::plain().foam);
    bencher.bench_local(|| viscosity.at(black_box(0.4), black_box(330.0)));
}
