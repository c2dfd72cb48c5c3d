//! Foam in layers: closed forms of slabs, its limits, its convergence, and that a lump is one layer.

use crate::casting::shots::Shot;
use risefit::model::{CastingResult, LAYER_COUNTS, Outcome};
use risefit::{Accuracy, simulate};

fn run(shot: &Shot, layers: usize, relative: f64) -> CastingResult {
    let mut shot = shot.clone();
    shot.cavity.layers = layers;
    simulate(&shot.foam, &shot.cavity, &shot.casting, 0, Accuracy { relative }).expect("a casting").result
}

/// A mix that does nothing, poured into an open mold: a slab of liquid that cools. With a wall at one temperature, the
/// middle follows the series of H. S. Carslaw and J. C. Jaeger, "Conduction of Heat in Solids", 2nd ed., 3.3.
#[test]
fn a_slab_cools_as_the_series_says() {
    let mut shot = Shot::usual(600e-3, 3e-3);
    (shot.foam.blow_rate, shot.foam.gel_rate, shot.foam.air_fraction) = (1e-30, 1e-30, 0.0);
    (shot.casting.mold_temp, shot.casting.mix_temp, shot.casting.closing_time) = (313.15, 293.15, 0.0);
    shot.cavity.contact_transfer = 1e9;
    let half = shot.cavity.volume / shot.cavity.wall_area;
    let diffusivity = shot.foam.conductivity / (shot.foam.liquid_density * shot.foam.heat_capacity);
    let series = |fo: f64| -> f64 {
        let term = |k: usize| {
            let odd = (2 * k + 1) as f64;
            let sign = if k.is_multiple_of(2) { 1.0 } else { -1.0 };
            let fourth = std::f64::consts::FRAC_PI_2 * odd;
            sign * 4.0 / (std::f64::consts::PI * odd) * (-fourth * fourth * fo).exp()
        };
        (0..200).map(term).sum()
    };
    // The series itself, to its published figures.
    for (fo, published) in [(0.05, 0.99687), (0.1, 0.94931), (0.2, 0.77231), (0.5, 0.37078), (1.0, 0.10798)] {
        assert!((series(fo) - published).abs() < 6e-6);
        shot.casting.demold_time = fo * half * half / diffusivity;
        // Early, when heat has just come to the middle, a polynomial sees it too soon.
        for (layers, early, late) in [(3, 7e-3, 1e-5), (4, 3e-3, 1e-7)] {
            let within = if fo < 0.4 { early } else { late };
            let core = run(&shot, layers, 1e-9).core_temp;
            let left = (core - 313.15) / (293.15 - 313.15);
            assert!((left - series(fo)).abs() < within, "{layers} layers, Fo {fo}: {left}, not {}", series(fo));
        }
    }
}

/// Where no heat passes the wall, all layers stay alike: a lump that keeps its heat.
#[test]
fn layers_without_loss_are_a_lump_without_loss() {
    for charge in [62e-3, 45e-3] {
        let mut shot = Shot::usual(charge, 3e-3);
        (shot.cavity.heat_transfer, shot.cavity.contact_transfer) = (0.0, 1e-30);
        shot.foam.cell_opening_time = 100.0;
        let lump = run(&shot, 1, 1e-9);
        for layers in LAYER_COUNTS {
            let layered = run(&shot, layers, 1e-9);
            for outcome in Outcome::all().filter(|outcome| *outcome != Outcome::PeakTime) {
                let (Some(one), Some(of)) = (outcome.of_result(&lump), outcome.of_result(&layered)) else { continue };
                assert!(
                    !one.is_finite() || (of - one).abs() <= 2e-6 * one.abs() + 1e-9,
                    "{outcome:?}: {of}, not {one}"
                );
            }
        }
    }
}

/// More layers come to one answer.
#[test]
fn answers_converge_with_the_number_of_layers() {
    let mut shot = Shot::usual(62e-3, 3e-3);
    shot.foam.cell_opening_time = 200.0;
    let (coarse, fine) = (run(&shot, 3, 1e-8), run(&shot, 4, 1e-8));
    for outcome in [Outcome::PeakPressure, Outcome::GelTime, Outcome::FillTime, Outcome::VentLoss] {
        let (of, best) = (outcome.of_result(&coarse), outcome.of_result(&fine));
        let (of, best) = (of.expect("one"), best.expect("one"));
        assert!((of / best - 1.0).abs() < 5e-3, "{outcome:?}: {of} in three layers, {best} in four");
    }
}

/// A part has a skin where its wall is cold, none where no heat is lost; its mass is that of skin and core.
#[test]
fn a_cold_wall_makes_a_skin() {
    let mut shot = Shot::usual(62e-3, 3e-3);
    shot.cavity.layers = 4;
    let part = |shot: &Shot| shot.run(0).expect("a casting");
    let cold = part(&shot);
    let (skin, core) = (cold.result.skin_thickness.expect("a skin"), cold.result.core_density.expect("a core"));
    let half = shot.cavity.volume / shot.cavity.wall_area;
    assert!(skin > 0.02 * half && skin < 0.5 * half, "{skin} of {half}");
    let profile = cold.profile.expect("a profile");
    let (first, last) = (profile.density[0], profile.density[profile.density.len() - 1]);
    assert!(first > 1.2 * last && core < cold.result.density && core >= last, "{first} {core} {last}");
    let slices = profile.depth.windows(2).zip(profile.density.windows(2));
    let mass: f64 = slices.map(|(x, d)| (x[1] - x[0]) * 2.0 / (1.0 / d[0] + 1.0 / d[1])).sum();
    let mean = mass / profile.depth[profile.depth.len() - 1];
    let at_gel = cold.result.part_mass / shot.cavity.volume;
    assert!((mean / at_gel - 1.0).abs() < 5e-3, "{mean}, not {at_gel}");
    // The skin sets after the foam as a whole.
    let (set, gel) = (cold.result.skin_set_time.expect("set"), cold.result.gel_time.expect("gel"));
    assert!(set > gel, "{set} {gel}");
    shot.cavity.contact_transfer = 1e-30;
    assert_eq!(part(&shot).result.skin_thickness, Some(0.0));
    shot.cavity.layers = 1;
    let lump = part(&shot);
    assert_eq!((lump.result.skin_thickness, lump.profile), (None, None));
}

/// Trends of integral skins: Marciano, Reboredo, Rojas and Williams, Polym. Eng. Sci. 26 (1986), direction only: the
/// skin's share grows with thinner parts, less catalyst and (common practice, no source) a colder wall.
#[test]
fn skins_follow_the_trends_of_the_literature() {
    let share = |change: &dyn Fn(&mut Shot)| {
        let mut shot = Shot::usual(62e-3, 3e-3);
        shot.cavity.layers = 4;
        change(&mut shot);
        let half = shot.cavity.volume / shot.cavity.wall_area;
        shot.result().skin_thickness.expect("a skin") / half
    };
    let usual = share(&|_| ());
    let thinner = share(&|shot| shot.cavity.wall_area *= 1.5);
    let less_catalyst = share(&|shot| (shot.foam.blow_rate, shot.foam.gel_rate) = (0.024, 0.016));
    let colder = share(&|shot| shot.casting.mold_temp -= 10.0);
    assert!(thinner > usual && less_catalyst > usual && colder > usual, "{usual} {thinner} {less_catalyst} {colder}");
}

/// A cold wall takes heat: foam fills and gels later than where it keeps it, at less pressure; a warm one in between.
#[test]
fn a_colder_wall_delays() {
    let at = |mold_temp: f64| {
        let mut shot = Shot::usual(62e-3, 3e-3);
        shot.casting.mold_temp = mold_temp;
        let r = run(&shot, 4, 1e-6);
        (r.gel_time.expect("gel"), r.peak_pressure, r.core_temp)
    };
    let (cold, warm) = (at(288.15), at(318.15));
    assert!(cold.0 > warm.0 + 0.5 && cold.1 < warm.1 && cold.2 < warm.2, "{cold:?} {warm:?}");
}

/// A mold says how many layers; others than there are are refused.
#[test]
fn other_numbers_of_layers_are_refused() {
    let mut shot = Shot::usual(62e-3, 3e-3);
    for layers in [0, 2, 5, 6, 1000] {
        shot.cavity.layers = layers;
        let error = shot.run(0).expect_err("refused").to_string();
        assert!(error.contains("layers") && error.contains("[1, 3, 4]"), "{error}");
    }
}
