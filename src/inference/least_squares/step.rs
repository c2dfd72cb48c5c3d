//! One damped step: the smallest model value within the trust radius, bent along the bounds it meets.

use ndarray::{Array1, Array2, ArrayView1, Axis};

use super::model::SAFE_RANK_MARGIN;
use super::problem::Bounds;
use crate::numerics::orthogonal::{Svd, Triangle, closest, norm};

/// A step proposed by the linear model.
#[derive(Clone, Debug)]
pub(super) struct Step {
    /// Change of each parameter.
    pub change: Array1<f64>,
    /// Where it leads: exactly onto the bounds that it meets, which `p + change` may miss by rounding.
    pub to: Array1<f64>,
    /// Damping that kept the step within the radius; 0 for a full Gauss-Newton step.
    pub damping: f64,
    /// Length of the step in scaled parameters.
    pub length: f64,
    /// Reduction of the sum of squares that the model promises.
    pub predicted: f64,
}

/// What the step starts from.
pub(super) struct StepStart<'a> {
    pub triangle: &'a Triangle,
    pub p: &'a Array1<f64>,
    pub bounds: &'a Bounds,
    /// Length that counts as 1 in each parameter is `1 / scale`.
    pub scale: &'a Array1<f64>,
    /// Parameters that may move at first.
    pub free: &'a [bool],
    pub radius: f64,
    pub rank_tolerance: f64,
}

/// Minimizes the damped model over the box: an active-set descent in which a parameter that meets its bound stays
/// there.
pub(super) fn bounded_step(start: &StepStart) -> Step {
    let n = start.p.len();
    let mut free: Vec<usize> = (0..n).filter(|&j| start.free[j]).collect();
    let mut change = Array1::zeros(n);
    let mut met: Vec<(usize, f64)> = Vec::new();
    let mut damping = None;
    while !free.is_empty() {
        let subset = scaled_columns(start, &free);
        let held = held_part(start, &free, &change);
        let target = match undamped(&subset, &held, start).filter(|_| damping.is_none_or(|lambda| lambda == 0.0)) {
            Some(full) => {
                damping = Some(0.0);
                full
            }
            None => {
                let svd = Svd::of(subset.view());
                let turned = svd.u.dot(&held);
                let lambda = *damping.get_or_insert_with(|| damping_for(&svd, &turned, start));
                damped_solution(&svd, &turned, lambda, start.rank_tolerance)
            }
        };
        match first_bound_met(start, &free, &change, &target) {
            None => {
                free.iter().zip(&target).for_each(|(&j, z)| change[j] = z / start.scale[j]);
                break;
            }
            Some((share, at)) => {
                for (&j, z) in free.iter().zip(&target) {
                    change[j] += share * (z / start.scale[j] - change[j]);
                }
                let j = free.remove(at);
                let bound = if target[at] < 0.0 { start.bounds.lower[j] } else { start.bounds.upper[j] };
                change[j] = bound - start.p[j];
                met.push((j, bound));
            }
        }
    }
    let mut to = start.bounds.clamp(&(start.p + &change));
    met.iter().for_each(|&(j, bound)| to[j] = bound);
    finish(start, change, to, damping.unwrap_or(0.0))
}

fn finish(start: &StepStart, change: Array1<f64>, to: Array1<f64>, damping: f64) -> Step {
    let moved = start.triangle.r.dot(&change);
    let predicted = -moved.dot(&(&moved + &(2.0 * &start.triangle.q)));
    let length = norm((&change * start.scale).view());
    Step { change, to, damping, length, predicted }
}

fn scaled_columns(start: &StepStart, free: &[usize]) -> Array2<f64> {
    let mut columns = start.triangle.r.select(Axis(1), free);
    for (mut column, &j) in columns.columns_mut().into_iter().zip(free) {
        column /= start.scale[j];
    }
    columns
}

/// Turned residuals after the parameters that no longer move have taken their part of the step.
fn held_part(start: &StepStart, free: &[usize], change: &Array1<f64>) -> Array1<f64> {
    let mut held = change.clone();
    free.iter().for_each(|&j| held[j] = 0.0);
    &start.triangle.q + &start.triangle.r.dot(&held)
}

/// How far parameter `j` can go down and up.
fn room(start: &StepStart, j: usize) -> (f64, f64) {
    (start.bounds.lower[j] - start.p[j], start.bounds.upper[j] - start.p[j])
}

/// The share of the way from `change` to `target` at which the first bound is met, and the place in `free` of its
/// parameter.
fn first_bound_met(
    start: &StepStart,
    free: &[usize],
    change: &Array1<f64>,
    target: &Array1<f64>,
) -> Option<(f64, usize)> {
    let mut first: Option<(f64, usize)> = None;
    for (at, (&j, z)) in free.iter().zip(target).enumerate() {
        let (low, high) = room(start, j);
        let (from, to) = (change[j], z / start.scale[j]);
        let share = match to {
            t if t < low => (low - from) / (t - from),
            t if t > high => (high - from) / (t - from),
            _ => continue,
        };
        if first.is_none_or(|(least, _)| share < least) {
            first = Some((share, at));
        }
    }
    first
}

/// The full step, where it stays within the radius and no direction is near to being lost: that takes no singular
/// values.
fn undamped(subset: &Array2<f64>, held: &Array1<f64>, start: &StepStart) -> Option<Array1<f64>> {
    let full = closest(subset.view(), (-held).view(), SAFE_RANK_MARGIN * start.rank_tolerance)?;
    (norm(full.view()) <= 1.1 * start.radius).then_some(full)
}

fn damped_solution(svd: &Svd, turned: &Array1<f64>, lambda: f64, rank_tolerance: f64) -> Array1<f64> {
    let kept = svd.kept(rank_tolerance);
    let weights = Array1::from_shape_fn(turned.len(), |i| match svd.values[i] {
        value if lambda > 0.0 => -value * turned[i] / (value * value + lambda),
        value if kept[i] => -turned[i] / value,
        _ => 0.0,
    });
    svd.v.t().dot(&weights)
}

/// The damping for which the step is as long as the radius (within 10 %), 0 where the full step is shorter.
///
/// Newton's iteration on 1/length, kept inside a bracket: Moré, Lecture Notes in Mathematics 630, 105 (1978).
fn damping_for(svd: &Svd, turned: &Array1<f64>, start: &StepStart) -> f64 {
    let radius = start.radius;
    if norm(damped_solution(svd, turned, 0.0, start.rank_tolerance).view()) <= 1.1 * radius {
        return 0.0;
    }
    let slope = norm((&svd.values * turned).view());
    let (mut low, mut high) = (0.0_f64, slope / radius);
    let mut lambda = 1e-3 * high;
    for _ in 0..60 {
        let length = damped_length(&svd.values, turned.view(), lambda);
        if (length - radius).abs() <= 0.1 * radius {
            break;
        }
        if length > radius {
            low = low.max(lambda);
        } else {
            high = high.min(lambda);
        }
        let next = lambda + (length / radius - 1.0) * length * length / falling(&svd.values, turned.view(), lambda);
        lambda = if next > low && next < high { next } else { (low.max(1e-10 * high) * high).sqrt() };
    }
    lambda
}

fn damped_length(values: &Array1<f64>, turned: ArrayView1<f64>, lambda: f64) -> f64 {
    let parts = Array1::from_shape_fn(values.len(), |i| values[i] * turned[i] / (values[i] * values[i] + lambda));
    norm(parts.view())
}

/// How fast half the squared length falls with the damping.
fn falling(values: &Array1<f64>, turned: ArrayView1<f64>, lambda: f64) -> f64 {
    values.iter().zip(turned).map(|(s, c)| (s * c).powi(2) / (s * s + lambda).powi(3)).sum()
}
