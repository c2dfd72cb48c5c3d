//! What is known of a grade: best values, and how far and in which combinations they may be off.

use ndarray::{Array1, Array2};
use serde::{Deserialize, Serialize};

use super::free_rise::FreeRiseFit;
use super::options::FitOptions;
use crate::inference::Prior;
use crate::model::Parameter;
use crate::records::Grade;

/// A grade with the doubt about its constants.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct GradeKnowledge {
    /// The grade at its best values.
    pub grade: Grade,
    /// The constants in doubt, each with the prior whose standard deviations the following count in.
    pub parameters: Vec<(Parameter, Prior)>,
    /// Best values, in prior standard deviations from the prior medians; shape (k,).
    pub mean: Array1<f64>,
    /// Covariance, in prior standard deviations; shape (k, k).
    pub covariance: Array2<f64>,
}

impl GradeKnowledge {
    /// What cup tests determine of a grade.
    pub fn from_cup_tests(fit: &FreeRiseFit) -> Self {
        let of_fit: Vec<Parameter> = fit.estimates.iter().filter(|e| e.record.is_none()).map(|e| e.parameter).collect();
        let carried: Vec<Parameter> = Parameter::carried_to_castings().collect();
        let kept: Vec<usize> = (0..of_fit.len()).filter(|&j| carried.contains(&of_fit[j])).collect();
        let k = kept.len();
        GradeKnowledge {
            grade: fit.grade.clone(),
            parameters: kept.iter().map(|&j| (of_fit[j], fit.estimates[j].prior)).collect(),
            mean: Array1::from_shape_fn(k, |a| fit.prior_sds[kept[a]]),
            covariance: Array2::from_shape_fn((k, k), |(a, b)| fit.covariance[[kept[a], kept[b]]]),
        }
    }

    /// A grade known from elsewhere: every constant may be off by its prior standard deviation. What it does without
    /// (0) it is taken to do without.
    pub fn from_priors(grade: &Grade, options: &FitOptions) -> Self {
        let expected = |parameter: Parameter| {
            let value = parameter.of_grade(&grade.constants).filter(|x| *x > 0.0)?;
            options.held(parameter).is_none().then(|| (parameter, options.prior(parameter).around(value)))
        };
        let parameters: Vec<_> = Parameter::carried_to_castings().filter_map(expected).collect();
        let k = parameters.len();
        GradeKnowledge { grade: grade.clone(), parameters, mean: Array1::zeros(k), covariance: Array2::eye(k) }
    }
}
