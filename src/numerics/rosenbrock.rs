//! A stiff step (Rodas5P) for what an explicit method cannot follow: it restarts without loss after every event.

use super::Scalar;
use super::integrate::{Attempt, Method, System, add_scaled};
use super::segment::Segment;
use super::tableau::{A, C, DENSE, GAMMA};

/// A system that knows its Jacobian.
pub trait Stiff<S: Scalar, const D: usize>: System<S, D> {
    /// df/dy, row by row.
    fn jacobian(&self, y: &[S; D]) -> [[S; D]; D];
}

/// The implicit method.
pub struct Rodas5P;

impl<S: Scalar, Sys: Stiff<S, D>, const D: usize> Method<S, Sys, D> for Rodas5P {
    const STIFF: bool = true;

    type Tangent = [[S; D]; D];

    fn tangent(system: &Sys, y: &[S; D]) -> Self::Tangent {
        system.jacobian(y)
    }

    fn attempt(
        system: &Sys,
        jacobian: &Self::Tangent,
        start: S,
        from: &[S; D],
        rate: &[S; D],
        length: f64,
    ) -> Option<Attempt<S, D>> {
        let lu = Lu::factor(jacobian, 1.0 / (length * GAMMA))?;
        let per = 1.0 / length;
        // Component by component, as in `dormand_prince`: what was just written is read again one number at a time.
        let mut k = [[S::zero(); 8]; D];
        let mut right = *rate;
        let mut point = *from;
        for stage in 0..8 {
            if stage > 0 {
                let weights = C[stage - 1].map(|weight| weight * per);
                (0..D).for_each(|i| add_all(&mut right[i], &k[i][..stage], &weights));
            }
            lu.solve(&mut right);
            (0..D).for_each(|i| k[i][stage] = right[i]);
            if stage == 7 {
                break;
            }
            for i in 0..D {
                if stage < 5 {
                    point[i] = from[i];
                    add_all(&mut point[i], &k[i][..=stage], &A[stage]);
                } else {
                    point[i] += k[i][stage];
                }
            }
            right = system.rate(&point);
        }
        (0..D).for_each(|i| point[i] += k[i][7]);
        if !point.iter().all(S::is_finite) {
            return None;
        }
        let segment = Segment { start, length, from: *from, to: point, powers: powers(from, &point, &k) };
        let end_rate = system.rate(&point);
        let missed = missed(&segment, &end_rate);
        Some(Attempt { segment, error: k.map(|k| k[7]), missed: Some(missed), end_rate })
    }

    fn come_of(jacobian: &Self::Tangent, missed: &[S; D], length: f64) -> [S; D] {
        let shift = 1.0 / (length * GAMMA);
        std::array::from_fn(|i| missed[i] / (S::constant(shift) + (-jacobian[i][i]).max(S::zero())))
    }
}

/// What the rate at the end differs by from the slope of the continuous extension.
fn missed<S: Scalar, const D: usize>(segment: &Segment<S, D>, end_rate: &[S; D]) -> [S; D] {
    let mut missed = *end_rate;
    for (power, terms) in segment.powers.iter().enumerate() {
        add_scaled(&mut missed, terms, -(power as f64 + 1.0) / segment.length);
    }
    missed
}

/// Adds as many increments with their weights.
#[inline(always)]
fn add_all<S: Scalar>(to: &mut S, k: &[S], weights: &[f64]) {
    weights.iter().zip(k).for_each(|(weight, kj)| to.add_scaled(kj, *weight));
}

/// The continuous extension, written as a quartic.
fn powers<S: Scalar, const D: usize>(from: &[S; D], to: &[S; D], k: &[[S; 8]; D]) -> [[S; D]; 4] {
    let mut powers = [[S::zero(); D]; 4];
    for i in 0..D {
        let [d0, d1, d2] = DENSE.map(|row| {
            let mut d = S::zero();
            add_all(&mut d, &k[i], &row);
            d
        });
        powers[0][i] = to[i] - from[i] + d0;
        powers[1][i] = d1 - d0;
        powers[2][i] = d2 - d1;
        powers[3][i] = -d2;
    }
    powers
}

/// LU factors of (shift I - J), rows pivoted by value; on the diagonal the reciprocals, as divisions are slow.
struct Lu<S, const D: usize> {
    rows: [[S; D]; D],
    order: [usize; D],
}

impl<S: Scalar, const D: usize> Lu<S, D> {
    fn factor(jacobian: &[[S; D]; D], shift: f64) -> Option<Self> {
        let mut rows = jacobian.map(|row| row.map(|x| -x));
        for (i, row) in rows.iter_mut().enumerate() {
            row[i] = row[i] + shift; // S has no `+= f64`
        }
        let mut order: [usize; D] = std::array::from_fn(|i| i);
        for col in 0..D {
            let pivot = (col..D).max_by(|&a, &b| {
                rows[a][col].value().abs().partial_cmp(&rows[b][col].value().abs()).unwrap_or(std::cmp::Ordering::Equal)
            })?;
            rows.swap(col, pivot);
            order.swap(col, pivot);
            if rows[col][col].value() == 0.0 || !rows[col][col].value().is_finite() {
                return None;
            }
            rows[col][col] = S::one() / rows[col][col];
            let head = rows[col];
            for row in rows.iter_mut().skip(col + 1) {
                // Much of a Jacobian is zero, by structure; skipping a zero that carries derivatives would lose them.
                if is_nothing(&row[col]) {
                    continue;
                }
                let factor = row[col] * head[col];
                row[col] = factor;
                for j in col + 1..D {
                    row[j] -= factor * head[j];
                }
            }
        }
        Some(Lu { rows, order })
    }

    /// Solves for this right side, in place.
    #[inline]
    fn solve(&self, right: &mut [S; D]) {
        let mut x = [S::zero(); D];
        for i in 0..D {
            let mut sum = right[self.order[i]];
            self.rows[i][..i].iter().zip(&x).for_each(|(factor, x)| sum -= *factor * *x);
            x[i] = sum;
        }
        for i in (0..D).rev() {
            let mut sum = x[i];
            self.rows[i][i + 1..].iter().zip(&x[i + 1..]).for_each(|(factor, x)| sum -= *factor * *x);
            x[i] = sum * self.rows[i][i];
        }
        (0..D).for_each(|i| right[i] = x[i]);
    }
}

fn is_nothing<S: Scalar>(x: &S) -> bool {
    x.value() == 0.0 && x.derivatives().iter().all(|d| *d == 0.0)
}
