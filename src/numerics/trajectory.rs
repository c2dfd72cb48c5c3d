//! One draw of the no-U-turn sampler (Hoffman and Gelman, J. Mach. Learn. Res. 15, 1593, 2014), its points drawn by weight
//! (Betancourt, arXiv:1701.02434, 2017).

use chacha20::ChaCha8Rng;
use ndarray::{Array1, Zip};
use rand_distr::{Distribution, StandardUniform};

use super::random::unit_normals;
use crate::error::Result;

/// Doublings of a trajectory at most.
const MOST_DOUBLINGS: usize = 8;
/// A trajectory whose energy is off by this much has left the distribution: a divergence.
const DIVERGENT: f64 = 1000.0;

/// Where a chain stands.
#[derive(Clone, Debug)]
pub(super) struct Point {
    pub position: Array1<f64>,
    /// Logarithm of the density.
    pub value: f64,
    pub gradient: Array1<f64>,
}

/// What one trajectory did.
#[derive(Clone, Copy, Debug)]
pub(super) struct Trajectory {
    /// Mean chance of its points to be accepted on their own, which tells whether the step is short enough. Counted as
    /// `nuts-rs` does: also for the way back, so that points of more weight than the start count less than one.
    pub acceptance: f64,
    pub diverged: bool,
}

/// A point and its momentum; inverse masses are the variances, so velocity is variance times momentum.
#[derive(Clone)]
struct Phase {
    point: Point,
    momentum: Array1<f64>,
}

/// A stretch of a trajectory: its ends as they were walked, one of its points drawn by weight, the sum of weights.
struct Stretch {
    first: Phase,
    last: Phase,
    drawn: Point,
    log_weight: f64,
}

/// The next point of a chain. `density` gives what stands in a [`Point`]; its recoverable errors end the trajectory.
pub(super) fn next_point(
    density: impl Fn(Array1<f64>) -> Result<Point>,
    from: &Point,
    step: f64,
    variances: &Array1<f64>,
    generator: &mut ChaCha8Rng,
) -> Result<(Point, Trajectory)> {
    let momentum = Array1::from(unit_normals(generator, variances.len())) / variances.mapv(f64::sqrt);
    let start = Phase { point: from.clone(), momentum };
    let energy = energy(&start, variances);
    let mut walk = Walk { density, step, variances, generator, energy, leaps: 0, acceptance: 0.0, diverged: false };
    let mut whole = Stretch::of(start, 0.0);
    for doublings in 0..MOST_DOUBLINGS {
        if walk.uniform() < 0.5 {
            walk.step = -walk.step;
            std::mem::swap(&mut whole.first, &mut whole.last);
        }
        let Some(new) = walk.stretch(doublings, &whole.last)? else { break };
        // Favors the new half, as that is farther away; what is drawn stays exact.
        let chance = (new.log_weight - whole.log_weight).exp();
        let (turns, moves) = (whole.turns(&new, walk.step), walk.uniform() < chance);
        whole = whole.joined(new, moves);
        if turns {
            break;
        }
    }
    let acceptance = walk.acceptance / f64::from(walk.leaps.max(1));
    Ok((whole.drawn, Trajectory { acceptance, diverged: walk.diverged }))
}

fn energy(phase: &Phase, variances: &Array1<f64>) -> f64 {
    let kinetic = Zip::from(&phase.momentum).and(variances).fold(0.0, |sum, p, v| sum + v * p * p);
    0.5 * kinetic - phase.point.value
}

struct Walk<'a, F> {
    density: F,
    /// Negative where time runs backwards.
    step: f64,
    variances: &'a Array1<f64>,
    generator: &'a mut ChaCha8Rng,
    /// At the start.
    energy: f64,
    leaps: u32,
    /// Sum over the leaps.
    acceptance: f64,
    diverged: bool,
}

impl<F: Fn(Array1<f64>) -> Result<Point>> Walk<'_, F> {
    /// The 2^doublings points after this one; `None` if they diverge or turn.
    fn stretch(&mut self, doublings: usize, from: &Phase) -> Result<Option<Stretch>> {
        let Some(rest) = doublings.checked_sub(1) else { return self.leap(from) };
        let Some(near) = self.stretch(rest, from)? else { return Ok(None) };
        let Some(far) = self.stretch(rest, &near.last)? else { return Ok(None) };
        if near.turns(&far, self.step) {
            return Ok(None);
        }
        let chance = (far.log_weight - log_of_sum(near.log_weight, far.log_weight)).exp();
        let moves = self.uniform() < chance;
        Ok(Some(near.joined(far, moves)))
    }

    /// One leapfrog step.
    fn leap(&mut self, from: &Phase) -> Result<Option<Stretch>> {
        self.leaps += 1;
        let half = &from.momentum + &(0.5 * self.step * &from.point.gradient);
        let point = match (self.density)(&from.point.position + &(self.step * self.variances * &half)) {
            Ok(point) => point,
            Err(e) if e.is_recoverable() => {
                self.diverged = true;
                return Ok(None);
            }
            Err(e) => return Err(e),
        };
        let momentum = half + 0.5 * self.step * &point.gradient;
        let phase = Phase { point, momentum };
        let log_weight = self.energy - energy(&phase, self.variances);
        if !log_weight.is_finite() || log_weight < -DIVERGENT {
            self.diverged = true;
            return Ok(None);
        }
        self.acceptance += 2.0 * log_weight.min(0.0).exp() / (1.0 + log_weight.exp());
        Ok(Some(Stretch::of(phase, log_weight)))
    }

    fn uniform(&mut self) -> f64 {
        StandardUniform.sample(self.generator)
    }
}

impl Stretch {
    fn of(phase: Phase, log_weight: f64) -> Self {
        Stretch { drawn: phase.point.clone(), first: phase.clone(), last: phase, log_weight }
    }

    /// Whether the ends of both together, or of one with the same end of the other, come nearer to each other.
    fn turns(&self, next: &Self, step: f64) -> bool {
        let nearing = |from: &Phase, to: &Phase| {
            let way = step * (&to.point.position - &from.point.position);
            way.dot(&from.momentum) < 0.0 || way.dot(&to.momentum) < 0.0
        };
        nearing(&self.first, &next.last) || nearing(&self.first, &next.first) || nearing(&self.last, &next.last)
    }

    /// Both, one after the other; what is drawn is the next one's if the draw moves there.
    fn joined(self, next: Self, moves: bool) -> Self {
        Stretch {
            first: self.first,
            last: next.last,
            drawn: if moves { next.drawn } else { self.drawn },
            log_weight: log_of_sum(self.log_weight, next.log_weight),
        }
    }
}

fn log_of_sum(a: f64, b: f64) -> f64 {
    a.max(b) + (-(a - b).abs()).exp().ln_1p()
}
