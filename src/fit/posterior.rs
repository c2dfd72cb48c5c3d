//! What the records leave possible, drawn from the posterior itself instead of from a normal distribution around the best fit.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicUsize};

use ndarray::{Array1, Array2, Array3, ArrayView1, Axis as Along};
use serde::Serialize;

use super::outcomes::quantile;
use super::parameter::{Belief, Parameter};
use super::space::{Space, cholesky};
use crate::error::Result;
use crate::numerics::convergence::Convergence;
use crate::numerics::least_squares::{Residuals, Solution};
use crate::numerics::normal::quantile_of_unit_normal;
use crate::numerics::sampling::{LogDensity, Sampling, Whitening, sample};
use crate::physics::casting::Accuracy;

/// Accuracy of the simulations behind a draw.
pub(super) const ACCURACY: Accuracy = Accuracy { relative: 1e-5 };
/// Above this the chains do not agree (Vehtari et al. 2021, see [`Convergence`]).
const AGREED: f64 = 1.01;
/// Above this they must not be used.
const USABLE: f64 = 1.05;
/// Effective draws per chain below which quantiles are rough (the same).
const ENOUGH: f64 = 100.0;
/// Share of broken trajectories above which the draws miss a part of what is possible.
const FEW_BROKEN: f64 = 0.01;

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
}

impl Default for PosteriorOptions {
    fn default() -> Self {
        PosteriorOptions { chains: 4, draws: 1000, warmup: 300, seed: 1, threads: None, cancel: None, progress: None }
    }
}

/// Draws from a posterior, and whether they can be used.
#[derive(Clone, Debug)]
pub struct Posterior {
    /// Every parameter: first the shared ones, then each record's own.
    pub estimates: Vec<PosteriorEstimate>,
    /// Values, SI; shape (chains, draws, parameters).
    pub values: Array3<f64>,
    /// Trajectories that broke off.
    pub divergences: usize,
    /// Evaluations of the records' likelihood with derivatives, warmup included.
    pub evaluations: usize,
    /// Seed of the draws.
    pub seed: u64,
    /// Whether the draws can be used.
    pub success: bool,
    /// What the user should know, in words; the first sentence says whether the chains agree.
    pub verdict: Vec<String>,
}

/// What a posterior says of one parameter, in SI units.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PosteriorEstimate {
    /// The parameter.
    pub parameter: Parameter,
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
    /// What was believed before.
    pub belief: Belief,
    /// How much narrower the records made it: 0, they taught nothing; 1, all.
    pub taught: f64,
    /// Rank-normalized split R-hat: 1 where the chains agree.
    pub r_hat: f64,
    /// Independent draws that these are worth, in the middle.
    pub bulk_ess: f64,
    /// The same at the 5 % and 95 % quantiles.
    pub tail_ess: f64,
}

impl PosteriorEstimate {
    /// Name with its unit and, for a record's own, the record.
    pub fn name(&self) -> String {
        super::estimate::full_name(self.parameter, self.record.as_deref())
    }

    /// Limits of what was believed with 90 % before any record.
    pub fn believed_90(&self) -> (f64, f64) {
        let reach = quantile_of_unit_normal(0.95);
        (self.belief.value(-reach), self.belief.value(reach))
    }
}

impl Posterior {
    /// Values of the first `columns` parameters, at most `count` draws, evenly from all chains; shape (n, columns).
    pub(super) fn thinned(&self, count: usize, columns: usize) -> Array2<f64> {
        let (chains, draws, _) = self.values.dim();
        let all = chains * draws;
        let kept = count.min(all);
        let place = |i: usize| i * all / kept;
        Array2::from_shape_fn((kept, columns), |(i, j)| self.values[[place(i) / draws, place(i) % draws, j]])
    }
}

/// The density behind a sum of squares: its logarithm is minus the cost. Beyond a bound the likelihood is that of the bound:
/// what is believed possible ends there.
struct Squares<'a, P> {
    problem: &'a P,
    lower: Array1<f64>,
    upper: Array1<f64>,
}

impl<P: Residuals + Sync> LogDensity for Squares<'_, P> {
    fn evaluate(&self, z: ArrayView1<f64>) -> Result<(f64, Array1<f64>)> {
        let inside = Array1::from_shape_fn(z.len(), |j| z[j].clamp(self.lower[j], self.upper[j]));
        let (residuals, jacobian) = self.problem.evaluate(inside.view())?;
        let mut gradient = -jacobian.t().dot(&residuals);
        // The beliefs, a unit normal each, hold beyond the bounds as well.
        let beliefs = |z: ArrayView1<f64>| 0.5 * z.dot(&z);
        let value = beliefs(inside.view()) - 0.5 * residuals.dot(&residuals) - beliefs(z);
        for j in 0..z.len() {
            if inside[j] != z[j] {
                gradient[j] = -z[j];
            }
        }
        Ok((value, gradient))
    }
}

/// Samples around a solution; records' names in the order of their numbers.
pub(super) fn sample_posterior<P: Residuals + Sync>(
    problem: &P,
    space: &Space,
    solution: &Solution,
    records: &[String],
    options: &PosteriorOptions,
) -> Result<Posterior> {
    let (lower, upper) = space.bounds();
    let density = Squares { problem, lower, upper };
    let whitening = Whitening { center: solution.parameters.clone(), factor: spread_around(solution) };
    let PosteriorOptions { chains, draws, warmup, seed, threads, cancel, progress } = options.clone();
    let found = sample(&density, &whitening, &Sampling { chains, draws, warmup, seed, threads, cancel, progress })?;
    let mut spreads = found.draws;
    let mut values = spreads.clone();
    for (mut q, mut value) in spreads.lanes_mut(Along(2)).into_iter().zip(values.lanes_mut(Along(2))) {
        let z = Array1::from_shape_fn(q.len(), |j| q[j].clamp(density.lower[j], density.upper[j]));
        q.assign(&space.spreads(z.view()));
        value.assign(&Array1::from(space.values(z.view())));
    }
    let estimates: Vec<_> = (0..space.len()).map(|j| estimate(j, space, records, &spreads, &values)).collect();
    let (success, verdict) = verdict(&estimates, chains, chains * draws, found.divergences);
    Ok(Posterior {
        estimates,
        values,
        divergences: found.divergences,
        evaluations: found.evaluations,
        seed,
        success,
        verdict,
    })
}

/// A square root of the inverse of J'J: upper triangular, from the Cholesky factor L of J'J as the inverse of L'.
fn spread_around(solution: &Solution) -> Array2<f64> {
    let l = cholesky(&solution.jacobian.t().dot(&solution.jacobian));
    let n = l.nrows();
    let mut inverse = Array2::<f64>::zeros((n, n));
    for j in 0..n {
        for i in j..n {
            let sum: f64 = (j..i).map(|k| l[[i, k]] * inverse[[k, j]]).sum();
            inverse[[i, j]] = (f64::from(i == j) - sum) / l[[i, i]];
        }
    }
    inverse.reversed_axes()
}

fn estimate(
    j: usize,
    space: &Space,
    records: &[String],
    spreads: &Array3<f64>,
    values: &Array3<f64>,
) -> PosteriorEstimate {
    let axis = &space.axes[j];
    let column = values.index_axis(Along(2), j);
    let mut sorted: Vec<f64> = column.iter().copied().collect();
    sorted.sort_by(f64::total_cmp);
    let at = |share: f64| quantile(&sorted, share);
    let said = Convergence::of(column);
    PosteriorEstimate {
        parameter: axis.parameter,
        record: axis.record.map(|r| records[r].clone()),
        median: at(0.5),
        standard_deviation: column.std(1.0),
        interval_90: (at(0.05), at(0.95)),
        interval_95: (at(0.025), at(0.975)),
        belief: axis.belief,
        taught: (1.0 - spreads.index_axis(Along(2), j).std(1.0)).max(0.0),
        r_hat: said.r_hat,
        bulk_ess: said.bulk_ess,
        tail_ess: said.tail_ess,
    }
}

/// Whether the draws can be used, and why, in words.
fn verdict(estimates: &[PosteriorEstimate], chains: usize, draws: usize, divergences: usize) -> (bool, Vec<String>) {
    let worst = estimates.iter().max_by(|a, b| a.r_hat.total_cmp(&b.r_hat));
    let r_hat = worst.map_or(1.0, |e| e.r_hat);
    let ess = estimates.iter().map(|e| e.bulk_ess.min(e.tail_ess)).fold(f64::INFINITY, f64::min);
    let name = worst.map(PosteriorEstimate::name).unwrap_or_default();
    let mut said = vec![match r_hat {
        _ if chains < 2 => "one chain alone cannot show whether it agrees with others: draw at least 2".to_owned(),
        r if r <= AGREED => format!("the {chains} chains agree (R-hat at most {r:.3})"),
        r if r <= USABLE => {
            format!("the {chains} chains nearly agree (R-hat {r:.3} for {name}): draw longer for final numbers")
        }
        r => format!("the {chains} chains disagree (R-hat {r:.2} for {name}): do not use these draws, draw longer"),
    }];
    if ess < ENOUGH * chains as f64 {
        said.push(format!(
            "the draws are worth only {ess:.0} independent ones: ends of intervals are rough, draw longer"
        ));
    }
    if divergences > 0 {
        let share = 100.0 * divergences as f64 / draws as f64;
        said.push(format!(
            "{divergences} trajectories ({share:.1} %) broke off: castings near there cannot be simulated or change abruptly"
        ));
    }
    (chains > 1 && r_hat <= USABLE && divergences as f64 <= FEW_BROKEN * draws as f64, said)
}
