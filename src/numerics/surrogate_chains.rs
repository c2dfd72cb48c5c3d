//! Draws from a distribution whose density is dear, with a cheap surrogate: Hamiltonian trajectories along the
//! approximation's slopes propose, the density itself accepts or refuses. What is drawn is exact whatever the
//! approximation is; a bad one costs refusals (Rasmussen, Bayesian Statistics 7, 651, 2003; Zhang, Shahbaba and Zhao,
//! Bayesian Anal. 12, 353, 2017). What is exact may still come slowly: where the approximation is far off every
//! proposal is refused and a chain stands still, so parts of the distribution that can be evaluated alone, and lines
//! through it, are drawn without the surrogate.

use std::cell::RefCell;
use std::sync::atomic::Ordering;

use chacha20::ChaCha8Rng;
use ndarray::{Array1, Array2, Array3, ArrayView1, ArrayView2, Axis, s};
use rand_distr::{Distribution, StandardUniform};
use rayon::prelude::*;

use super::random::{stream, unit_normals};
use super::sampling::{Sampling, Whitening, check};
use super::slice::slice_step;
use super::triangular::{cholesky, solve_lower, transposed_dot};
use crate::error::{Error, Result};

/// Longest trajectory, in units of the whitened space; each number of steps up to it is as likely. Short ones move on
/// where long ones are refused.
const MAX_TRAJECTORY: f64 = 3.0;
const MOST_STEPS: f64 = 48.0;
/// First step, in units of the whitened space.
const FIRST_STEP: f64 = 0.3;
const MIN_STEP: f64 = 0.02;
const MAX_STEP: f64 = 0.5;
/// Mean acceptance, by the approximation's own energy, that steps are tuned for.
const STEP_ACCEPTANCE: f64 = 0.9;
/// Draws of a chain that warms up, for each that is as good as independent.
const DRAWS_PER_INDEPENDENT: f64 = 3.0;
/// Accepted proposals per kept draw that are aimed at, and proposals per draw at least and at most.
const MOVES_PER_DRAW: f64 = 2.5;
const LEAST_PROPOSALS: f64 = 2.0;
const MOST_PROPOSALS: f64 = 20.0;
/// Slices for each time that parts are drawn on their own: a slice costs several evaluations.
const SLICES_PER_PART: f64 = 0.125;
/// About the width of a distribution along a line of the whitened space.
const SLICE_WIDTH: f64 = 2.5;
/// Starts of a chain that are tried, each nearer to the center.
const MOST_STARTS: i32 = 12;

/// A distribution with a surrogate.
pub trait WithSurrogate: Sync {
    /// What an evaluation leaves for whoever improves the surrogate, and for [`WithSurrogate::interweave`].
    type Seen: Clone + Send;

    /// Logarithm of the density, up to a constant.
    ///
    /// # Errors
    /// Those with [`Error::is_recoverable`] refuse a proposal; any other ends the sampling.
    fn density(&self, position: ArrayView1<f64>) -> Result<(f64, Self::Seen)>;

    /// About the same logarithm, and its gradient.
    fn surrogate(&self, position: ArrayView1<f64>) -> (f64, Array1<f64>);

    /// Steps of the distribution's own that leave it as it is and cost no evaluation, if there are any: changes the
    /// position and what was seen there, and returns the logarithm of the density. Made after every proposal.
    fn interweave(
        &self,
        _position: &mut Array1<f64>,
        _seen: &mut Self::Seen,
        _generator: &mut ChaCha8Rng,
    ) -> Option<f64> {
        None
    }

    /// The same with steps that cost about an evaluation: of parts of the distribution, where each can be evaluated
    /// alone. Made after some proposals.
    ///
    /// # Errors
    /// Any error ends the sampling.
    fn interweave_parts(
        &self,
        _position: &mut Array1<f64>,
        _seen: &mut Self::Seen,
        _generator: &mut ChaCha8Rng,
    ) -> Result<Option<f64>> {
        Ok(None)
    }
}

/// One chain: where it stands.
#[derive(Debug)]
pub struct Walker<S> {
    x: Array1<f64>,
    value: f64,
    seen: S,
    step: f64,
    generator: ChaCha8Rng,
}

/// What one walker did.
#[derive(Clone, Debug)]
pub struct Walk<T> {
    /// Positions kept; shape (draws, n).
    pub draws: Array2<f64>,
    /// Proposals, those accepted, and those where the density could not be evaluated.
    pub proposed: usize,
    /// Of those, accepted.
    pub accepted: usize,
    /// Of those, where the density could not be evaluated.
    pub broken: usize,
    /// Draws in succession for which no proposal was accepted, at most.
    pub longest_stand: usize,
    /// What the evaluations left.
    pub seen: Vec<T>,
}

/// How far to walk.
#[derive(Clone, Copy, Debug)]
pub struct Leg {
    /// Draws to keep of each walker.
    pub draws: usize,
    /// Proposals for each draw, on average.
    pub proposals: f64,
    /// Chance that a proposal is followed by [`WithSurrogate::interweave_parts`].
    pub parts: f64,
    /// Whether to tune steps on the way: draws are not to be used then.
    pub tune: bool,
    /// Whether to keep what evaluations leave.
    pub watch: bool,
}

/// Sends out one walker per chain, each from a random place near the center. The whitening's factor must be lower
/// triangular, here and wherever they walk.
///
/// # Errors
/// [`Error::Argument`] for no chains or fewer than 4 draws; [`Error::Fit`] where a chain finds no start; those of the
/// density.
pub fn walkers<G: WithSurrogate>(
    target: &G,
    whitening: &Whitening,
    sampling: &Sampling,
) -> Result<Vec<Walker<G::Seen>>> {
    check(sampling)?;
    (0..sampling.chains).map(|chain| start(target, whitening, stream(sampling.seed, chain as u64))).collect()
}

/// The first of ever shorter steps from the center where the density can be evaluated.
fn start<G: WithSurrogate>(target: &G, whitening: &Whitening, mut generator: ChaCha8Rng) -> Result<Walker<G::Seen>> {
    let direction = Array1::from(unit_normals(&mut generator, whitening.center.len()));
    let mut last = None;
    for k in 0..MOST_STARTS {
        let x = &direction * 0.7_f64.powi(k);
        match target.density(whitening.position(x.view()).view()) {
            Ok((value, seen)) if value.is_finite() => {
                return Ok(Walker { x, value, seen, step: FIRST_STEP, generator });
            }
            Ok(_) => {}
            Err(e) if e.is_recoverable() => last = Some(e),
            Err(e) => return Err(e),
        }
    }
    let reason = last.map_or_else(|| "its density is not finite there".to_owned(), |e| e.to_string());
    Err(Error::Fit {
        reason: format!("no chain can start near the best estimates: {reason}"),
        advice: "look at the fit first: its answer stands at the edge of what can be simulated".into(),
    })
}

/// Lets all walkers walk, side by side; the same bits on any number of threads.
///
/// # Errors
/// [`Error::Canceled`] on request; those of the density.
pub fn walk<G: WithSurrogate>(
    target: &G,
    whitening: &Whitening,
    walkers: &mut [Walker<G::Seen>],
    leg: Leg,
    sampling: &Sampling,
) -> Result<Vec<Walk<G::Seen>>> {
    let run = |walker: &mut Walker<G::Seen>| walker.walk(target, whitening, leg, sampling);
    let walks: Vec<Result<_>> = walkers.par_iter_mut().map(run).collect();
    walks.into_iter().collect()
}

/// A whitening by where walks went (positions, one per row): their covariance, as far as there are draws enough for it,
/// and else that of `before`.
pub fn whitened_by(before: &Whitening, positions: ArrayView2<f64>) -> Whitening {
    let (count, n) = positions.dim();
    let independent = count as f64 / DRAWS_PER_INDEPENDENT;
    let share = n as f64 / (n as f64 + independent);
    let mean = positions.sum_axis(Axis(0)) / count.max(1) as f64;
    let rows = &positions - &mean;
    let spread = rows.t().dot(&rows) / count.max(1) as f64;
    let covariance = before.factor.dot(&before.factor.t()) * share + spread * (1.0 - share);
    let center = &before.center * share + &mean * (1.0 - share);
    Whitening { center, factor: cholesky(covariance.view()) }
}

/// Lets walkers count in another whitening; they stay where they are.
pub fn move_into<S>(walkers: &mut [Walker<S>], from: &Whitening, to: &Whitening) {
    for walker in walkers {
        let off = from.position(walker.x.view()) - &to.center;
        walker.x = solve_lower(to.factor.view(), off.view());
    }
}

/// A leg whose neighboring draws are about independent, going by what these walks accepted: the more proposals are
/// refused, the more are made, and the more often parts are drawn on their own.
pub fn leg_after<T>(walks: &[Walk<T>], draws: usize) -> Leg {
    let (accepted, proposed) = tally(walks);
    let rate = accepted as f64 / proposed.max(1) as f64;
    let proposals = (MOVES_PER_DRAW / rate.max(1e-9)).clamp(LEAST_PROPOSALS, MOST_PROPOSALS);
    Leg { draws, proposals, parts: (1.0 - rate).powi(2), tune: false, watch: false }
}

/// Proposals accepted, and made.
pub fn tally<T>(walks: &[Walk<T>]) -> (usize, usize) {
    (walks.iter().map(|w| w.accepted).sum(), walks.iter().map(|w| w.proposed).sum())
}

/// Draws of all walks; shape (chains, draws, n).
pub fn together<T>(walks: &[Walk<T>]) -> Array3<f64> {
    let (draws, n) = walks.first().map_or((0, 0), |w| w.draws.dim());
    let mut all = Array3::zeros((walks.len(), draws, n));
    walks.iter().enumerate().for_each(|(c, walk)| all.slice_mut(s![c, .., ..]).assign(&walk.draws));
    all
}

impl<S: Clone + Send> Walker<S> {
    fn walk<G: WithSurrogate<Seen = S>>(
        &mut self,
        target: &G,
        whitening: &Whitening,
        leg: Leg,
        sampling: &Sampling,
    ) -> Result<Walk<G::Seen>> {
        let draws = Array2::zeros((leg.draws, self.x.len()));
        let mut walk = Walk { draws, proposed: 0, accepted: 0, broken: 0, longest_stand: 0, seen: Vec::new() };
        let mut stood = 0;
        for i in 0..leg.draws {
            let before = walk.accepted;
            while (walk.proposed as f64) < leg.proposals * (i + 1) as f64 {
                sampling.go_on()?;
                self.propose(target, whitening, leg, &mut walk)?;
                self.interweave(target, whitening, false)?;
                if self.uniform() < leg.parts {
                    self.interweave(target, whitening, true)?;
                    if self.uniform() < SLICES_PER_PART {
                        self.slice(target, whitening)?;
                    }
                }
            }
            stood = if walk.accepted > before { 0 } else { stood + 1 };
            walk.longest_stand = walk.longest_stand.max(stood);
            walk.draws.row_mut(i).assign(&whitening.position(self.x.view()));
            if let Some(done) = &sampling.progress {
                done.fetch_add(1, Ordering::Relaxed);
            }
        }
        Ok(walk)
    }

    fn propose<G: WithSurrogate<Seen = S>>(
        &mut self,
        target: &G,
        whitening: &Whitening,
        leg: Leg,
        walk: &mut Walk<G::Seen>,
    ) -> Result<()> {
        let momentum = Array1::from(unit_normals(&mut self.generator, self.x.len()));
        let most = (MAX_TRAJECTORY / self.step).min(MOST_STEPS);
        let steps = 1 + (most * self.uniform()) as usize;
        let chance = self.uniform();
        walk.proposed += 1;
        let (x, after, drift) = self.trajectory(target, whitening, &momentum, steps);
        if leg.tune {
            let accepted = drift.exp().min(1.0);
            let accepted = if accepted.is_finite() { accepted } else { 0.0 };
            self.step = (self.step * (0.05 * (accepted - STEP_ACCEPTANCE)).exp()).clamp(MIN_STEP, MAX_STEP);
        }
        if !drift.is_finite() {
            return Ok(());
        }
        match target.density(whitening.position(x.view()).view()) {
            Ok((value, seen)) => {
                if leg.watch {
                    walk.seen.push(seen.clone());
                }
                let gain = value - self.value + 0.5 * (momentum.dot(&momentum) - after.dot(&after));
                if chance.ln() < gain {
                    (self.x, self.value, self.seen) = (x, value, seen);
                    walk.accepted += 1;
                }
            }
            Err(e) if e.is_recoverable() => walk.broken += 1,
            Err(e) => return Err(e),
        }
        Ok(())
    }

    fn interweave(&mut self, target: &impl WithSurrogate<Seen = S>, whitening: &Whitening, parts: bool) -> Result<()> {
        let mut position = whitening.position(self.x.view());
        let (seen, generator) = (&mut self.seen, &mut self.generator);
        let interwoven = if parts {
            target.interweave_parts(&mut position, seen, generator)?
        } else {
            target.interweave(&mut position, seen, generator)
        };
        if let Some(value) = interwoven {
            self.x = solve_lower(whitening.factor.view(), (position - &whitening.center).view());
            self.value = value;
        }
        Ok(())
    }

    /// A step along a random line by the density alone, which no surrogate can refuse (Neal, Ann. Stat. 31, 705, 2003;
    /// hit and run).
    fn slice(&mut self, target: &impl WithSurrogate<Seen = S>, whitening: &Whitening) -> Result<()> {
        let line = Array1::from(unit_normals(&mut self.generator, self.x.len()));
        let line = &line / line.dot(&line).sqrt();
        let at = |t: f64| &self.x + &(&line * t);
        let (last, broken) = (RefCell::new(None), RefCell::new(None));
        let density = |t: f64| {
            if t == 0.0 {
                return self.value;
            }
            match target.density(whitening.position(at(t).view()).view()) {
                Ok((value, seen)) => {
                    last.replace(Some((value, seen)));
                    value
                }
                Err(e) if e.is_recoverable() => f64::NEG_INFINITY,
                Err(e) => {
                    broken.replace(Some(e));
                    f64::NEG_INFINITY
                }
            }
        };
        let t = slice_step(density, 0.0, SLICE_WIDTH, &mut self.generator);
        if let Some(e) = broken.into_inner() {
            return Err(e);
        }
        if let (true, Some((value, seen))) = (t != 0.0, last.into_inner()) {
            (self.x, self.value, self.seen) = (at(t), value, seen);
        }
        Ok(())
    }

    /// Where a leapfrog trajectory along the surrogate's slopes ends, with what momentum, and how the surrogate's
    /// energy drifted.
    fn trajectory(
        &self,
        target: &impl WithSurrogate<Seen = S>,
        whitening: &Whitening,
        momentum: &Array1<f64>,
        steps: usize,
    ) -> (Array1<f64>, Array1<f64>, f64) {
        let slope = |x: &Array1<f64>| {
            let (value, gradient) = target.surrogate(whitening.position(x.view()).view());
            (value, transposed_dot(whitening.factor.view(), gradient.view()))
        };
        let (mut x, mut p) = (self.x.clone(), momentum.clone());
        let (first, mut gradient) = slope(&x);
        let mut last = first;
        for _ in 0..steps {
            p.scaled_add(0.5 * self.step, &gradient);
            x.scaled_add(self.step, &p);
            (last, gradient) = slope(&x);
            p.scaled_add(0.5 * self.step, &gradient);
        }
        let drift = last - first + 0.5 * (momentum.dot(momentum) - p.dot(&p));
        (x, p, drift)
    }

    fn uniform(&mut self) -> f64 {
        StandardUniform.sample(&mut self.generator)
    }
}
