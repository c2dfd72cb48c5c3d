//! What a fit knows of each parameter: value, error, and whether the records or only the prior determine it.

use ndarray::{Array2, Axis};
use serde::{Deserialize, Serialize};

use super::coordinates::Coordinates;
use super::least_squares::{Noise, Side, Solution, Standing};
use super::prior::Prior;
use super::records::Estimand;
use crate::numerics::triangular::{cholesky, solve_normal};

/// Two-sided 95 % of a normal distribution, in standard deviations.
pub const TWO_SIDED_95: f64 = 1.959_963_984_540_054;
/// A parameter whose error is above this share of its prior standard deviation was not identified by the records.
const NOT_IDENTIFIED_ABOVE: f64 = 0.85;
/// Below this share it would be identified if all others were known.
const IDENTIFIED_ALONE_BELOW: f64 = 0.5;
/// A value this many standard deviations from the center of its prior is surprising.
const SURPRISING_SDS: f64 = 3.0;
/// Correlations above this are worth a word.
const NOTABLE_CORRELATION: f64 = 0.5;

/// What happened to a parameter in a fit.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub enum Status {
    /// The records determine it.
    Free,
    /// It stands at an end of what is allowed.
    AtBound,
    /// These records do not determine it: value and error are those of the prior.
    NoInfluence,
    /// The records determine a combination of it with these, not it alone.
    NotIdentified {
        /// The parameters it trades off with.
        with: Vec<String>,
    },
}

/// A fitted parameter, in SI units.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Estimate<P> {
    /// The parameter.
    pub parameter: P,
    /// The log or trial that it belongs to, if it is a record's own.
    pub record: Option<String>,
    /// Fitted value.
    pub value: f64,
    /// Standard error of the value.
    pub standard_error: f64,
    /// Limits of the 95 % interval.
    pub interval_95: (f64, f64),
    /// What was expected before any record.
    pub prior: Prior,
    /// What happened.
    pub status: Status,
}

impl Status {
    fn words(&self) -> String {
        match self {
            Status::Free => "well determined".to_owned(),
            Status::AtBound => "at the end of what is allowed".to_owned(),
            Status::NoInfluence => "not determined by these records".to_owned(),
            Status::NotIdentified { with } => format!("cannot be separated from {}", with.join(", ")),
        }
    }
}

impl<P: Estimand> Estimate<P> {
    /// Its status in words, as reports, summaries and frames have it.
    pub fn status_words(&self) -> String {
        let far = if self.is_far() { ", far from its prior" } else { "" };
        format!("{}{far}", self.status.words())
    }

    /// Whether the records pull it far from its prior.
    pub fn is_far(&self) -> bool {
        self.status == Status::Free && self.prior.sds(self.value).abs() > SURPRISING_SDS
    }

    /// Name with its unit and, for a record's own, the record.
    pub fn name(&self) -> String {
        full_name(self.parameter, self.record.as_deref())
    }

    /// Limits of what was expected with 95 % before any record.
    pub fn prior_95(&self) -> (f64, f64) {
        (self.prior.value(-TWO_SIDED_95), self.prior.value(TWO_SIDED_95))
    }
}

/// Name with its unit and, for a record's own, the record.
pub fn full_name<P: Estimand>(parameter: P, record: Option<&str>) -> String {
    match record {
        Some(record) => format!("{} of {record}", parameter.name()),
        None => parameter.name().to_owned(),
    }
}

/// Covariance in prior standard deviations q, from that of the positions z.
pub fn covariance_in_prior_sds<P>(coordinates: &Coordinates<P>, of_positions: &Array2<f64>) -> Array2<f64> {
    coordinates.whitening.dot(of_positions).dot(&coordinates.whitening.t())
}

/// Covariance of the positions: a parameter at its bound has none.
pub fn covariance_of_positions(solution: &Solution, noise_variance: f64) -> Array2<f64> {
    let known = solution.covariance(Noise::Known);
    known.mapv(|c| if c.is_finite() { c * noise_variance } else { 0.0 })
}

/// Covariance of the positions from what is known of them: a parameter at its bound has none.
pub fn covariance_by_information(solution: &Solution, information: &Array2<f64>) -> Array2<f64> {
    let is_free = |j: &usize| solution.standings[*j] == Standing::Free;
    let free: Vec<usize> = (0..solution.standings.len()).filter(is_free).collect();
    let known = information.select(Axis(0), &free).select(Axis(1), &free);
    let inverse = solve_normal(cholesky(known.view()).view(), Array2::eye(free.len()).view());
    let mut covariance = Array2::zeros(information.dim());
    inverse.indexed_iter().for_each(|((a, b), x)| covariance[[free[a], free[b]]] = *x);
    covariance
}

/// The account of all parameters at a solution.
pub fn estimates<P: Estimand>(
    coordinates: &Coordinates<P>,
    solution: &Solution,
    covariance: &Array2<f64>,
    records: &[String],
) -> Vec<Estimate<P>> {
    let sds = coordinates.prior_sds(solution.parameters.view());
    (0..coordinates.len())
        .map(|j| {
            let axis = &coordinates.axes[j];
            let error = covariance[[j, j]].max(0.0).sqrt();
            let q = sds[j];
            let at = |k: f64| axis.prior.clamp(axis.prior.value(q + k * error));
            Estimate {
                parameter: axis.parameter,
                record: axis.record.map(|r| records[r].clone()),
                value: axis.prior.value(q),
                standard_error: axis.prior.derivative(q).abs() * error,
                interval_95: (at(-TWO_SIDED_95), at(TWO_SIDED_95)),
                prior: axis.prior,
                status: status(j, coordinates, solution, covariance, records),
            }
        })
        .collect()
}

fn status<P: Estimand>(
    j: usize,
    coordinates: &Coordinates<P>,
    solution: &Solution,
    covariance: &Array2<f64>,
    records: &[String],
) -> Status {
    if let Standing::AtBound(Side::Lower | Side::Upper) = solution.standings[j] {
        return Status::AtBound;
    }
    let before = coordinates.whitening.row(j).dot(&coordinates.whitening.row(j)).sqrt();
    let error = covariance[[j, j]].max(0.0).sqrt();
    if error < NOT_IDENTIFIED_ABOVE * before {
        return Status::Free;
    }
    // Were all others known, only this column of the Jacobian (which holds the prior's row as well) would count.
    let alone = 1.0 / solution.jacobian.column(j).dot(&solution.jacobian.column(j)).sqrt();
    let mut partners: Vec<(f64, usize)> = (0..coordinates.len())
        .filter(|&k| k != j && covariance[[k, k]] > 0.0)
        .map(|k| ((covariance[[j, k]] / (error * covariance[[k, k]].sqrt())).abs(), k))
        .filter(|(r, _)| *r > NOTABLE_CORRELATION)
        .collect();
    partners.sort_by(|a, b| b.0.total_cmp(&a.0));
    let identified_alone = alone < IDENTIFIED_ALONE_BELOW * coordinates.whitening[[j, j]].abs().max(f64::MIN_POSITIVE);
    if !identified_alone || partners.is_empty() {
        return Status::NoInfluence;
    }
    let name =
        |k: usize| full_name(coordinates.axes[k].parameter, coordinates.axes[k].record.map(|r| records[r].as_str()));
    Status::NotIdentified { with: partners.iter().take(3).map(|(_, k)| name(*k)).collect() }
}
