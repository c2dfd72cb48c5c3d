//! Draws from a distribution that is given by the logarithm of its density and its gradient: the no-U-turn sampler of
//! `nuts-rs` (Hoffman and Gelman, J. Mach. Learn. Res. 15, 1593, 2014) in several chains. The only place that knows it.

use std::collections::HashMap;
use std::fmt;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::sync::{Arc, Mutex, PoisonError};

use ndarray::{Array1, Array2, Array3, ArrayView1, s};
use nuts_rs::rand::Rng;
use nuts_rs::{Chain, CpuLogpFunc, CpuMath, CpuMathError, DiagNutsSettings, HasDims, LogpError, Settings};
use rayon::prelude::*;

use super::random::{stream, unit_normals};
use super::threads::on_threads;
use crate::error::{Error, Result};

/// Doublings of a trajectory at most.
const MOST_DOUBLINGS: u64 = 8;
/// Starts of a chain that are tried, each nearer to the center.
const STARTS: i32 = 12;

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
    let target = Target { density, whitening, sampling, evaluations: AtomicUsize::new(0), fatal: Mutex::default() };
    let start = start(&target, &unit_normals(&mut generator, n))?;
    let mut chain = settings(sampling)
        .new_chain(number as u64, CpuMath::new(&target), &mut generator)
        .map_err(|e| target.broken(e))?;
    chain.set_position(&start).map_err(|e| target.broken(e))?;
    let mut found = OneChain { draws: Array2::zeros((sampling.draws, n)), divergences: 0, evaluations: 0 };
    for i in 0..sampling.warmup + sampling.draws {
        let (x, said) = chain.draw().map_err(|e| target.broken(e))?;
        if let Some(kept) = i.checked_sub(sampling.warmup) {
            found.draws.row_mut(kept).assign(&whitening.position(ArrayView1::from(&x)));
            found.divergences += usize::from(said.diverging);
        }
        if let Some(done) = &sampling.progress {
            done.fetch_add(1, Ordering::Relaxed);
        }
    }
    found.evaluations = target.evaluations.load(Ordering::Relaxed);
    Ok(found)
}

fn settings(sampling: &Sampling) -> DiagNutsSettings {
    let mut settings = DiagNutsSettings {
        num_tune: sampling.warmup as u64,
        num_draws: sampling.draws as u64,
        maxdepth: MOST_DOUBLINGS,
        ..DiagNutsSettings::default()
    };
    settings.adapt_options.step_size_settings.initial_step = 0.5;
    settings
}

/// The first of ever shorter steps from the center where the density can be evaluated.
fn start<D: LogDensity>(target: &Target<D>, direction: &[f64]) -> Result<Vec<f64>> {
    let mut last = None;
    for k in 0..STARTS {
        let x: Vec<f64> = direction.iter().map(|d| d * 0.7_f64.powi(k)).collect();
        match target.evaluate(&x) {
            Ok(_) => return Ok(x),
            Err(Stopped(e)) if e.is_recoverable() => last = Some(e),
            Err(Stopped(e)) => return Err(e),
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
    evaluations: AtomicUsize,
    /// What ended the sampling: the sampler hands on its words only.
    fatal: Mutex<Option<Error>>,
}

impl<D: LogDensity> Target<'_, D> {
    fn evaluate(&self, x: &[f64]) -> Result<(f64, Array1<f64>), Stopped> {
        self.try_evaluate(x).map_err(|error| {
            if !error.is_recoverable() {
                *self.fatal.lock().unwrap_or_else(PoisonError::into_inner) = Some(error.clone());
            }
            Stopped(error)
        })
    }

    fn try_evaluate(&self, x: &[f64]) -> Result<(f64, Array1<f64>)> {
        self.sampling.go_on()?;
        self.evaluations.fetch_add(1, Ordering::Relaxed);
        let (value, gradient) = self.density.evaluate(self.whitening.position(ArrayView1::from(x)).view())?;
        Ok((value, self.whitening.factor.t().dot(&gradient)))
    }

    /// What to report when the sampler stops with these words.
    fn broken(&self, said: impl fmt::Display) -> Error {
        let own = self.fatal.lock().unwrap_or_else(PoisonError::into_inner).take();
        own.unwrap_or_else(|| Error::Fit {
            reason: format!("the sampler stopped: {said}"),
            advice: "look at the fit first: its answer may stand at the edge of what can be simulated".into(),
        })
    }
}

/// An error of the density on its way through the sampler.
#[derive(Debug)]
struct Stopped(Error);

impl fmt::Display for Stopped {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}

impl std::error::Error for Stopped {}

impl LogpError for Stopped {
    fn is_recoverable(&self) -> bool {
        self.0.is_recoverable()
    }
}

impl<D: LogDensity> HasDims for &Target<'_, D> {
    fn dim_sizes(&self) -> HashMap<String, u64> {
        HashMap::from([("unconstrained_parameter".to_owned(), self.whitening.center.len() as u64)])
    }
}

impl<D: LogDensity> CpuLogpFunc for &Target<'_, D> {
    type LogpError = Stopped;
    type FlowParameters = ();
    type ExpandedVector = Vec<f64>;

    fn dim(&self) -> usize {
        self.whitening.center.len()
    }

    fn logp(&mut self, position: &[f64], gradient: &mut [f64]) -> Result<f64, Stopped> {
        let (value, slope) = self.evaluate(position)?;
        gradient.iter_mut().zip(&slope).for_each(|(to, from)| *to = *from);
        Ok(value)
    }

    fn expand_vector<R: Rng + ?Sized>(&mut self, _: &mut R, position: &[f64]) -> Result<Vec<f64>, CpuMathError> {
        Ok(position.to_vec())
    }
}
