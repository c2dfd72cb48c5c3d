//! How a posterior is sampled: a surrogate (polynomials) learns from simulations, proposes for the chains, and learns
//! again from where those went.

use std::sync::atomic::Ordering;

use ndarray::{Array1, Array2, Array3, Axis as Along, s};
use rayon::prelude::*;

use super::surrogate::Surrogate;
use super::target::{Evaluation, Target};
use super::{Drawn, Posterior, PosteriorEstimate, PosteriorOptions, verdict};
use crate::error::{Error, Result};
use crate::inference::coordinates::Axis;
use crate::inference::least_squares::Solution;
use crate::inference::prior::Prior;
use crate::inference::records::{Estimand, Records};
use crate::inference::scatter::Scatters;
use crate::numerics::convergence::Convergence;
use crate::numerics::polynomial::terms;
use crate::numerics::quantile::quantile;
use crate::numerics::random::{stream, unit_normals};
use crate::numerics::sampling::{Sampling, Whitening, sample};
use crate::numerics::surrogate_chains::{Leg, leg_after, move_into, tally, together, walk, walkers, whitened_by};
use crate::numerics::threads::on_threads;
use crate::numerics::triangular::{cholesky, inverse_lower};

/// Examples that polynomials learn from, for each of their terms.
const EXAMPLES_PER_TERM: usize = 3;
/// Examples that are kept at least, once chains went about: what they saw costs nothing.
const LEAST_EXAMPLES: usize = 400;
/// How far below the best, in logarithm of density per coordinate, an example is of no use. Half is what draws come to.
const MAX_LOG_DEFICIT: f64 = 2.0;
/// Parts of the warmup; after each but the last, surrogates and whitening learn from where the chains went.
const WARMUP_PARTS: usize = 4;
/// Proposals per draw while the chains warm up.
const WARMING_PROPOSALS: f64 = 3.0;
/// And the chance at first that each is followed by steps of the records' own.
const WARMING_PART_CHANCE: f64 = 0.3;

/// Samples around a solution; records' names in the order of their numbers.
pub fn sample_posterior<R: Records>(
    records: &R,
    scatters: Scatters,
    solution: &Solution,
    names: &[String],
    options: &PosteriorOptions,
) -> Result<Posterior<R::Parameter>> {
    let mut target = Target::new(records, scatters);
    let whitening = whitening(solution, target.chain.len());
    let PosteriorOptions { chains, draws, warmup, seed, threads, cancel, progress, direct } = options.clone();
    let sampling = Sampling { chains, draws, warmup, seed, threads, cancel, progress };
    let drawn = if direct {
        let found = sample(&target, &whitening, &sampling)?;
        Drawn {
            draws: found.draws,
            broken: found.divergences,
            tried: chains * draws,
            acceptance: None,
            evaluations: found.evaluations,
            longest_stand: 0,
        }
    } else {
        on_threads(threads, || surrogate_draws(&mut target, whitening, &sampling))??
    };
    Ok(conclude(&target, drawn, names, options))
}

/// A lower square root of the inverse of J'J; factors of scatter as expected.
fn whitening(solution: &Solution, n: usize) -> Whitening {
    let k = solution.parameters.len();
    let (mut center, mut factor) = (Array1::zeros(n), Array2::eye(n));
    center.slice_mut(s![..k]).assign(&solution.parameters);
    let l = cholesky(solution.jacobian.t().dot(&solution.jacobian).view());
    let inverse = inverse_lower(l.view());
    factor.slice_mut(s![..k, ..k]).assign(&cholesky(inverse.t().dot(&inverse).view()));
    Whitening { center, factor }
}

fn surrogate_draws<R: Records>(target: &mut Target<R>, whitening: Whitening, sampling: &Sampling) -> Result<Drawn> {
    let most_terms = target.axes.iter().map(|axes| terms(axes.len())).max().unwrap_or(1);
    let mut examples = first_examples(target, &whitening, sampling, EXAMPLES_PER_TERM * most_terms)?;
    target.learn(&examples);
    let mut chains = walkers(target, &whitening, sampling)?;
    let (expected, mut visited) = (whitening.clone(), Vec::new());
    let mut whitening = whitening;
    let part = sampling.warmup / WARMUP_PARTS;
    let mut leg = Leg { draws: 0, proposals: WARMING_PROPOSALS, parts: WARMING_PART_CHANCE, tune: true, watch: true };
    let mut last = leg;
    for i in 0..WARMUP_PARTS {
        let draws = if i + 1 < WARMUP_PARTS { part } else { sampling.warmup - i * part };
        leg = Leg { draws, watch: i + 1 < WARMUP_PARTS, ..leg };
        let walks = walk(target, &whitening, &mut chains, leg, sampling)?;
        last = leg_after(&walks, sampling.draws);
        leg.parts = last.parts;
        if leg.watch {
            if i < 2 {
                // What the first part drew is forgotten: chains were on their way.
                visited.clear();
            }
            visited.extend(walks.iter().map(|walk| walk.draws.clone()));
            let rows: Vec<_> = visited.iter().map(|draws| draws.view()).collect();
            let anew = ndarray::concatenate(Along(0), &rows).map(|rows| whitened_by(&expected, rows.view()));
            if let Ok(anew) = anew {
                move_into(&mut chains, &whitening, &anew);
                whitening = anew;
            }
            let most = (EXAMPLES_PER_TERM * most_terms).max(LEAST_EXAMPLES);
            keep(&mut examples, walks.into_iter().flat_map(|walk| walk.seen), most);
            target.learn(&examples);
        }
    }
    let walks = walk(target, &whitening, &mut chains, last, sampling)?;
    let (accepted, proposed) = tally(&walks);
    Ok(Drawn {
        draws: together(&walks),
        broken: walks.iter().map(|w| w.broken).sum(),
        tried: proposed,
        acceptance: Some(accepted as f64 / proposed.max(1) as f64),
        evaluations: target.simulations.load(Ordering::Relaxed).div_ceil(target.axes.len().max(1)),
        longest_stand: walks.iter().map(|w| w.longest_stand).max().unwrap_or(0),
    })
}

/// Adds examples, but for those so unlikely that no chain will come there, and keeps the latest.
fn keep(examples: &mut Vec<Evaluation>, more: impl Iterator<Item = Evaluation>, most: usize) {
    examples.extend(more);
    let best = examples.iter().map(|seen| seen.value).fold(f64::NEG_INFINITY, f64::max);
    let n = examples.first().map_or(0, |seen| seen.sds.len());
    examples.retain(|seen| seen.value > best - MAX_LOG_DEFICIT * n as f64);
    let surplus = examples.len().saturating_sub(most);
    examples.drain(..surplus);
}

/// Simulations at draws from the normal distribution around the best fit, the first of them near it.
fn first_examples<R: Records>(
    target: &Target<R>,
    whitening: &Whitening,
    sampling: &Sampling,
    wanted: usize,
) -> Result<Vec<Evaluation>> {
    let n = whitening.center.len();
    let one = |i: usize| {
        sampling.go_on()?;
        // Streams beyond those of the chains.
        let direction = unit_normals(&mut stream(sampling.seed, (sampling.chains + i) as u64), n);
        let reach = (i + 1) as f64 / wanted as f64;
        let x = whitening.position((reach * Array1::from(direction)).view());
        match target.see(x.view()) {
            Ok(seen) => Ok(Some(seen)),
            Err(e) if e.is_recoverable() => Ok(None),
            Err(e) => Err(e),
        }
    };
    let seen: Vec<Result<Option<Evaluation>>> = (0..wanted).into_par_iter().map(one).collect();
    let mut examples = Vec::new();
    keep(&mut examples, seen.into_iter().collect::<Result<Vec<_>>>()?.into_iter().flatten(), wanted);
    if 2 * examples.len() < wanted {
        return Err(Error::Fit {
            reason: format!(
                "of {wanted} simulations near the best estimates {} failed or are far from the records",
                wanted - examples.len()
            ),
            advice: "look at the fit first: its answer stands at the edge of what can be simulated".into(),
        });
    }
    Ok(examples)
}

impl<R: Records> Target<'_, R> {
    /// Learns from simulations what stands in for them.
    fn learn(&mut self, examples: &[Evaluation]) {
        let of_record = |i: usize| {
            let axes = &self.axes[i];
            let inputs = Array2::from_shape_fn((examples.len(), axes.len()), |(e, a)| examples[e].sds[axes[a]]);
            let width = examples.first().map_or(0, |seen| seen.misfits[i].len());
            let outputs = Array2::from_shape_fn((examples.len(), width), |(e, k)| examples[e].misfits[i][k]);
            Surrogate::of_examples(inputs.view(), outputs.view(), &self.laws[i])
        };
        self.surrogates = (0..self.axes.len()).into_par_iter().map(of_record).collect();
    }
}

/// One drawn number: what it is, whose, its prior.
struct Column<P> {
    parameter: P,
    record: Option<usize>,
    prior: Prior,
}

/// The columns of a posterior: what is shared, the factors of scatter, each record's own.
fn columns<R: Records>(target: &Target<R>) -> Vec<Column<R::Parameter>> {
    let axes = &target.chain.coordinates.axes;
    let column =
        |axis: &Axis<R::Parameter>| Column { parameter: axis.parameter, record: axis.record, prior: axis.prior };
    let factor = |(parameter, prior)| Column { parameter, record: None, prior };
    let shared = axes.iter().filter(|a| a.record.is_none()).map(column);
    let own = axes.iter().filter(|a| a.record.is_some()).map(column);
    shared.chain(target.chain.scatters.drawn::<R::Parameter>().into_iter().map(factor)).chain(own).collect()
}

fn conclude<R: Records>(
    target: &Target<R>,
    drawn: Drawn,
    names: &[String],
    options: &PosteriorOptions,
) -> Posterior<R::Parameter> {
    let columns = columns(target);
    let (chains, draws, _) = drawn.draws.dim();
    let mut values = Array3::zeros((chains, draws, columns.len()));
    let shared = target.chain.coordinates.axes.iter().filter(|a| a.record.is_none()).count();
    for (x, mut to) in drawn.draws.lanes(Along(2)).into_iter().zip(values.lanes_mut(Along(2))) {
        let place = target.chain.place(x);
        let own = target.chain.values(&place);
        let factors = [
            (target.chain.scatters.readings, place.reading_scatter),
            (target.chain.scatters.records, place.record_scatter),
        ];
        let factors = factors.into_iter().filter_map(|(prior, factor)| prior.map(|_| factor));
        let row = own[..shared].iter().copied().chain(factors).chain(own[shared..].iter().copied());
        to.iter_mut().zip(row).for_each(|(to, value)| *to = value);
    }
    let of = |(j, column): (usize, &Column<R::Parameter>)| {
        estimate(column, values.index_axis(Along(2), j).to_owned(), names)
    };
    let estimates: Vec<_> = columns.iter().enumerate().map(of).collect();
    let (converged, verdict) = verdict::judge(&estimates, &drawn);
    Posterior {
        estimates,
        values,
        divergences: drawn.broken,
        acceptance: drawn.acceptance,
        evaluations: drawn.evaluations,
        seed: options.seed,
        converged,
        verdict,
    }
}

fn estimate<P: Estimand>(column: &Column<P>, draws: Array2<f64>, names: &[String]) -> PosteriorEstimate<P> {
    let mut sorted: Vec<f64> = draws.iter().copied().collect();
    sorted.sort_by(f64::total_cmp);
    let at = |share: f64| quantile(&sorted, share);
    let said = Convergence::of(draws.view());
    PosteriorEstimate {
        parameter: column.parameter,
        record: column.record.map(|r| names[r].clone()),
        median: at(0.5),
        standard_deviation: draws.std(1.0),
        interval_90: (at(0.05), at(0.95)),
        interval_95: (at(0.025), at(0.975)),
        prior: column.prior,
        learned: (1.0 - draws.mapv(|value| column.prior.sds(value)).std(1.0)).max(0.0),
        r_hat: said.r_hat,
        bulk_ess: said.bulk_ess,
        tail_ess: said.tail_ess,
    }
}
