//! Roots of equations that are nearly `x = constant`, without derivatives: Broyden's method, the inverse kept as a
//! product of steps (Kelley, Iterative Methods for Linear and Nonlinear Equations, SIAM 1995, chapter 7).

use ndarray::Array1;

use crate::error::Result;

/// A step that ends this many times farther from the root than the nearest place so far led astray, and is cut to this
/// share.
const MAX_REL_DISTANCE: f64 = 1.5;
const CUT_SHARE: f64 = 0.3;
/// No step is taken as more than so many times what it was before it was corrected.
const MAX_CORRECTION: f64 = 5.0;

/// The nearest place to a root that was found.
#[derive(Clone, Debug)]
pub struct Nearest {
    /// Coordinates.
    pub at: Array1<f64>,
    /// Length of what the equations are off by there; infinite where no place could be looked at.
    pub off: f64,
}

/// Looks for `x` where `off` is zero, until it is shorter than `near` or was asked for `looks` times, in steps of at
/// most `reach`. A place where `off` fails recoverably is stepped back from, towards the nearest so far, at first
/// towards zero.
///
/// # Errors
/// Those of `off` that are not recoverable.
pub fn nearest_to_root(
    off: impl Fn(&Array1<f64>) -> Result<Array1<f64>>,
    start: Array1<f64>,
    (near, reach): (f64, f64),
    looks: usize,
) -> Result<Nearest> {
    let mut x = start;
    let mut nearest = Nearest { at: Array1::zeros(x.len()), off: f64::INFINITY };
    let mut steps: Vec<Array1<f64>> = Vec::new();
    for _ in 0..looks {
        let here = match off(&x) {
            Ok(here) => Some(here),
            Err(error) if error.is_recoverable() => None,
            Err(error) => return Err(error),
        };
        let size = here.as_ref().map_or(f64::INFINITY, |off| off.dot(off).sqrt());
        let Some(here) = here.filter(|_| size < MAX_REL_DISTANCE * nearest.off) else {
            x = &nearest.at + &((&x - &nearest.at) * CUT_SHARE);
            steps.clear();
            continue;
        };
        if size < nearest.off {
            nearest = Nearest { at: x.clone(), off: size };
        }
        if size < near {
            break;
        }
        let step = next_step(&steps, -here);
        let length = step.dot(&step).sqrt();
        if length > reach {
            // What the method knows holds for whole steps.
            steps.clear();
            x.scaled_add(reach / length, &step);
        } else {
            x += &step;
            steps.push(step);
        }
    }
    Ok(nearest)
}

/// The step from here, of what the equations would have it (`plain`) and what they did after the steps before.
fn next_step(steps: &[Array1<f64>], plain: Array1<f64>) -> Array1<f64> {
    let mut step = plain;
    let along = |taken: &Array1<f64>, step: &Array1<f64>| taken.dot(step) / taken.dot(taken);
    for pair in steps.windows(2) {
        let share = along(&pair[0], &step);
        step.scaled_add(share, &pair[1]);
    }
    if let Some(last) = steps.last() {
        step /= (1.0 - along(last, &step)).max(1.0 / MAX_CORRECTION);
    }
    step
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::error::Error;
    use ndarray::array;

    /// x + 0.3 sin(x + y) = 1, y + 0.2 x y = 2.
    fn bent(x: &Array1<f64>) -> Array1<f64> {
        array![x[0] + 0.3 * (x[0] + x[1]).sin() - 1.0, x[1] + 0.2 * x[0] * x[1] - 2.0]
    }

    #[test]
    fn a_root_is_found_in_few_looks() {
        let found = nearest_to_root(|x| Ok(bent(x)), array![1.0, 2.0], (1e-10, 9.0), 12).expect("no errors");
        assert!(found.off < 1e-10, "{found:?}");
        assert!(bent(&found.at).iter().all(|off| off.abs() < 1e-10));
        let fixed_point = (0..7).fold(array![1.0, 2.0], |x, _| &x - &bent(&x));
        let off = bent(&fixed_point);
        let seven = nearest_to_root(|x| Ok(bent(x)), array![1.0, 2.0], (0.0, 9.0), 8).expect("no errors");
        assert!(seven.off < 0.01 * off.dot(&off).sqrt(), "{} {off}", seven.off);
    }

    /// 1 - exp(-x) never comes to 1.5: the nearest place is far out, and is handed back with how far it is off.
    #[test]
    fn where_there_is_no_root_the_nearest_place_is_given() {
        let found = nearest_to_root(|x| Ok(x.mapv(|x| 1.0 - (-x).exp() - 1.5)), array![0.0], (1e-3, 1.0), 12)
            .expect("no errors");
        assert!((0.5..0.6).contains(&found.off), "{found:?}");
    }

    /// Off by a million at the start: what looks like a root far away is none.
    #[test]
    fn cliffs_do_not_throw_it_far() {
        let off = |x: &Array1<f64>| Ok(x.mapv(|x| x - 1.0 + 1e6 * (x - 3.0).max(0.0)));
        let found = nearest_to_root(off, array![4.0], (1e-6, 2.0), 12).expect("no errors");
        assert!(found.off < 1e-6 && (found.at[0] - 1.0).abs() < 1e-6, "{found:?}");
    }

    #[test]
    fn places_that_cannot_be_are_stepped_back_from() {
        let off = |x: &Array1<f64>| match x[0] {
            x if x > 3.0 => {
                Err(Error::Integration { trial: None, time_s: 0.0, reason: "far".into(), suspect: "x".into() })
            }
            x => Ok(array![x - 0.5]),
        };
        let found = nearest_to_root(off, array![20.0], (1e-9, 9.0), 12).expect("no errors");
        assert!(found.off < 1e-9 && (found.at[0] - 0.5).abs() < 1e-9, "{found:?}");
    }
}
