//! How castings are diagnosed: which are odd, and how often causes happen.

use std::sync::Arc;
use std::sync::atomic::AtomicBool;

use crate::error::{Error, Result};
use crate::model::Cause;

/// How castings are diagnosed.
#[derive(Clone, Debug)]
pub struct DiagnoseOptions {
    /// A casting that is less likely than this, given the others, is odd, and its causes are compared. At 1, all are.
    pub odd_below: f64,
    /// How often causes happen instead of their usual odds; any scale, zero for never.
    pub odds: Vec<(Cause, f64)>,
    /// Set to true from another thread to stop.
    pub cancel: Option<Arc<AtomicBool>>,
}

impl Default for DiagnoseOptions {
    fn default() -> Self {
        DiagnoseOptions { odd_below: 0.01, odds: Vec::new(), cancel: None }
    }
}

impl DiagnoseOptions {
    /// The prior probability of each cause, in the order of [`Cause::all`]; they add up to 1.
    ///
    /// # Errors
    /// [`Error::Argument`] for odds below zero, or none above.
    pub fn prior(&self) -> Result<Vec<(Cause, f64)>> {
        let given = |cause: Cause| self.odds.iter().find(|(c, _)| *c == cause).map(|(_, odds)| *odds);
        let odds: Vec<f64> = Cause::all().map(|c| given(c).unwrap_or_else(|| c.row().usual_odds)).collect();
        let total: f64 = odds.iter().sum();
        if odds.iter().any(|x| !x.is_finite() || *x < 0.0) || total <= 0.0 {
            let expected = "numbers of zero or more, not all zero";
            return Err(Error::argument("odds", format!("{odds:?}"), expected, "count castings out of a hundred"));
        }
        Ok(Cause::all().zip(odds.iter().map(|x| x / total)).collect())
    }

    pub(super) fn check(&self) -> Result<()> {
        if self.odd_below > 0.0 && self.odd_below <= 1.0 {
            return Ok(());
        }
        let advice = "0.01 calls one ordinary casting in a hundred odd";
        Err(Error::argument("odd_below", self.odd_below, "above 0, at most 1", advice))
    }
}
