//! An explicit step of order 5 with an error estimate and a continuous extension of order 4, for what is not stiff.
//!
//! Source: J. R. Dormand, P. J. Prince, "A family of embedded Runge-Kutta formulae", J. Comput. Appl. Math. 6, 19
//! (1980); continuous extension: L. F. Shampine, "Some practical Runge-Kutta formulas", Math. Comput. 46, 135 (1986),
//! in the form of E. Hairer, S. P. Norsett, G. Wanner, "Solving Ordinary Differential Equations I", 2nd ed., II.6. The
//! convergence test in `integrate.rs` holds it to its order.

use super::Scalar;
use super::integrate::{Attempt, Method, System};
use super::segment::Segment;

const A: [[f64; 6]; 6] = [
    [1.0 / 5.0, 0.0, 0.0, 0.0, 0.0, 0.0],
    [3.0 / 40.0, 9.0 / 40.0, 0.0, 0.0, 0.0, 0.0],
    [44.0 / 45.0, -56.0 / 15.0, 32.0 / 9.0, 0.0, 0.0, 0.0],
    [19372.0 / 6561.0, -25360.0 / 2187.0, 64448.0 / 6561.0, -212.0 / 729.0, 0.0, 0.0],
    [9017.0 / 3168.0, -355.0 / 33.0, 46732.0 / 5247.0, 49.0 / 176.0, -5103.0 / 18656.0, 0.0],
    [35.0 / 384.0, 0.0, 500.0 / 1113.0, 125.0 / 192.0, -2187.0 / 6784.0, 11.0 / 84.0],
];
const ERROR: [f64; 7] =
    [71.0 / 57600.0, 0.0, -71.0 / 16695.0, 71.0 / 1920.0, -17253.0 / 339200.0, 22.0 / 525.0, -1.0 / 40.0];
const DENSE: [f64; 7] = [
    -12715105075.0 / 11282082432.0,
    0.0,
    87487479700.0 / 32700410799.0,
    -10690763975.0 / 1880347072.0,
    701980252875.0 / 199316789632.0,
    -1453857185.0 / 822651844.0,
    69997945.0 / 29380423.0,
];

/// The explicit method.
pub struct DormandPrince;

impl<S: Scalar, Sys: System<S, D>, const D: usize> Method<S, Sys, D> for DormandPrince {
    const STIFF: bool = false;

    type Tangent = ();

    fn tangent(_: &Sys, _: &[S; D]) {}

    fn attempt(system: &Sys, _: &(), start: S, from: &[S; D], rate: &[S; D], length: f64) -> Option<Attempt<S, D>> {
        // Component by component: a rate that was just written is read again one number at a time, as it was written.
        let mut k = [[S::zero(); 7]; D];
        (0..D).for_each(|i| k[i][0] = rate[i]);
        let mut point = *from;
        for stage in 1..7 {
            let weights = A[stage - 1].map(|weight| weight * length);
            for i in 0..D {
                let mut sum = from[i];
                weights.iter().zip(&k[i][..stage]).for_each(|(weight, kj)| sum.add_scaled(kj, *weight));
                point[i] = sum;
            }
            let rate = system.rate(&point);
            (0..D).for_each(|i| k[i][stage] = rate[i]);
        }
        if !point.iter().all(S::is_finite) {
            return None;
        }
        let weighted = |weights: &[f64; 7], k: &[S; 7]| {
            let mut sum = S::zero();
            weights.iter().zip(k).for_each(|(weight, kj)| sum.add_scaled(kj, weight * length));
            sum
        };
        let error = std::array::from_fn(|i| weighted(&ERROR, &k[i]));
        let mut powers = [[S::zero(); D]; 4];
        for i in 0..D {
            let bend = weighted(&DENSE, &k[i]);
            let change = point[i] - from[i];
            let first = k[i][0] * length;
            let second = first - change;
            let third = change - k[i][6] * length - second;
            powers[0][i] = first;
            powers[1][i] = third - second + bend;
            powers[2][i] = -third - bend * 2.0;
            powers[3][i] = bend;
        }
        let segment = Segment { start, length, from: *from, to: point, powers };
        Some(Attempt { segment, error, missed: None, end_rate: k.map(|k| k[6]) })
    }

    fn come_of(_: &(), missed: &[S; D], length: f64) -> [S; D] {
        missed.map(|missed| missed * length)
    }
}
