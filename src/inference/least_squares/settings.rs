//! When a fit stops, what it counts as zero, and who watches it.

use std::fmt;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

use ndarray::ArrayView1;

/// How a fit is run.
///
/// The defaults suit residuals and Jacobians that are exact to rounding. Where an integrator with relative tolerance
/// `r` stands behind them, set `cost_noise` to about `r`, `acceptable_cosine` to 1e-3 (the answer is then within a
/// thousandth of a standard error times the square root of the degrees of freedom), and `rank_tolerance` above the
/// relative error of the Jacobian.
#[derive(Clone, Debug)]
pub struct Settings {
    /// Trial steps of one run, accepted or not.
    pub max_iterations: u64,
    /// Cosine between the residuals and the plane of all small parameter changes at which a minimum is reached.
    pub cosine_tolerance: f64,
    /// The same cosine up to which a run that can go no further still counts as at a minimum.
    pub acceptable_cosine: f64,
    /// Distance to the minimum of the model that is linear at the end, in standard errors of residuals of unit
    /// variance, up to which such a run counts as at a minimum as well; 0 where the residuals' variance is not known.
    pub acceptable_distance: f64,
    /// Relative change of the sum of squares that rounding or an inner tolerance of the residuals can fake.
    pub cost_noise: f64,
    /// Scaled step, relative to the scaled parameters, below which a run ends.
    pub step_tolerance: f64,
    /// Singular value of the Jacobian with unit columns, relative to the largest, below which a direction is not
    /// identified.
    pub rank_tolerance: f64,
    /// Effect of a parameter on the residuals, relative to the strongest one, below which it has no influence.
    pub influence_tolerance: f64,
    /// First trust radius, relative to the scaled start.
    pub first_radius: f64,
    /// Second attempts with ever shorter first steps when a run ends without success.
    pub second_attempts: usize,
    /// Difference of a parameter, relative to its value or its standard error, the larger, up to which two ends are the
    /// same.
    pub agreement: f64,
    /// Runs from the edge of the confidence region back to the answer, to notice a false one.
    pub verifications: usize,
    /// Set to true from another thread to stop the fit at its next iteration.
    pub cancel: Option<Arc<AtomicBool>>,
    /// Told of every iteration.
    pub watcher: Option<Watcher>,
}

impl Default for Settings {
    fn default() -> Self {
        Settings {
            max_iterations: 1000,
            cosine_tolerance: 1e-9,
            acceptable_cosine: 1e-5,
            acceptable_distance: 0.0,
            cost_noise: 1e-12,
            step_tolerance: 1e-15,
            rank_tolerance: 1e-10,
            influence_tolerance: 1e-10,
            first_radius: 1.0,
            second_attempts: 2,
            agreement: 1e-4,
            verifications: 2,
            cancel: None,
            watcher: None,
        }
    }
}

impl Settings {
    /// Whether someone asked to stop.
    pub(super) fn is_canceled(&self) -> bool {
        self.cancel.as_ref().is_some_and(|flag| flag.load(Ordering::Relaxed))
    }
}

/// What a watcher sees after an iteration.
#[derive(Clone, Copy, Debug)]
pub struct Progress<'a> {
    /// Trial steps of the run so far.
    pub iteration: u64,
    /// Parameters where the run stands; shape (n,).
    pub parameters: ArrayView1<'a, f64>,
    /// Half the sum of squares there.
    pub cost: f64,
    /// Cosine between residuals and the plane of all changes the free parameters can make; 0 at a minimum.
    pub cosine: f64,
    /// Whether the trial step was taken.
    pub taken: bool,
    /// Length of the trial step in scaled parameters.
    pub step: f64,
    /// Trust radius for the next one.
    pub radius: f64,
    /// Damping of the trial step.
    pub damping: f64,
    /// Evaluations that failed and were stepped over.
    pub failures: u64,
}

/// A function that is called after every iteration of all runs of a fit, on whichever thread runs it.
#[derive(Clone)]
pub struct Watcher(Arc<dyn Fn(&Progress) + Send + Sync>);

impl Watcher {
    /// Calls this function.
    pub fn new(tell: impl Fn(&Progress) + Send + Sync + 'static) -> Self {
        Watcher(Arc::new(tell))
    }

    pub(super) fn tell(&self, progress: &Progress) {
        (self.0)(progress);
    }
}

impl fmt::Debug for Watcher {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Watcher")
    }
}
