//! What a range of a sweep's points comes to.

use serde::{Deserialize, Serialize};
use std::ops::Range;

use super::column::NUMBERS;
use crate::model::Verdict;

/// What became of a point.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Judgment {
    /// The sweep was stopped before it came to this point.
    NotRun,
    /// Full, without flash.
    Full,
    /// Gelled before it filled the cavity.
    Short,
    /// Full, with flash.
    Flash,
    /// Still flowing at demold.
    Soft,
    /// Cannot be cast as asked: [`Sweep::cast`](super::Sweep::cast) says why.
    Refused,
    /// The integration stopped: [`Sweep::cast`](super::Sweep::cast) says where.
    Failed,
}

impl Judgment {
    /// All of them, in their order.
    pub const ALL: [Judgment; 7] = [
        Judgment::NotRun,
        Judgment::Full,
        Judgment::Short,
        Judgment::Flash,
        Judgment::Soft,
        Judgment::Refused,
        Judgment::Failed,
    ];

    /// In a word or two.
    pub fn name(self) -> &'static str {
        match self {
            Judgment::NotRun => "not run",
            Judgment::Full => "full",
            Judgment::Short => "short",
            Judgment::Flash => "flash",
            Judgment::Soft => "soft",
            Judgment::Refused => "refused",
            Judgment::Failed => "failed",
        }
    }
}

impl From<Verdict> for Judgment {
    fn from(verdict: Verdict) -> Self {
        match verdict {
            Verdict::Full => Judgment::Full,
            Verdict::Short => Judgment::Short,
            Verdict::Flash => Judgment::Flash,
            Verdict::Soft => Judgment::Soft,
        }
    }
}

/// What one point comes to.
#[derive(Clone, Copy, Debug, Serialize, Deserialize)]
pub struct Row {
    /// What became of it.
    pub judgment: Judgment,
    /// Its numbers, SI, in the order of [`COLUMNS`](super::COLUMNS). NaN: did not happen; all NaN where nothing was cast.
    pub numbers: [f64; NUMBERS],
}

impl Row {
    /// A point without numbers.
    pub(super) fn empty(judgment: Judgment) -> Self {
        Row { judgment, numbers: [f64::NAN; NUMBERS] }
    }

    /// The same to the last bit; NaN equals NaN.
    pub fn is_same(&self, other: &Row) -> bool {
        self.judgment == other.judgment && self.numbers.map(f64::to_bits) == other.numbers.map(f64::to_bits)
    }
}

/// The points `start..start + rows.len()` of a sweep.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Block {
    /// Number of the first point.
    pub start: usize,
    /// One row for each point.
    pub rows: Vec<Row>,
}

impl Block {
    /// The points' numbers.
    pub fn range(&self) -> Range<usize> {
        self.start..self.start + self.rows.len()
    }

    /// Points that were run.
    pub fn done(&self) -> usize {
        self.rows.iter().filter(|row| row.judgment != Judgment::NotRun).count()
    }

    /// Whether every point was run; a stopped sweep leaves points out.
    pub fn is_complete(&self) -> bool {
        self.done() == self.rows.len()
    }

    /// One column, SI; shape (n,).
    pub fn column(&self, index: usize) -> impl ExactSizeIterator<Item = f64> + '_ {
        self.rows.iter().map(move |row| row.numbers[index])
    }
}
