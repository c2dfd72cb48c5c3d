//! What the parts of castings are like: one row for each verdict, with its words; and from where on a part is called
//! so.

use serde::{Deserialize, Serialize};

/// What a part is like, as the model has it or as a shop saw it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Verdict {
    /// Full, without flash.
    Full,
    /// The foam gelled before it filled the cavity.
    Short,
    /// Full, with flash at the parting line or a leak.
    Flash,
    /// Still flowing at demold.
    Soft,
}

/// What is known of a verdict.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct VerdictRow {
    /// The verdict.
    pub verdict: Verdict,
    /// In a word, as in ledgers, summaries and maps.
    pub name: &'static str,
    /// The part, in a few words.
    pub part: &'static str,
    /// Whether the foam filled the cavity.
    pub is_full: bool,
    /// Whether foam came out where it should not.
    pub has_flash: bool,
    /// Whether a shop writes it into a ledger.
    pub in_ledger: bool,
}

/// The model calls a part flashed above this share of what was poured.
pub(crate) const FLASH_SHARE: f64 = 1e-3;
/// Flash, kg, that half of all eyes call flash, and the standard deviation of that. Common practice, no source.
pub(crate) const FLASH_TO_THE_EYE: (f64, f64) = (0.3e-3, 0.15e-3);
/// A sealed cavity, whose air cannot leave, counts as full above this share.
pub(crate) const SEALED_FULL: f64 = 0.98;

const fn row(verdict: Verdict, name: &'static str, part: &'static str) -> VerdictRow {
    VerdictRow { verdict, name, part, is_full: false, has_flash: false, in_ledger: true }
}

/// The verdicts, in the order of [`Verdict`].
static ROWS: [VerdictRow; 4] = [
    VerdictRow { is_full: true, ..row(Verdict::Full, "full", "Full part") },
    row(Verdict::Short, "short", "Short shot"),
    VerdictRow { is_full: true, has_flash: true, ..row(Verdict::Flash, "flash", "Full part with flash") },
    VerdictRow { in_ledger: false, ..row(Verdict::Soft, "soft", "Soft part") },
];

impl Verdict {
    /// All of them.
    pub fn all() -> impl Iterator<Item = Verdict> {
        ROWS.iter().map(|row| row.verdict)
    }

    /// What is known of it.
    pub fn row(self) -> &'static VerdictRow {
        &ROWS[self as usize]
    }

    /// In a word, as in ledgers, summaries and maps.
    pub fn name(self) -> &'static str {
        self.row().name
    }

    /// Whether the foam filled the cavity.
    pub fn is_full(self) -> bool {
        self.row().is_full
    }

    /// Whether foam came out where it should not.
    pub fn has_flash(self) -> bool {
        self.row().has_flash
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rows_stand_in_the_order_of_the_verdicts() {
        assert!(ROWS.iter().enumerate().all(|(i, row)| row.verdict as usize == i));
    }
}
