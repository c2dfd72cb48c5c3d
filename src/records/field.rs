//! What a number in a record is called, what it measures and which values make sense.

use crate::error::{Place, Result};
use crate::units::{Quantity, Unit, resolve};

use super::text::{bad_value, finite_number};

/// One number of a record.
#[derive(Clone, Copy, Debug)]
pub(super) struct Field {
    /// Its name without a unit.
    pub base: &'static str,
    /// What it measures.
    pub quantity: Quantity,
    /// Which values make sense.
    pub range: Range,
}

/// Which values of a number make sense, in SI.
#[derive(Clone, Copy, Debug)]
pub(super) enum Range {
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
}

/// Lowest and highest absolute air pressure that a record may name, Pa: about 9 km up, and below any mine.
const AMBIENT_LIMITS: (f64, f64) = (30e3, 120e3);

impl Range {
    /// What is expected and how to mend it, if `si` is outside.
    fn doubt(self, si: f64) -> Option<(&'static str, &'static str)> {
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
        };
        (!fits).then_some((expected, advice))
    }
}

impl Field {
    pub(super) const fn new(base: &'static str, quantity: Quantity, range: Range) -> Self {
        Field { base, quantity, range }
    }

    /// The SI value of `text` in `unit`, if it is a number that makes sense.
    pub(super) fn value(&self, text: &str, unit: &Unit, place: &Place) -> Result<f64> {
        let x = finite_number(text, place)?;
        if let Some((expected, advice)) = self.quantity.doubt(x, unit) {
            return Err(bad_value(place.clone(), text, &expected, &advice));
        }
        let si = unit.to_si(x);
        match self.range.doubt(si) {
            Some((expected, advice)) => Err(bad_value(place.clone(), text, expected, advice)),
            None if si.is_finite() => Ok(si),
            None => Err(bad_value(place.clone(), text, "a number of a sensible size", "check the reading")),
        }
    }

    /// The names that would do, in words: `charge_g (or charge_kg, charge_oz, charge_lb)`.
    pub(super) fn names(&self) -> String {
        let names = self.quantity.accepted_names(self.base);
        match names.split_first() {
            Some((first, rest)) if !rest.is_empty() => format!("`{first}` (or {})", rest.join(", ")),
            _ => format!("`{}`", names.join("")),
        }
    }
}

/// What a name in a record stands for.
#[derive(Clone, Copy, Debug)]
pub(super) enum Meaning {
    /// A number and its unit.
    Number(&'static Field, &'static Unit),
    /// Words.
    Word(&'static str),
}

impl Meaning {
    /// The name without its unit.
    pub(super) fn base(&self) -> &'static str {
        match self {
            Meaning::Number(field, _) => field.base,
            Meaning::Word(word) => word,
        }
    }
}

/// The numbers and words that a place in a record may hold.
#[derive(Clone, Copy, Debug)]
pub(super) struct Vocabulary {
    /// Numbers; their names end in units.
    pub fields: &'static [Field],
    /// Words; their names stand alone.
    pub words: &'static [&'static str],
}

impl Vocabulary {
    /// What `name` stands for, or an error with the nearest name or the units that would do.
    pub(super) fn meaning(&self, name: &str, place: &Place) -> Result<Meaning> {
        if let Some(word) = self.words.iter().find(|word| **word == name) {
            return Ok(Meaning::Word(word));
        }
        let known: Vec<_> = self.fields.iter().map(|field| (field.base, field.quantity)).collect();
        let (index, unit) = resolve(name, &known, self.words).map_err(|fault| fault.at(place.clone(), name))?;
        Ok(Meaning::Number(&self.fields[index], unit))
    }
}
