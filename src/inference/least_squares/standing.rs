//! What the residuals determine of each parameter: free, at a bound, without influence, or lost in a combination.

use serde::{Deserialize, Serialize};
use std::fmt;

use ndarray::{Array1, Array2};

use super::model::Model;
use super::problem::Bounds;
use super::settings::Settings;
use crate::numerics::orthogonal::Svd;

/// An end of the range of a parameter.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Side {
    /// The smallest value.
    Lower,
    /// The largest value.
    Upper,
}

/// How a parameter stands at the answer.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Standing {
    /// Determined by the residuals.
    Free,
    /// Held at one value by equal bounds.
    Held,
    /// Pressed against a bound.
    AtBound(Side),
    /// Changing it does not change the residuals.
    NoInfluence,
    /// Only a combination with these other parameters (places in the parameter list) is determined.
    NotIdentified {
        /// Places of the other parameters in the undetermined combinations.
        partners: Vec<usize>,
    },
}

impl fmt::Display for Standing {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Standing::Free => f.write_str("free"),
            Standing::Held => f.write_str("held"),
            Standing::AtBound(Side::Lower) => f.write_str("at its lower bound"),
            Standing::AtBound(Side::Upper) => f.write_str("at its upper bound"),
            Standing::NoInfluence => f.write_str("no influence"),
            Standing::NotIdentified { .. } => f.write_str("not identified"),
        }
    }
}

/// Standings, covariance for residuals of unit variance (NaN beside parameters that are not free), and rank.
pub(super) struct Knowledge {
    pub standings: Vec<Standing>,
    pub covariance: Array2<f64>,
    pub rank: usize,
}

/// Squared share of the undetermined directions (length 1, unit columns) from which a parameter belongs to them.
const MIN_MEMBER_SHARE: f64 = 1e-6;

/// Reads from the singular values of the Jacobian with unit columns what is known of each parameter.
pub(super) fn knowledge(model: &Model, bounds: &Bounds, start: &Array1<f64>, settings: &Settings) -> Knowledge {
    let influence = influence(model, bounds, start);
    let n = bounds.len();
    let mut standings: Vec<Standing> = (0..n).map(|j| first_standing(model, bounds, &influence, j, settings)).collect();
    let mut model = model.clone();
    model.free = standings.iter().map(|s| *s == Standing::Free).collect();
    let (places, columns) = model.unit_columns();
    let svd = Svd::of(columns.view());
    let kept = svd.kept(settings.rank_tolerance);
    mark_unidentified(&mut standings, &places, &svd, &kept);
    let covariance = covariance(&model, &places, &svd, &kept, &standings);
    Knowledge { standings, covariance, rank: kept.iter().filter(|&&k| k).count() }
}

/// Effect on the residuals of changing each parameter by its own size, relative to the strongest parameter.
///
/// The size is the larger of the values at start and answer; for a parameter at zero, one unit or its finite range.
fn influence(model: &Model, bounds: &Bounds, start: &Array1<f64>) -> Array1<f64> {
    let effect = Array1::from_shape_fn(bounds.len(), |j| {
        let size = model.point.p[j].abs().max(start[j].abs());
        let range = bounds.upper[j] - bounds.lower[j];
        model.norms[j] * if size > 0.0 { size } else { range.min(1.0) }
    });
    let strongest = effect.fold(0.0_f64, |a, &b| a.max(b));
    if strongest > 0.0 { effect / strongest } else { effect }
}

fn first_standing(model: &Model, bounds: &Bounds, influence: &Array1<f64>, j: usize, settings: &Settings) -> Standing {
    if bounds.holds(j) {
        Standing::Held
    } else if influence[j] <= settings.influence_tolerance {
        Standing::NoInfluence
    } else if model.free[j] {
        Standing::Free
    } else if model.point.p[j] <= bounds.lower[j] {
        Standing::AtBound(Side::Lower)
    } else {
        Standing::AtBound(Side::Upper)
    }
}

fn mark_unidentified(standings: &mut [Standing], places: &[usize], svd: &Svd, kept: &[bool]) {
    let lost: Vec<usize> = (0..kept.len()).filter(|&i| !kept[i]).collect();
    // The projector on the lost directions does not depend on which basis of them the decomposition chose.
    let shared = |a: usize, b: usize| lost.iter().map(|&i| svd.v[[i, a]] * svd.v[[i, b]]).sum::<f64>().abs();
    for (a, &j) in places.iter().enumerate() {
        if shared(a, a) > MIN_MEMBER_SHARE {
            let partners = (0..places.len()).filter(|&b| b != a && shared(a, b) > MIN_MEMBER_SHARE);
            standings[j] = Standing::NotIdentified { partners: partners.map(|b| places[b]).collect() };
        }
    }
}

/// Inverse of JᵀJ from the singular values, over the directions that are determined.
fn covariance(model: &Model, places: &[usize], svd: &Svd, kept: &[bool], standings: &[Standing]) -> Array2<f64> {
    let n = standings.len();
    let mut covariance = Array2::from_elem((n, n), f64::NAN);
    for (a, &i) in places.iter().enumerate() {
        for (b, &j) in places.iter().enumerate() {
            if standings[i] != Standing::Free || standings[j] != Standing::Free {
                continue;
            }
            let directions = (0..kept.len()).filter(|&k| kept[k]);
            let sum: f64 = directions.map(|k| svd.v[[k, a]] / svd.values[k] * (svd.v[[k, b]] / svd.values[k])).sum();
            covariance[[i, j]] = sum / model.norms[i] / model.norms[j];
        }
    }
    covariance
}
