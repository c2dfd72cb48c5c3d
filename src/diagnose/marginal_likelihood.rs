//! Causes ranked by their posterior probability: the marginal likelihood of the readings over all hypotheses of a
//! cause, times its prior.

use std::sync::atomic::Ordering;

use ndarray::Array1;
use rayon::prelude::*;
use serde::{Deserialize, Serialize};

use super::candidates::{Weighted, Written, hypotheses, log_sum};
use super::conditional::{ConditionalModel, INDEPENDENT_OF_TRACE};
use super::effect_size::EffectSize;
use super::hypothesis::Hypothesis;
use super::options::DiagnoseOptions;
use super::reading::ReadingKind;
use crate::error::{Error, Result};
use crate::model::Cause;
use crate::numerics::laplace::{Peak, climb};

/// A cause that is not on the list makes readings this many times as uncertain.
const UNKNOWN_WIDENS: f64 = 4.0;

/// A cause, how likely it is and how large it would be.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct LikelyCause {
    /// The cause.
    pub cause: Cause,
    /// Its posterior probability, given all readings.
    pub probability: f64,
    /// How large it would be; empty where nothing has a size.
    pub effects: Vec<EffectSize>,
    /// The reading that would be wrong.
    pub reading: Option<ReadingKind>,
}

/// A cause with its likeliest hypothesis and constants.
pub(super) struct Ranked {
    pub likely: LikelyCause,
    pub best: Option<(Hypothesis, Peak)>,
}

/// A hypothesis that was compared: logarithm of its probability among those of its cause, times that of the readings.
struct Compared {
    hypothesis: Hypothesis,
    peak: Peak,
    log: f64,
}

/// All causes that can be, likeliest first; `ordinary` is the peak without any of them.
pub(super) fn ranked(
    conditional: &ConditionalModel,
    ordinary: &Peak,
    prior: &[(Cause, f64)],
    options: &DiagnoseOptions,
) -> Result<Vec<Ranked>> {
    let start = Array1::zeros(conditional.coordinates());
    let written = Written {
        casting: &conditional.trial_model.trial.casting,
        cavity: &conditional.trial_model.setup.cavity,
        readings: conditional.sds.len(),
        reached: conditional.under(Hypothesis::Ordinary).result(start.view())?.peak_pressure,
    };
    let mut all = Vec::new();
    for (cause, p) in prior.iter().filter(|(_, p)| *p > 0.0) {
        let compared = compare(conditional, hypotheses(*cause, written), options)?;
        let log = match cause {
            Cause::Unknown => log_likelihood_of_unknown(conditional, ordinary),
            _ => log_sum(compared.iter().map(|c| c.log)),
        };
        all.push((*cause, p.ln() + log, compared));
    }
    let total = log_sum(all.iter().map(|(_, log, _)| *log));
    let kept = all.into_iter().filter(|(_, log, _)| *log > f64::NEG_INFINITY);
    let ranked = kept.map(|(cause, log, compared)| conclude(conditional, cause, (log - total).exp(), compared));
    let mut ranked = ranked.collect::<Result<Vec<_>>>()?;
    ranked.sort_by(|a, b| b.likely.probability.total_cmp(&a.likely.probability));
    Ok(ranked)
}

/// The likelihood of each hypothesis, constants in doubt integrated out; those that cannot be cast are left out.
fn compare(
    conditional: &ConditionalModel,
    hypotheses: Vec<Weighted>,
    options: &DiagnoseOptions,
) -> Result<Vec<Compared>> {
    let one = |(hypothesis, weight): Weighted| {
        if options.cancel.as_ref().is_some_and(|flag| flag.load(Ordering::Relaxed)) {
            let before = "all causes were compared".to_owned();
            return Err(Error::Canceled { before, advice: "ask again".into() });
        }
        let under = conditional.under(hypothesis);
        match climb(&under, Array1::zeros(conditional.coordinates())) {
            Ok(peak) => {
                let log = weight + peak.log_evidence + under.log_width();
                Ok(Some(Compared { hypothesis, peak, log }))
            }
            Err(error) if error.is_recoverable() => Ok(None),
            Err(error) => Err(error),
        }
    };
    let all: Vec<Result<Option<Compared>>> = hypotheses.into_par_iter().map(one).collect();
    Ok(all.into_iter().collect::<Result<Vec<_>>>()?.into_iter().flatten().collect())
}

/// Log likelihood of the readings where each is [`UNKNOWN_WIDENS`] times as uncertain as in an ordinary casting.
fn log_likelihood_of_unknown(conditional: &ConditionalModel, ordinary: &Peak) -> f64 {
    let count = conditional.sds.len();
    let traced = (0..count).filter(|&i| conditional.kind(i) == ReadingKind::Trace).count();
    let independent = count - traced + traced.min(INDEPENDENT_OF_TRACE);
    let forgiven = 0.5 * ordinary.square * (1.0 - UNKNOWN_WIDENS.powi(-2));
    ordinary.log_evidence + forgiven - independent as f64 * UNKNOWN_WIDENS.ln()
}

fn conclude(conditional: &ConditionalModel, cause: Cause, probability: f64, compared: Vec<Compared>) -> Result<Ranked> {
    let total = log_sum(compared.iter().map(|c| c.log));
    let shares: Vec<Weighted> = compared.iter().map(|c| (c.hypothesis, (c.log - total).exp())).collect();
    let best = compared.into_iter().reduce(|a, b| if b.log > a.log { b } else { a }).map(|c| (c.hypothesis, c.peak));
    let effects = match &best {
        Some((hypothesis, peak)) => effects(conditional, &shares, *hypothesis, peak)?,
        None => Vec::new(),
    };
    let reading = match best {
        Some((Hypothesis::Misread(reading), _)) => Some(conditional.kind(reading)),
        _ => None,
    };
    Ok(Ranked { likely: LikelyCause { cause, probability, effects, reading }, best })
}

/// How large a cause is, from the probabilities of its hypotheses, at the constants of the likeliest.
fn effects(
    conditional: &ConditionalModel,
    shares: &[(Hypothesis, f64)],
    best: Hypothesis,
    peak: &Peak,
) -> Result<Vec<EffectSize>> {
    let under = conditional.under(best);
    let setup = under.ordinary_setup(peak.at.view());
    let gauge = under.result(peak.at.view())?.peak_pressure;
    let each: Vec<_> = shares.iter().map(|(h, p)| (h.effects(&setup, gauge), *p)).collect();
    let kinds = best.effects(&setup, gauge).into_iter().map(|(effect, _)| effect);
    Ok(kinds
        .enumerate()
        .map(|(k, effect)| EffectSize::new(effect, each.iter().map(|(sizes, p)| (sizes[k].1, *p)).collect()))
        .collect())
}
