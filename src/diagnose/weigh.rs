//! What each cause is worth: how likely it makes the readings, over all its sizes, times how often it happens.

use std::sync::atomic::Ordering;

use ndarray::Array1;
use rayon::prelude::*;
use serde::Serialize;

use super::cause::{Cause, DiagnoseOptions};
use super::misfit::What;
use super::size::Size;
use super::suspect::{Suspect, TRACE_COUNTS};
use super::suspicion::{Suspicion, log_sum, suspicions};
use crate::error::{Error, Result};
use crate::fit::CastingSetup;
use crate::numerics::laplace::{Peak, climb};
use crate::units::Quantity;

/// A cause that is not on the list makes readings this many times as uncertain.
const UNKNOWN: f64 = 4.0;

/// A cause, how likely it is and how large it would be.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Likely {
    /// The cause.
    pub cause: Cause,
    /// Its probability, given all readings.
    pub probability: f64,
    /// How large it would be; empty where there is no size.
    pub sizes: Vec<Size>,
    /// The reading that would be wrong.
    pub reading: Option<What>,
}

/// A cause with its likeliest size and constants.
pub(super) struct Ranked {
    pub likely: Likely,
    pub best: Option<(Suspicion, Peak)>,
}

/// A size that was looked at: logarithm of its probability times that of the readings.
struct Seen {
    suspicion: Suspicion,
    peak: Peak,
    log: f64,
}

/// All causes that can be, likeliest first.
pub(super) fn ranked(
    suspect: &Suspect,
    nothing: &Peak,
    prior: &[(Cause, f64)],
    options: &DiagnoseOptions,
) -> Result<Vec<Ranked>> {
    let reached = suspect.under(Suspicion::Nothing).result(Array1::zeros(suspect.coordinates()).view())?.peak_pressure;
    let possible = prior.iter().filter(|(_, p)| *p > 0.0);
    let mut all = Vec::new();
    for (cause, p) in possible {
        let seen = look(suspect, *cause, reached, options)?;
        let log = match cause {
            Cause::Unknown => unknown(suspect, nothing),
            _ => log_sum(seen.iter().map(|s| s.log)),
        };
        all.push((*cause, p.ln() + log, seen));
    }
    let total = log_sum(all.iter().map(|(_, log, _)| *log));
    let kept = all.into_iter().filter(|(_, log, _)| *log > f64::NEG_INFINITY);
    let ranked = kept.map(|(cause, log, seen)| conclude(suspect, cause, (log - total).exp(), seen));
    let mut ranked = ranked.collect::<Result<Vec<_>>>()?;
    ranked.sort_by(|a, b| b.likely.probability.total_cmp(&a.likely.probability));
    Ok(ranked)
}

/// Looks at all sizes of a cause; those that cannot be cast are left out.
fn look(suspect: &Suspect, cause: Cause, reached: f64, options: &DiagnoseOptions) -> Result<Vec<Seen>> {
    let model = suspect.model;
    let sizes = suspicions(cause, &model.trial.casting, &model.setup.cavity, suspect.sds.len(), reached);
    let seen: Vec<Result<Option<Seen>>> = sizes
        .into_par_iter()
        .map(|(suspicion, weight)| {
            if options.cancel.as_ref().is_some_and(|flag| flag.load(Ordering::Relaxed)) {
                let reason = "stopped on request before all causes were weighed".to_owned();
                return Err(Error::Fit { reason, advice: "ask again".into() });
            }
            let look = suspect.under(suspicion);
            match climb(&look, Array1::zeros(suspect.coordinates())) {
                Ok(peak) => {
                    let log = weight + peak.log_evidence + look.log_width();
                    Ok(Some(Seen { suspicion, peak, log }))
                }
                Err(error) if error.is_recoverable() => Ok(None),
                Err(error) => Err(error),
            }
        })
        .collect();
    Ok(seen.into_iter().collect::<Result<Vec<_>>>()?.into_iter().flatten().collect())
}

/// Logarithm of the readings' probability where each is [`UNKNOWN`] times as uncertain as in an ordinary casting.
fn unknown(suspect: &Suspect, nothing: &Peak) -> f64 {
    let traced = (0..suspect.sds.len()).filter(|&i| suspect.what(i) == What::Trace).count();
    let count = suspect.sds.len() - traced + traced.min(TRACE_COUNTS);
    let forgiven = 0.5 * nothing.square * (1.0 - UNKNOWN.powi(-2));
    nothing.log_evidence + forgiven - count as f64 * UNKNOWN.ln()
}

fn conclude(suspect: &Suspect, cause: Cause, probability: f64, seen: Vec<Seen>) -> Result<Ranked> {
    let total = log_sum(seen.iter().map(|s| s.log));
    let shares: Vec<(Suspicion, f64)> = seen.iter().map(|s| (s.suspicion, (s.log - total).exp())).collect();
    let best = seen.into_iter().reduce(|a, b| if b.log > a.log { b } else { a }).map(|s| (s.suspicion, s.peak));
    let sizes = match &best {
        Some((suspicion, peak)) => {
            let setup = suspect.under(*suspicion).setup(peak.at.view())?;
            let gauge = suspect.under(*suspicion).result(peak.at.view())?.peak_pressure;
            sizes(&shares, *suspicion, &setup, gauge)
        }
        None => Vec::new(),
    };
    let reading = match best {
        Some((Suspicion::Misread(reading), _)) => Some(suspect.what(reading)),
        _ => None,
    };
    Ok(Ranked { likely: Likely { cause, probability, sizes, reading }, best })
}

/// The sizes of a cause in the shop's terms; `setup` and the peak gauge pressure are those of the likeliest.
fn sizes(shares: &[(Suspicion, f64)], best: Suspicion, setup: &CastingSetup<f64>, gauge: f64) -> Vec<Size> {
    let of = |pick: &dyn Fn(&Suspicion) -> f64| shares.iter().map(|(s, p)| (pick(s), *p)).collect::<Vec<_>>();
    let plain = of(&|s| match *s {
        Suspicion::Charge(x) | Suspicion::MoldTemp(x) | Suspicion::MixTemp(x) | Suspicion::Late(x) => x,
        Suspicion::Lot(factor) => factor - 1.0,
        Suspicion::Clamp { share: x, .. } | Suspicion::Vent(x) | Suspicion::Leak { diameter: x, .. } => x,
        Suspicion::Nothing | Suspicion::Misread(_) => 0.0,
    });
    match best {
        Suspicion::Nothing | Suspicion::Misread(_) => Vec::new(),
        Suspicion::Charge(_) => vec![Size::between("charge_error", Quantity::Mass, plain)],
        Suspicion::MoldTemp(_) => vec![Size::between("mold_temp_error", Quantity::TemperatureRise, plain)],
        Suspicion::MixTemp(_) => vec![Size::between("mix_temp_error", Quantity::TemperatureRise, plain)],
        Suspicion::Late(_) => vec![Size::between("closing_delay", Quantity::Time, plain)],
        Suspicion::Lot(_) => vec![Size::between("gas_change", Quantity::Fraction, plain)],
        Suspicion::Vent(ratio) => vec![vent(setup, ratio, plain)],
        Suspicion::Clamp { share, .. } => clamp(setup, share, plain, gauge),
        Suspicion::Leak { .. } => leak(
            setup,
            plain,
            of(&|s| match *s {
                Suspicion::Leak { gauge, .. } => gauge,
                _ => 0.0,
            }),
        ),
    }
}

/// The widest vent as it was instead of as written. The setup's own is corrected by what castings say of all vents.
fn vent(setup: &CastingSetup<f64>, ratio: f64, ratios: Vec<(f64, f64)>) -> Size {
    let own = setup.cavity.vents.iter().map(|vent| vent.diameter);
    let given = setup.casting.vent_diameters.iter().copied().reduce(f64::max).filter(|d| *d > 0.0);
    let widest = given.or(own.reduce(f64::max)).unwrap_or(0.0) / ratio;
    Size::among("vent", Quantity::Length, ratios.into_iter().map(|(r, p)| (r * widest, p)).collect())
}

fn clamp(setup: &CastingSetup<f64>, share: f64, shares: Vec<(f64, f64)>, gauge: f64) -> Vec<Size> {
    let held = setup.casting.clamp_force.or(setup.cavity.clamp_force).unwrap_or(0.0);
    let area = setup.cavity.projected_area;
    let opening = setup.cavity.parting_line.map_or(0.0, |line| line.opening);
    let scaled = |by: f64| shares.iter().map(|(s, p)| (s * by, *p)).collect::<Vec<_>>();
    let full = held / share;
    let lift = |force: f64| opening * (gauge * area - force).max(0.0);
    vec![
        Size::between("clamp_held", Quantity::Force, scaled(full)),
        Size::between("opened_at", Quantity::GaugePressure, scaled(full / area)),
        Size::between("lift", Quantity::Length, shares.iter().map(|(s, p)| (lift(s * full), *p)).collect()),
    ]
}

fn leak(setup: &CastingSetup<f64>, diameters: Vec<(f64, f64)>, gauges: Vec<(f64, f64)>) -> Vec<Size> {
    let mut out = vec![
        Size::between("leak_diameter", Quantity::Length, diameters.clone()),
        Size::among("opened_at", Quantity::GaugePressure, gauges),
    ];
    if let Some(line) = &setup.cavity.parting_line {
        // A slot along the whole line that passes as much foam: w h^3 / 12 = pi d^4 / 128.
        let gap = |d: f64| (12.0 * std::f64::consts::PI * d.powi(4) / (128.0 * line.length)).cbrt();
        let gaps = diameters.into_iter().map(|(d, p)| (gap(d), p)).collect();
        out.push(Size::between("gap", Quantity::Length, gaps));
    }
    out
}
