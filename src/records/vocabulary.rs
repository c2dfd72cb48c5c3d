//! What a name in a record stands for, and the numbers that are read under it.

use crate::error::{Place, Result};
use crate::model::Field;
use crate::units::{Unit, resolve};

use super::text::{bad_value, finite_number};

impl Field {
    /// The SI value of `text` in `unit`, if it is a number that makes sense.
    pub(crate) fn value(&self, text: &str, unit: &Unit, place: &Place) -> Result<f64> {
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
