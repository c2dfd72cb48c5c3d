//! Draws from a distribution that is given by the logarithm of its density and its gradient: the no-U-turn sampler
//! (Hoffman and Gelman, J. Mach. Learn. Res. 15, 1593, 2014) in several chains.

use std::cell::Cell;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};

use ndarray::{Array1, Array2, Array3, ArrayView1, s};
use rayon::prelude::*;

use super::random::{stream, unit_normals};
use super::threads::on_threads;
use super::trajectory::{Point, next_point};
use super::warmup::Warmup;
use crate::error::{Error, Result};

/// Starts of a chain that are tried, each nearer to the center.
const STARTS: i32 = 12;
/// The first step tried, in coordinates where the distribution is about one wide.
const FIRST_STEP: f64 = 0.5;

/// A distribution of several numbers.
pub trait LogDensity: Sync {
    /// Logarithm of the density, up to a constant, and its gradient.
    ///
    /// # Errors
    /// Those with [`Error::is_recoverable`] end a trajectory and count as a divergence; any other ends the sampling.
    fn evaluate(&self, position: ArrayView1<f64>) -> Result<(f64, Array1<f64>)>;
}

/// About where and how wide a distribution is: position = center + factor x, with x about unit normal. The nearer that is to
/// the truth, the less work a draw is; what is drawn does not depend on it.
#[derive(Clone, Debug)]
pub struct Whitening {
    /// The middle; shape (n,).
    pub center: Array1<f64>,
    /// A square root of the covariance; shape (n, n).
    pub factor: Array2<f64>,
}

/// How to sample.
#[derive(Clone, Debug)]
pub struct Sampling {
    /// Chains, each from its own start.
    pub chains: usize,
    /// Draws of each chain on which the step size is found; not kept.
    pub warmup: usize,
    /// Draws of each chain that are kept.
    pub draws: usize,
    /// The same seed gives the same draws, on however many threads.
    pub seed: u64,
    /// Threads to run chains on; `None`: as many as there are cores.
    pub threads: Option<usize>,
    /// Set to true from another thread to stop.
    pub cancel: Option<Arc<AtomicBool>>,
    /// Counts the draws made by all chains, warmup included.
    pub progress: Option<Arc<AtomicUsize>>,
}

impl Default for Sampling {
    fn default() -> Self {
        let (cancel, progress) = (None, None);
        Sampling { chains: 4, warmup: 300, draws: 1000, seed: 1, threads: None, cancel, progress }
    }
}

/// What was drawn.
#[derive(Clone, Debug)]
pub struct Chains {
    /// Positions; shape (chains, draws, n).
    pub draws: Array3<f64>,
    /// Trajectories that broke off, after warmup.
    pub divergences: usize,
    /// Evaluations of the density, warmup included.
    pub evaluations: usize,
}

/// Samples; the same input gives the same bits on any number of threads.
///
/// # Errors
/// [`Error::Argument`] for no chains, fewer than 4 draws, or threads that the system does not give; [`Error::Fit`] where no chain can start or the sampling was
/// stopped; those of the density.
pub fn sample(density: &impl LogDensity, whitening: &Whitening, sampling: &Sampling) -> Result<Chains> {
    check(sampling)?;
    let run = || -> Vec<Result<OneChain>> {
        (0..sampling.chains).into_par_iter().map(|chain| one_chain(density, whitening, sampling, chain)).collect()
    };
    let chains: Vec<OneChain> = on_threads(sampling.threads, run)?.into_iter().collect::<Result<_>>()?;
    let mut draws = Array3::zeros((sampling.chains, sampling.draws, whitening.center.len()));
    chains.iter().enumerate().for_each(|(c, chain)| draws.slice_mut(s![c, .., ..]).assign(&chain.draws));
    Ok(Chains {
        draws,
        divergences: chains.iter().map(|c| c.divergences).sum(),
        evaluations: chains.iter().map(|c| c.evaluations).sum(),
    })
}

pub(super) fn check(sampling: &Sampling) -> Result<()> {
    if sampling.chains == 0 {
        return Err(Error::argument("chains", 0, "at least 1", "4 chains show whether they agree"));
    }
    if sampling.draws < 4 {
        return Err(Error::argument("draws", sampling.draws, "at least 4", "1000 draws of each chain are usual"));
    }
    Ok(())
}

struct OneChain {
    draws: Array2<f64>,
    divergences: usize,
    evaluations: usize,
}

fn one_chain<D: LogDensity>(
    density: &D,
    whitening: &Whitening,
    sampling: &Sampling,
    number: usize,
) -> Result<OneChain> {
    let n = whitening.center.len();
    let mut generator = stream(sampling.seed, number as u64);
    let target = Target { density, whitening, sampling, evaluations: Cell::new(0) };
    let mut point = start(&target, &Array1::from(unit_normals(&mut generator, n)))?;
    let mut warmup = Warmup::new(sampling.warmup, FIRST_STEP, &point);
    let mut found = OneChain { draws: Array2::zeros((sampling.draws, n)), divergences: 0, evaluations: 0 };
    for i in 0..sampling.warmup + sampling.draws {
        let kept = i.checked_sub(sampling.warmup);
        let step = if kept.is_some() { warmup.settled_step() } else { warmup.step() };
        let (next, trajectory) = next_point(|x| target.evaluate(x), &point, step, warmup.variances(), &mut generator)?;
        point = next;
        match kept {
            Some(kept) => {
                found.draws.row_mut(kept).assign(&whitening.position(point.position.view()));
                found.divergences += usize::from(trajectory.diverged);
            }
            None => warmup.learn(&point, trajectory.acceptance),
        }
        if let Some(done) = &sampling.progress {
            done.fetch_add(1, Ordering::Relaxed);
        }
    }
    found.evaluations = target.evaluations.get();
    Ok(found)
}

/// The first of ever shorter steps from the center where the density can be evaluated.
fn start<D: LogDensity>(target: &Target<D>, direction: &Array1<f64>) -> Result<Point> {
    let mut last = None;
    for k in 0..STARTS {
        match target.evaluate(direction * 0.7_f64.powi(k)) {
            Ok(point) => return Ok(point),
            Err(e) if e.is_recoverable() => last = Some(e),
            Err(e) => return Err(e),
        }
    }
    let reason = last.map(|e| e.to_string()).unwrap_or_default();
    Err(Error::Fit {
        reason: format!("no chain can start near the best estimates: {reason}"),
        advice: "look at the fit first: its answer stands at the edge of what can be simulated".into(),
    })
}

impl Whitening {
    /// Where x is.
    pub fn position(&self, x: ArrayView1<f64>) -> Array1<f64> {
        &self.center + &self.factor.dot(&x)
    }
}

impl Sampling {
    /// An error once a stop was asked for.
    ///
    /// # Errors
    /// [`Error::Canceled`].
    pub fn go_on(&self) -> Result<()> {
        if self.cancel.as_ref().is_some_and(|flag| flag.load(Ordering::Relaxed)) {
            let before = "the chains were done".to_owned();
            return Err(Error::Canceled { before, advice: "ask again, for fewer draws if it took long".into() });
        }
        Ok(())
    }
}

/// The density as the sampler sees it: around zero, one wide.
struct Target<'a, D> {
    density: &'a D,
    whitening: &'a Whitening,
    sampling: &'a Sampling,
    evaluations: Cell<usize>,
}

impl<D: LogDensity> Target<'_, D> {
    fn evaluate(&self, position: Array1<f64>) -> Result<Point> {
        self.sampling.go_on()?;
        self.evaluations.set(self.evaluations.get() + 1);
        let (value, gradient) = self.density.evaluate(self.whitening.position(position.view()).view())?;
        Ok(Point { position, value, gradient: self.whitening.factor.t().dot(&gradient) })
    }
}
