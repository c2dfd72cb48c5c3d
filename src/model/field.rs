//! What a number in a record is called, what it measures and which values make sense.

use crate::units::{HIGHEST_ALTITUDE, LOWEST_ALTITUDE, Quantity};

/// One number of a record.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Field {
    /// Its name without a unit.
    pub base: &'static str,
    /// What it measures.
    pub quantity: Quantity,
    /// Which values make sense.
    pub range: Range,
}

/// Which values of a number make sense, in SI.
#[derive(Clone, Copy, Debug)]
pub(crate) enum Range {
    /// Any.
    Any,
    /// Above zero.
    Positive,
    /// Zero or more.
    NotNegative,
    /// From 0 to 1.
    Fraction,
    /// Above 0, below 1.
    OpenFraction,
    /// An absolute air pressure that people work in.
    Ambient,
    /// An altitude that the standard atmosphere knows the pressure of.
    Altitude,
}

/// Lowest and highest absolute air pressure that a record may name, Pa: about 9 km up, and below any mine. Whether a
/// barometer can have read it is asked here; whether anybody casts there is asked by `physics::limits`, which is a
/// little narrower.
const AMBIENT_LIMITS: (f64, f64) = (30e3, 120e3);

impl Range {
    /// What is expected and how to mend it, if `si` is outside.
    pub(crate) fn doubt(self, si: f64) -> Option<(&'static str, &'static str)> {
        let (fits, expected, advice) = match self {
            Range::Any => return None,
            Range::Positive => (si > 0.0, "a number above 0", "check the reading and its unit"),
            Range::NotNegative => (si >= 0.0, "0 or more", "check the reading and its unit"),
            Range::Fraction => {
                ((0.0..=1.0).contains(&si), "a share from 0 to 1", "write 0.03 for 3 %, or end the name in `_percent`")
            }
            Range::OpenFraction => (
                si > 0.0 && si < 1.0,
                "a share above 0 and below 1",
                "write 0.65 for 65 %, or end the name in `_percent`",
            ),
            Range::Ambient => (
                (AMBIENT_LIMITS.0..=AMBIENT_LIMITS.1).contains(&si),
                "an absolute air pressure between 30 and 120 kPa",
                "give the barometer's reading (not a gauge's, which is about 0), and check its unit",
            ),
            Range::Altitude => (
                (LOWEST_ALTITUDE..=HIGHEST_ALTITUDE).contains(&si),
                "an altitude between -500 and 11000 m",
                "check its unit, or give ambient_pressure_kPa from a barometer",
            ),
        };
        (!fits).then_some((expected, advice))
    }
}

impl Field {
    pub(crate) const fn new(base: &'static str, quantity: Quantity, range: Range) -> Self {
        Field { base, quantity, range }
    }

    /// The names that would do, in words: `charge_g (or charge_kg, charge_oz, charge_lb)`.
    pub(crate) fn names(&self) -> String {
        let names = self.quantity.accepted_names(self.base);
        match names.split_first() {
            Some((first, rest)) if !rest.is_empty() => format!("`{first}` (or {})", rest.join(", ")),
            _ => format!("`{}`", names.join("")),
        }
    }
}
