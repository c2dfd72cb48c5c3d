//! Names that end in a unit: taking them apart, and saying what would have done.

use super::nearest::nearest;
use super::table::{Quantity, Unit, suffixes};
use crate::error::{Error, Place, Result};

/// A number under the base of its name, in SI units.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Reading<'a> {
    /// The name without its unit.
    pub base: &'a str,
    /// What it measures.
    pub quantity: Quantity,
    /// The value, SI.
    pub value: f64,
}

/// Why a name cannot be read.
#[derive(Clone, Debug, PartialEq)]
pub enum NameFault {
    /// No such name.
    Unknown {
        /// The known name closest to it.
        nearest: Option<String>,
        /// One name for each number that would do.
        expected: Vec<String>,
    },
    /// The name is known, its unit is missing or does not fit.
    Unit {
        /// The names that would do.
        expected: Vec<String>,
    },
}

impl NameFault {
    /// The error for a name found at a place in a file.
    pub fn at(self, place: Place, found: &str) -> Error {
        let found = found.to_owned();
        match self {
            NameFault::Unknown { nearest, expected } => Error::Unknown { place, found, nearest, expected },
            NameFault::Unit { expected } => Error::Unit { place, found, expected },
        }
    }

    /// The error for a name given as an argument of a call.
    fn of_argument(self, name: &str, value: f64) -> Error {
        match self {
            NameFault::Unknown { nearest: Some(near), .. } => {
                Error::argument(name, value, format!("`{near}`"), format!("did you mean `{near}`?"))
            }
            NameFault::Unknown { nearest: None, expected } => {
                Error::argument(name, value, "a known name", format!("known: {}", expected.join(", ")))
            }
            NameFault::Unit { expected } => Error::argument(
                name,
                value,
                "a name that ends in a unit",
                format!("write one of: {}", expected.join(", ")),
            ),
        }
    }
}

/// Takes a name apart into base and unit, if it ends in one; the longest suffix counts: `density_kg_m3` is a
/// `density`, not a `density_kg`.
pub fn split(name: &str) -> (&str, Option<&'static str>) {
    let fits = |suffix: &&str| name.strip_suffix(*suffix).is_some_and(|rest| rest.len() > 1 && rest.ends_with('_'));
    match suffixes().filter(fits).max_by_key(|suffix| suffix.len()) {
        Some(suffix) => (&name[..name.len() - suffix.len() - 1], Some(suffix)),
        None => (name, None),
    }
}

/// Finds which of the `allowed` numbers a name means: its index there, and the unit. `words` are further names, without
/// units, that would do in the same place; they only serve the search for the nearest name.
pub fn resolve(name: &str, allowed: &[(&str, Quantity)], words: &[&str]) -> Result<(usize, &'static Unit), NameFault> {
    let unit_of = |&(base, quantity): &(&str, Quantity)| {
        let suffix = match name.strip_prefix(base)? {
            "" => "",
            rest => rest.strip_prefix('_')?,
        };
        quantity.unit(suffix)
    };
    let fitting = allowed.iter().enumerate().filter_map(|(i, number)| Some((i, unit_of(number)?)));
    let longest = fitting.max_by_key(|(i, _)| allowed[*i].0.len());
    longest.ok_or_else(|| fault(name, allowed, words))
}

fn fault(name: &str, allowed: &[(&str, Quantity)], words: &[&str]) -> NameFault {
    let (base, unit) = split(name);
    let exact = allowed.iter().find(|(known, _)| *known == base);
    let close = nearest(base, allowed.iter().map(|(known, _)| *known).chain(words.iter().copied()));
    let begun = allowed.iter().filter(|(known, _)| begins(name, known)).max_by_key(|(known, _)| known.len());
    match (exact, close, begun) {
        (Some((known, quantity)), ..) => NameFault::Unit { expected: quantity.accepted_names(known) },
        (None, None, Some((known, quantity))) => NameFault::Unit { expected: quantity.accepted_names(known) },
        (None, close, _) => NameFault::Unknown {
            nearest: close.map(|known| in_unit(known, unit, allowed)),
            expected: all_names(allowed, words),
        },
    }
}

/// Whether `name` is `base`, an underscore and more.
fn begins(name: &str, base: &str) -> bool {
    name.strip_prefix(base).is_some_and(|rest| rest.starts_with('_'))
}

/// The known name in the unit that was written, where it fits.
fn in_unit(known: &str, unit: Option<&str>, allowed: &[(&str, Quantity)]) -> String {
    match allowed.iter().find(|(base, _)| *base == known) {
        Some((_, quantity)) if unit.is_some_and(|u| quantity.unit(u).is_some()) => {
            format!("{known}_{}", unit.unwrap_or_default())
        }
        Some((_, quantity)) => quantity.customary_name(known),
        None => known.to_owned(),
    }
}

/// One name for each number, in its customary unit, and the words.
fn all_names(allowed: &[(&str, Quantity)], words: &[&str]) -> Vec<String> {
    let numbers = allowed.iter().map(|(base, quantity)| quantity.customary_name(base));
    words.iter().map(|word| (*word).to_owned()).chain(numbers).collect()
}

/// Reads one argument of a call, such as `charge_g = 62`, by the same table as the files.
///
/// `allowed` lists the bases and what they measure. Returns base and SI value, or an [`Error::Argument`] that names what
/// would have done: unknown name, missing or unfit unit, not a finite number, implausible temperature.
pub fn parse<'a>(name: &str, value: f64, allowed: &[(&'a str, Quantity)]) -> Result<Reading<'a>> {
    let (index, unit) = resolve(name, allowed, &[]).map_err(|fault| fault.of_argument(name, value))?;
    let (base, quantity) = allowed[index];
    if !value.is_finite() {
        return Err(Error::argument(name, value, "a finite number", "leave it out if it is not known"));
    }
    if let Some((expected, advice)) = quantity.doubt(value, unit) {
        return Err(Error::argument(name, value, expected, advice));
    }
    Ok(Reading { base, quantity, value: unit.to_si(value) })
}
