//! How a posterior is sampled: polynomials learn what the simulations say, guide the chains, and learn from where those went.

use ndarray::{Array1, Array2, Array3, ArrayView1, Axis as Along, s};
use rayon::prelude::*;

use super::coordinates::Scatters;
use super::target::{Records, Seen, Target};
use super::{Drawn, Posterior, PosteriorEstimate, PosteriorOptions, verdict};
use crate::error::{Error, Result};
use crate::fit::outcomes::quantile;
use crate::fit::parameter::{Belief, Parameter};
use crate::numerics::convergence::Convergence;
use crate::numerics::guided::{Leg, proposals_per_draw, tally, together, walk, walkers};
use crate::numerics::least_squares::Solution;
use crate::numerics::polynomial::{Polynomials, terms};
use crate::numerics::random::{stream, unit_normals};
use crate::numerics::sampling::{Sampling, Whitening, on_threads, sample};
use crate::numerics::triangular::{cholesky, inverse_lower};

/// Examples that polynomials learn from, for each of their terms.
const EXAMPLES_PER_TERM: usize = 3;
/// Proposals per draw while the chains warm up.
const WARMING_PROPOSALS: usize = 2;

/// Samples around a solution; records' names in the order of their numbers.
pub(in crate::fit) fn sample_posterior<R: Records>(
    records: &R,
    scatters: Scatters,
    solution: &Solution,
    names: &[String],
    options: &PosteriorOptions,
) -> Result<Posterior> {
    let mut target = Target::new(records, scatters);
    let whitening = whitening(solution, target.coordinates.len());
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
        }
    } else {
        on_threads(threads, || guided_draws(&mut target, &whitening, &sampling))??
    };
    Ok(conclude(&target, drawn, names, options))
}

/// A square root of the inverse of J'J, from its Cholesky factor L as the inverse of L'; factors of scatter as believed.
fn whitening(solution: &Solution, n: usize) -> Whitening {
    let k = solution.parameters.len();
    let (mut center, mut factor) = (Array1::zeros(n), Array2::eye(n));
    center.slice_mut(s![..k]).assign(&solution.parameters);
    let l = cholesky(solution.jacobian.t().dot(&solution.jacobian).view());
    factor.slice_mut(s![..k, ..k]).assign(&inverse_lower(l.view()).t());
    Whitening { center, factor }
}

fn guided_draws<R: Records>(target: &mut Target<R>, whitening: &Whitening, sampling: &Sampling) -> Result<Drawn> {
    let most_terms = target.axes.iter().map(|axes| terms(axes.len())).max().unwrap_or(1);
    let wanted = EXAMPLES_PER_TERM * most_terms;
    let mut examples = first_examples(target, whitening, sampling, wanted)?;
    let mut evaluations = wanted + sampling.chains;
    target.learn(&examples);
    let mut chains = walkers(target, whitening, sampling)?;
    let leg = |draws, proposals| Leg { draws, proposals, tune: false, watch: false };
    let thirds = sampling.warmup / 3;
    for draws in [thirds, thirds] {
        let warming = Leg { tune: true, watch: true, ..leg(draws, WARMING_PROPOSALS) };
        let walks = walk(target, whitening, &mut chains, warming, sampling)?;
        evaluations += tally(&walks).1;
        examples.extend(walks.into_iter().flat_map(|walk| walk.seen));
        let first = examples.len().saturating_sub(wanted);
        examples.drain(..first);
        target.learn(&examples);
    }
    let last = Leg { tune: true, ..leg(sampling.warmup - 2 * thirds, WARMING_PROPOSALS) };
    let walks = walk(target, whitening, &mut chains, last, sampling)?;
    evaluations += tally(&walks).1;
    let walks = walk(target, whitening, &mut chains, leg(sampling.draws, proposals_per_draw(&walks)), sampling)?;
    let (accepted, proposed) = tally(&walks);
    Ok(Drawn {
        draws: together(&walks),
        broken: walks.iter().map(|w| w.broken).sum(),
        tried: proposed,
        acceptance: Some(accepted as f64 / proposed.max(1) as f64),
        evaluations: evaluations + proposed,
    })
}

/// Simulations at draws from the normal distribution around the best fit.
fn first_examples<R: Records>(
    target: &Target<R>,
    whitening: &Whitening,
    sampling: &Sampling,
    wanted: usize,
) -> Result<Vec<Seen>> {
    let n = whitening.center.len();
    let one = |i: usize| {
        sampling.go_on()?;
        // Streams beyond those of the chains.
        let x = unit_normals(&mut stream(sampling.seed, (sampling.chains + i) as u64), n);
        let place = target.coordinates.place(whitening.position(ArrayView1::from(&x)).view());
        match target.see(&place) {
            Ok(misfits) => Ok(Some((place.spreads, misfits))),
            Err(e) if e.is_recoverable() => Ok(None),
            Err(e) => Err(e),
        }
    };
    let seen: Vec<Result<Option<Seen>>> = (0..wanted).into_par_iter().map(one).collect();
    let seen: Vec<Seen> = seen.into_iter().collect::<Result<Vec<_>>>()?.into_iter().flatten().collect();
    if 2 * seen.len() < wanted {
        return Err(Error::Fit {
            reason: format!("{} of {wanted} simulations near the best estimates failed", wanted - seen.len()),
            advice: "look at the fit first: its answer stands at the edge of what can be simulated".into(),
        });
    }
    Ok(seen)
}

impl<R: Records> Target<'_, R> {
    /// Learns from simulations what stands in for them.
    fn learn(&mut self, examples: &[Seen]) {
        let of_record = |i: usize| {
            let axes = &self.axes[i];
            let inputs = Array2::from_shape_fn((examples.len(), axes.len()), |(e, a)| examples[e].0[axes[a]]);
            let width = examples.first().map_or(0, |(_, misfits)| misfits[i].len());
            let outputs = Array2::from_shape_fn((examples.len(), width), |(e, k)| examples[e].1[i][k]);
            Polynomials::of_examples(inputs.view(), outputs.view())
        };
        self.guides = (0..self.axes.len()).into_par_iter().map(of_record).collect();
    }
}

/// One drawn number: what it is, whose, its belief.
struct Column {
    parameter: Parameter,
    record: Option<usize>,
    belief: Belief,
}

/// The columns of a posterior: what is shared, the factors of scatter, each record's own.
fn columns<R: Records>(target: &Target<R>) -> Vec<Column> {
    let axes = &target.coordinates.space.axes;
    let column =
        |axis: &crate::fit::space::Axis| Column { parameter: axis.parameter, record: axis.record, belief: axis.belief };
    let factor = |(parameter, belief)| Column { parameter, record: None, belief };
    let shared = axes.iter().filter(|a| a.record.is_none()).map(column);
    let own = axes.iter().filter(|a| a.record.is_some()).map(column);
    shared.chain(target.coordinates.scatters.drawn().into_iter().map(factor)).chain(own).collect()
}

fn conclude<R: Records>(target: &Target<R>, drawn: Drawn, names: &[String], options: &PosteriorOptions) -> Posterior {
    let columns = columns(target);
    let (chains, draws, _) = drawn.draws.dim();
    let mut values = Array3::zeros((chains, draws, columns.len()));
    let shared = target.coordinates.space.axes.iter().filter(|a| a.record.is_none()).count();
    for (x, mut to) in drawn.draws.lanes(Along(2)).into_iter().zip(values.lanes_mut(Along(2))) {
        let place = target.coordinates.place(x);
        let own = target.coordinates.values(&place);
        let factors =
            [(target.coordinates.scatters.casting, place.casting), (target.coordinates.scatters.lot, place.lot)];
        let factors = factors.into_iter().filter_map(|(belief, factor)| belief.map(|_| factor));
        let row = own[..shared].iter().copied().chain(factors).chain(own[shared..].iter().copied());
        to.iter_mut().zip(row).for_each(|(to, value)| *to = value);
    }
    let of = |(j, column): (usize, &Column)| estimate(column, values.index_axis(Along(2), j).to_owned(), names);
    let estimates: Vec<_> = columns.iter().enumerate().map(of).collect();
    let (success, verdict) = verdict::judge(&estimates, chains, &drawn);
    Posterior {
        estimates,
        values,
        divergences: drawn.broken,
        acceptance: drawn.acceptance,
        evaluations: drawn.evaluations,
        seed: options.seed,
        success,
        verdict,
    }
}

fn estimate(column: &Column, draws: Array2<f64>, names: &[String]) -> PosteriorEstimate {
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
        belief: column.belief,
        taught: (1.0 - draws.mapv(|value| column.belief.position(value)).std(1.0)).max(0.0),
        r_hat: said.r_hat,
        bulk_ess: said.bulk_ess,
        tail_ess: said.tail_ess,
    }
}
