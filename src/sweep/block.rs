//! What a range of a sweep's points comes to.

use serde::{Deserialize, Serialize};
use std::ops::Range;

use crate::model::{Outcome, Verdict};

/// What became of a point.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Judgment {
    /// The sweep was stopped before it came to this point.
    NotRun,
    /// It was cast: what the part is like.
    Cast(Verdict),
    /// Cannot be cast as asked: [`Sweep::cast`](super::Sweep::cast) says why.
    Refused,
    /// The integration stopped: [`Sweep::cast`](super::Sweep::cast) says where.
    Failed,
}

impl Judgment {
    /// All of them, in their order.
    pub fn all() -> impl Iterator<Item = Judgment> {
        let cast = Verdict::all().map(Judgment::Cast);
        [Judgment::NotRun].into_iter().chain(cast).chain([Judgment::Refused, Judgment::Failed])
    }

    /// In a word or two.
    pub fn name(self) -> &'static str {
        match self {
            Judgment::NotRun => "not run",
            Judgment::Cast(verdict) => verdict.name(),
            Judgment::Refused => "refused",
            Judgment::Failed => "failed",
        }
    }
}

/// What one point comes to.
#[derive(Clone, Copy, Debug, Serialize, Deserialize)]
pub struct Row {
    /// What became of it.
    pub judgment: Judgment,
    /// Its numbers, SI, in the order of [`Outcome`]. NaN: did not happen; all NaN where nothing was cast.
    pub numbers: [f64; Outcome::COUNT],
}

impl Row {
    /// A point without numbers.
    pub(super) fn empty(judgment: Judgment) -> Self {
        Row { judgment, numbers: [f64::NAN; Outcome::COUNT] }
    }

    /// Its outcome of this kind, SI; NaN where it did not come to it.
    pub fn of(&self, outcome: Outcome) -> f64 {
        self.numbers[outcome as usize]
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

    /// One outcome of every point, SI; shape (n,).
    pub fn column(&self, of: Outcome) -> impl ExactSizeIterator<Item = f64> + '_ {
        self.rows.iter().map(move |row| row.of(of))
    }
}
