//! What may have happened to a casting, and how often it does.

use std::sync::Arc;
use std::sync::atomic::AtomicBool;

use serde::Serialize;

use crate::error::{Error, Result};

/// A cause of an odd casting.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub enum Cause {
    /// Nothing in particular: ordinary scatter.
    Scatter,
    /// Another mass was poured than written down.
    Charge,
    /// An opening that should not be there, from some pressure on.
    Leak,
    /// The clamp gave way below the force written down.
    Clamp,
    /// Another vent was in the mold than written down, or part of it was blocked.
    Vent,
    /// The mold was colder or hotter than written down.
    MoldTemp,
    /// The mix was colder or hotter than written down.
    MixTemp,
    /// The mold was closed later than written down: what had risen above it came out.
    LateClosing,
    /// Another lot, or another mix ratio: it makes more or less gas, faster or slower.
    Lot,
    /// One of the readings is wrong.
    Misread,
    /// None of these.
    Unknown,
}

impl Cause {
    /// All of them.
    pub const ALL: [Cause; 11] = [
        Cause::Scatter,
        Cause::Charge,
        Cause::Leak,
        Cause::Clamp,
        Cause::Vent,
        Cause::MoldTemp,
        Cause::MixTemp,
        Cause::LateClosing,
        Cause::Lot,
        Cause::Misread,
        Cause::Unknown,
    ];

    /// Its name in calls and tables.
    pub fn name(self) -> &'static str {
        match self {
            Cause::Scatter => "scatter",
            Cause::Charge => "charge",
            Cause::Leak => "leak",
            Cause::Clamp => "clamp",
            Cause::Vent => "vent",
            Cause::MoldTemp => "mold_temp",
            Cause::MixTemp => "mix_temp",
            Cause::LateClosing => "late_closing",
            Cause::Lot => "lot",
            Cause::Misread => "misread",
            Cause::Unknown => "unknown",
        }
    }

    /// The cause of this name.
    ///
    /// # Errors
    /// [`Error::Argument`] for another name.
    pub fn named(name: &str) -> Result<Cause> {
        Cause::ALL.into_iter().find(|cause| cause.name() == name).ok_or_else(|| {
            let all: Vec<&str> = Cause::ALL.iter().map(|cause| cause.name()).collect();
            Error::argument("cause", format!("{name:?}"), all.join(", "), "write one of these names")
        })
    }

    /// How many of a hundred castings it happens to. Common practice, no source: say your own in
    /// [`DiagnoseOptions::odds`].
    pub fn usual_odds(self) -> f64 {
        match self {
            Cause::Scatter => 79.0,
            Cause::Charge => 4.0,
            Cause::Leak | Cause::Clamp => 3.0,
            Cause::Vent | Cause::MoldTemp | Cause::LateClosing => 2.0,
            Cause::MixTemp | Cause::Misread => 1.5,
            Cause::Lot => 1.0,
            Cause::Unknown => 1.0,
        }
    }
}

/// How castings are diagnosed.
#[derive(Clone, Debug)]
pub struct DiagnoseOptions {
    /// A casting that is less likely than this, given the others, is odd, and its causes are weighed. At 1, all are.
    pub odd_below: f64,
    /// How often causes happen instead of [`Cause::usual_odds`]; any scale, zero for never.
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
    /// The probability of each cause before anything is read, in the order of [`Cause::ALL`]; they add up to 1.
    ///
    /// # Errors
    /// [`Error::Argument`] for odds below zero, or none above.
    pub fn prior(&self) -> Result<Vec<(Cause, f64)>> {
        let given = |cause: Cause| self.odds.iter().find(|(c, _)| *c == cause).map(|(_, odds)| *odds);
        let odds: Vec<f64> = Cause::ALL.into_iter().map(|c| given(c).unwrap_or_else(|| c.usual_odds())).collect();
        let total: f64 = odds.iter().sum();
        if odds.iter().any(|x| !x.is_finite() || *x < 0.0) || total <= 0.0 {
            let expected = "numbers of zero or more, not all zero";
            return Err(Error::argument("odds", format!("{odds:?}"), expected, "count castings out of a hundred"));
        }
        Ok(Cause::ALL.into_iter().zip(odds.iter().map(|x| x / total)).collect())
    }

    pub(super) fn check(&self) -> Result<()> {
        if self.odd_below > 0.0 && self.odd_below <= 1.0 {
            return Ok(());
        }
        let advice = "0.01 calls one ordinary casting in a hundred odd";
        Err(Error::argument("odd_below", self.odd_below, "above 0, at most 1", advice))
    }
}
