//! How a fit is run: what is held, which priors, how many starts.

use std::sync::Arc;
use std::sync::atomic::AtomicBool;

use crate::inference::Prior;
use crate::inference::least_squares::{Settings, Watcher};
use crate::inference::reweighting::Rounds;
use crate::model::Parameter;
use crate::physics::casting::Accuracy;

/// Accuracy of a draw's simulation: far below what the draws differ by.
pub(super) const DRAW_ACCURACY: Accuracy = Accuracy { relative: 1e-5 };

/// Tolerance of the last round of a fit, as a share of that of the others.
const LAST_ROUND: f64 = 0.05;

/// Options of a fit.
#[derive(Clone, Debug)]
pub struct FitOptions {
    /// Starts to fit from, the first at what the records suggest, the others scattered over the priors.
    pub starts: usize,
    /// Parameters that keep this value (SI); the time in which cells open may be infinite: they stay closed.
    pub held: Vec<(Parameter, f64)>,
    /// Priors instead of the parameters' own.
    pub priors: Vec<(Parameter, Prior)>,
    /// What the model is taken to miss of logged rises, as a multiple of what is usual (half a percent of a height, one
    /// percent of a temperature, in pieces of a fifth of the rise). 0: the logs came out of this model.
    pub model_error: f64,
    /// Accuracy of the simulations.
    pub accuracy: Accuracy,
    /// How many threads work; `None`: one for each core. The numbers do not depend on it.
    pub threads: Option<usize>,
    /// Set to true from another thread to stop the fit at its next iteration.
    pub cancel: Option<Arc<AtomicBool>>,
    /// Told of every iteration.
    pub watcher: Option<Watcher>,
}

impl Default for FitOptions {
    fn default() -> Self {
        FitOptions {
            starts: 4,
            held: Vec::new(),
            priors: Vec::new(),
            model_error: 1.0,
            accuracy: Accuracy { relative: 1e-6 },
            threads: None,
            cancel: None,
            watcher: None,
        }
    }
}

impl FitOptions {
    /// The prior of a parameter in this fit.
    pub(super) fn prior(&self, parameter: Parameter) -> Prior {
        let given = self.priors.iter().find(|(p, _)| *p == parameter);
        given.map_or_else(|| parameter.prior(), |(_, prior)| *prior)
    }

    /// The same, integrated closely enough for the last round of a fit.
    pub(super) fn finer(&self) -> Self {
        FitOptions { accuracy: Accuracy { relative: LAST_ROUND * self.accuracy.relative }, ..self.clone() }
    }

    /// A fit in so many rounds, the last integrated more closely.
    pub(super) fn rounds(&self, count: usize) -> Rounds {
        let last = self.finer();
        Rounds {
            count,
            starts: self.starts,
            settings: self.settings(),
            last: last.settings(),
            last_tolerance: last.accuracy.relative,
        }
    }

    /// The value at which a parameter is held, if it is.
    pub(super) fn held(&self, parameter: Parameter) -> Option<f64> {
        self.held.iter().find(|(p, _)| *p == parameter).map(|(_, value)| *value)
    }

    /// Settings of the least-squares core that suit residuals from an integrator: its steps fall differently at
    /// neighboring points, which fakes changes of some tens of its tolerance. Residuals are in standard deviations, so
    /// that where a run stops short can be counted in standard errors: a tenth is nothing that a user could notice.
    pub(super) fn settings(&self) -> Settings {
        Settings {
            max_iterations: 200,
            cosine_tolerance: 1e-4,
            acceptable_cosine: 1e-4,
            acceptable_distance: 0.1,
            cost_noise: 20.0 * self.accuracy.relative,
            rank_tolerance: 1e-9,
            // Every parameter counts, through its prior if through nothing else; one that ends a hair off its median
            // would else pass for one without effect, and its error for zero.
            influence_tolerance: 0.0,
            second_attempts: 1,
            agreement: 0.05,
            verifications: 1,
            cancel: self.cancel.clone(),
            watcher: self.watcher.clone(),
            ..Settings::default()
        }
    }
}

/// Position number `index` of a low-discrepancy sequence in `n` dimensions, each between -1 and 1: start points that
/// cover a box evenly, the same every time. Additive recurrence with the generalized golden ratio.
pub(super) fn scattered(index: usize, n: usize) -> Vec<f64> {
    let mut ratio = 2.0_f64;
    for _ in 0..40 {
        ratio = (1.0 + ratio).powf(1.0 / (n as f64 + 1.0));
    }
    (1..=n)
        .map(|j| {
            let step = ratio.powi(-(j as i32)).fract();
            2.0 * (0.5 + step * index as f64).fract() - 1.0
        })
        .collect()
}
