//! Derivatives of the outcome quantities by ten parameters, each per relative change of its parameter.

use crate::plain::Shot;
use risefit::model::{Casting, Cavity, FoamConstants};
use risefit::numerics::Dual;
use risefit::{Accuracy, sampled};

/// How many parameters.
pub const COUNT: usize = 10;
/// Four outcome quantities by ten parameters.
pub type Slopes = [[f64; COUNT]; 4];

fn places<'a, S: Copy>(
    foam: &'a mut FoamConstants<S>,
    cavity: &'a mut Cavity<S>,
    casting: &'a mut Casting<S>,
) -> [&'a mut S; COUNT] {
    [
        &mut foam.gas_yield,
        &mut foam.blow_rate,
        &mut foam.blow_activation,
        &mut foam.gel_rate,
        &mut foam.gel_activation,
        &mut foam.viscosity,
        cavity.vents[0].drilled_mut().expect("a hole"),
        &mut cavity.volume,
        &mut casting.charge,
        &mut casting.mix_temp,
    ]
}

/// The shot with parameter number `which` multiplied by `factor`.
pub fn changed(shot: &Shot, which: usize, factor: f64) -> Shot {
    let mut shot = shot.clone();
    *places(&mut shot.foam, &mut shot.cavity, &mut shot.casting)[which] *= factor;
    shot
}

/// Exact derivatives by dual numbers.
///
/// # Errors
/// As [`sampled`].
pub fn exact(shot: &Shot, relative: f64) -> risefit::Result<Slopes> {
    let constant = |x: f64| Dual::<COUNT> { value: x, slope: [0.0; COUNT] };
    let (mut foam, mut cavity, mut casting) =
        (shot.foam.map(constant), shot.cavity.map(constant), shot.casting.map(constant));
    for (lane, place) in places(&mut foam, &mut cavity, &mut casting).into_iter().enumerate() {
        place.slope[lane] = place.value;
    }
    let result = sampled(&foam, &cavity, &casting, &[], Accuracy { relative })?.result;
    let none = [f64::NAN; COUNT];
    Ok([
        result.peak_pressure.slope,
        result.fill_time.map_or(none, |t| t.slope),
        result.density.slope,
        result.vent_loss.slope,
    ])
}

/// Central differences of any simulation of the outcome quantities.
///
/// # Errors
/// Those of the simulation.
pub fn differences<E>(shot: &Shot, step: f64, run: impl Fn(&Shot) -> Result<[f64; 4], E>) -> Result<Slopes, E> {
    let mut out = [[0.0; COUNT]; 4];
    for which in 0..COUNT {
        let (up, down) = (run(&changed(shot, which, 1.0 + step))?, run(&changed(shot, which, 1.0 - step))?);
        for (row, (u, d)) in out.iter_mut().zip(up.iter().zip(&down)) {
            row[which] = (u - d) / (2.0 * step);
        }
    }
    Ok(out)
}

/// The largest error of a derivative, as a share of itself or of a thousandth of the outcome's largest derivative.
pub fn worst_error(found: &Slopes, exact: &Slopes) -> f64 {
    let mut worst: f64 = 0.0;
    for (f, e) in found.iter().zip(exact) {
        let floor = 1e-3 * e.iter().fold(0.0_f64, |a, b| a.max(b.abs()));
        for (f, e) in f.iter().zip(e) {
            let error = (f - e).abs() / e.abs().max(floor);
            worst = if error.is_nan() { f64::INFINITY } else { worst.max(error) };
        }
    }
    worst
}
