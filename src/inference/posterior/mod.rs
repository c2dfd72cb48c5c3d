//! The posterior, drawn from by Markov chains: what the records leave possible, not a normal distribution around the
//! best fit.

mod chain_coordinates;
mod direction;
mod interweaving;
mod proposals;
mod sample;
mod surrogate;
mod target;
mod verdict;

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicUsize};

use ndarray::{Array1, Array2, Array3};
use serde::{Deserialize, Serialize};

use super::estimate::full_name;
use super::prior::Prior;
use super::records::Estimand;
use crate::numerics::normal::quantile_of_unit_normal;

pub use sample::sample_posterior;

/// How to sample a posterior.
#[derive(Clone, Debug)]
pub struct PosteriorOptions {
    /// Chains, each from its own start.
    pub chains: usize,
    /// Draws of each chain that are kept.
    pub draws: usize,
    /// Draws of each chain before those.
    pub warmup: usize,
    /// The same seed gives the same draws, on however many threads.
    pub seed: u64,
    /// Threads; `None`: as many as there are cores.
    pub threads: Option<usize>,
    /// Set to true from another thread to stop.
    pub cancel: Option<Arc<AtomicBool>>,
    /// Counts the draws made by all chains, warmup included.
    pub progress: Option<Arc<AtomicUsize>>,
    /// Whether chains walk along the simulations' own slopes (no-U-turn sampler) instead of along those of the
    /// surrogate: polynomials that stand in for simulations. Either is exact; this is many times slower, a check.
    pub direct: bool,
}

impl Default for PosteriorOptions {
    fn default() -> Self {
        let (threads, cancel, progress) = (None, None, None);
        PosteriorOptions { chains: 4, draws: 1000, warmup: 300, seed: 1, threads, cancel, progress, direct: false }
    }
}

/// Draws from a posterior, and whether they can be used.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Posterior<P> {
    /// Every parameter: first the shared ones, then each record's own.
    pub estimates: Vec<PosteriorEstimate<P>>,
    /// Values, SI; shape (chains, draws, parameters).
    pub values: Array3<f64>,
    /// Trajectories that broke off, or proposals that cannot be simulated.
    pub divergences: usize,
    /// Share of the proposals that were accepted; `None` where none are made ([`PosteriorOptions::direct`]).
    pub acceptance: Option<f64>,
    /// Evaluations of the records' likelihood, warmup included.
    pub evaluations: usize,
    /// Seed of the draws.
    pub seed: u64,
    /// Whether the draws can be used.
    pub converged: bool,
    /// What the user should know, in words; the first sentence says whether the chains agree.
    pub verdict: Vec<String>,
}

/// What a posterior says of one parameter, in SI units.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct PosteriorEstimate<P> {
    /// The parameter.
    pub parameter: P,
    /// The log or trial that it belongs to, if it is a record's own.
    pub record: Option<String>,
    /// Half of the draws lie below.
    pub median: f64,
    /// Standard deviation of the draws.
    pub standard_deviation: f64,
    /// 5 % and 95 % of the draws lie below.
    pub interval_90: (f64, f64),
    /// 2.5 % and 97.5 % of the draws lie below.
    pub interval_95: (f64, f64),
    /// What was expected before any record.
    pub prior: Prior,
    /// How much narrower than the prior the records made it: 0, not at all; 1, they determine it fully.
    pub learned: f64,
    /// Rank-normalized split R-hat: 1 where the chains agree.
    pub r_hat: f64,
    /// Independent draws that these are worth, in the middle.
    pub bulk_ess: f64,
    /// The same at the 5 % and 95 % quantiles.
    pub tail_ess: f64,
}

impl<P: Estimand> PosteriorEstimate<P> {
    /// Name with its unit and, for a record's own, the record.
    pub fn name(&self) -> String {
        full_name(self.parameter, self.record.as_deref())
    }

    /// Limits of what was expected with 90 % before any record.
    pub fn prior_90(&self) -> (f64, f64) {
        let reach = quantile_of_unit_normal(0.95);
        (self.prior.value(-reach), self.prior.value(reach))
    }
}

impl<P: Estimand> Posterior<P> {
    /// Values of the first `columns` parameters, at most `count` draws, evenly from all chains; shape (n, columns).
    pub fn thinned(&self, count: usize, columns: usize) -> Array2<f64> {
        let (chains, draws, _) = self.values.dim();
        let all = chains * draws;
        let kept = count.min(all);
        let place = |i: usize| i * all / kept;
        Array2::from_shape_fn((kept, columns), |(i, j)| self.values[[place(i) / draws, place(i) % draws, j]])
    }

    /// The same draws of one parameter that all records share; `None` where it was not drawn.
    pub fn thinned_column(&self, count: usize, of: P) -> Option<Array1<f64>> {
        let column = self.estimates.iter().position(|e| e.parameter == of && e.record.is_none())?;
        Some(self.thinned(count, column + 1).column(column).to_owned())
    }
}

/// What a sampler came back with.
struct Drawn {
    /// ChainCoordinates; shape (chains, draws, n).
    draws: Array3<f64>,
    broken: usize,
    /// Trajectories or proposals that could have broken.
    tried: usize,
    acceptance: Option<f64>,
    evaluations: usize,
    /// Draws in succession for which a chain accepted no proposal, at most.
    longest_stand: usize,
}
