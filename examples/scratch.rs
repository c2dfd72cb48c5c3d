//! scratch
use risefit::numerics::{Dual, Scalar};
use risefit::physics::casting::{Accuracy, sampled, simulate};
use risefit::physics::cup::*;
use risefit::records::*;
use std::time::Instant;
fn foam() -> FoamConstants {
    FoamConstants {
        liquid_density: 1050.0,
        heat_capacity: 1800.0,
        gas_yield: 0.5,
        blow_rate: 1.0 / 30.0,
        blow_activation: 33e3,
        gel_rate: 1.0 / 45.0,
        gel_activation: 40e3,
        blow_heat: 20.0,
        gel_heat: 90.0,
        solubility: 1e-8,
        air_fraction: 0.03,
        gel_conversion: 0.65,
        viscosity: 1.2,
        viscosity_activation: 35e3,
        viscosity_a: 1.5,
        viscosity_b: 1.0,
        settle: 0.01,
        open_time: f64::INFINITY,
    }
}
fn main() {
    let f = foam();
    let only = std::env::args().nth(1).is_some();
    let cav = Cavity {
        volume: 620e-6,
        projected_area: 0.015,
        wall_area: 0.048,
        heat_transfer: 12.0,
        stretch: 0.0,
        clamp_force: Some(1500.0),
        discharge: 0.82,
        vents: vec![Vent { count: 1, diameter: 3e-3, length: 12e-3, at_fill: 1.0 }],
        parting_line: Some(PartingLine { length: 0.6, land: 5e-3, gap: 0.0, opening: 1e-7, at_fill: 1.0 }),
    };
    let cas = |g: f64, d: f64| Casting {
        charge: g * 1e-3,
        left_in_cup: 0.0,
        mix_temp: 296.15,
        mold_temp: 303.15,
        ambient_pressure: 101325.0,
        closing_time: 10.0,
        clamp_force: None,
        vent_diameters: vec![d],
        leak: None,
        demold_time: 300.0,
    };
    if only {
        sampled(&f, &cav, &cas(62.0, 3e-3), &[], Accuracy { relative: 1e-4 }).unwrap();
        return;
    }
    let test = CupTest {
        mass: 0.06,
        mix_temp: 296.15,
        ambient_temp: 296.15,
        ambient_pressure: 101325.0,
        heat_area: 0.04,
        heat_transfer: 6.0,
        sensor_lag: 2.0,
    };
    let fr = free_rise(&f, &test, &[0.0, 10.0, 50.0, 100.0, 200.0], Accuracy::default()).unwrap();
    println!("{fr:?}");
    for (g, d) in [(60.0, 3e-3), (68.0, 3e-3), (68.0, 12e-3), (40.0, 3e-3)] {
        let r = simulate(&f, &cav, &cas(g, d), 3, Accuracy::default()).unwrap();
        println!("{:?} {:?} fr {} pf {}", r.result, r.phases, r.free_rise_density, r.packing_factor);
    }
    for rel in [1e-4, 1e-5, 1e-6, 1e-8, 1e-10] {
        let c = cas(62.0, 3e-3);
        let t = Instant::now();
        let mut p = 0.0;
        let mut l = 0.0;
        for _ in 0..200 {
            let s = sampled(&f, &cav, &c, &[], Accuracy { relative: rel }).unwrap();
            p = s.result.peak_pressure;
            l = s.result.vent_loss;
        }
        println!("{rel:e} {:?} {p} {l}", t.elapsed() / 200);
    }
    // dual
    type D = Dual<8>;
    let k = D::constant;
    let fd = FoamConstants::<D> {
        liquid_density: k(1050.0),
        heat_capacity: k(1800.0),
        gas_yield: D::seeded(0.5, 0, 0.5),
        blow_rate: D::seeded(1.0 / 30.0, 1, 1.0 / 30.0),
        blow_activation: k(33e3),
        gel_rate: D::seeded(1.0 / 45.0, 2, 1.0 / 45.0),
        gel_activation: k(40e3),
        blow_heat: k(20.0),
        gel_heat: k(90.0),
        solubility: D::seeded(1e-8, 3, 1e-8),
        air_fraction: k(0.03),
        gel_conversion: k(0.65),
        viscosity: D::seeded(1.2, 4, 1.2),
        viscosity_activation: k(35e3),
        viscosity_a: k(1.5),
        viscosity_b: k(1.0),
        settle: k(0.01),
        open_time: k(f64::INFINITY),
    };
    let cavd = Cavity::<D> {
        volume: k(620e-6),
        projected_area: k(0.015),
        wall_area: k(0.048),
        heat_transfer: D::seeded(12.0, 5, 12.0),
        stretch: k(0.0),
        clamp_force: Some(k(1500.0)),
        discharge: k(0.82),
        vents: vec![Vent { count: 1, diameter: k(3e-3), length: k(12e-3), at_fill: k(1.0) }],
        parting_line: Some(PartingLine {
            length: k(0.6),
            land: k(5e-3),
            gap: k(0.0),
            opening: k(1e-7),
            at_fill: k(1.0),
        }),
    };
    let casd = Casting::<D> {
        charge: D::seeded(62e-3, 6, 62e-3),
        left_in_cup: k(0.0),
        mix_temp: k(296.15),
        mold_temp: k(303.15),
        ambient_pressure: k(101325.0),
        closing_time: k(10.0),
        clamp_force: None,
        vent_diameters: vec![D::seeded(3e-3, 7, 3e-3)],
        leak: None,
        demold_time: k(300.0),
    };
    for rel in [1e-4, 1e-6, 1e-8, 1e-10] {
        let t = Instant::now();
        let mut p = k(0.0);
        let mut l = k(0.0);
        for _ in 0..50 {
            let s = sampled(&fd, &cavd, &casd, &[], Accuracy { relative: rel }).unwrap();
            p = s.result.peak_pressure;
            l = s.result.vent_loss;
        }
        println!("{rel:e} {:?}\n {p:?}\n {l:?}", t.elapsed() / 50);
    }
    // fd check
    let h = 1e-4;
    let run = |fg: f64, fmu: f64, ch: f64, vd: f64| {
        let mut f2 = f;
        f2.gas_yield *= fg;
        f2.viscosity *= fmu;
        let c = cas(62.0 * ch, 3e-3 * vd);
        let s = sampled(&f2, &cav, &c, &[], Accuracy { relative: 1e-11 }).unwrap();
        (s.result.peak_pressure, s.result.vent_loss)
    };
    for i in 0..4 {
        let e = |s: f64| {
            let mut a = [1.0; 4];
            a[i] += s;
            run(a[0], a[1], a[2], a[3])
        };
        let (a, b) = (e(h), e(-h));
        println!("fd {i} {} {}", (a.0 - b.0) / (2.0 * h), (a.1 - b.1) / (2.0 * h));
    }
}
