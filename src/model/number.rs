//! Numbers of a record by name: what each measures, what it is, where it stands.

use super::field::{Field, Range};
use crate::units::Quantity;

/// A number of a record of kind `T`, SI.
pub struct Number<T: 'static> {
    pub(crate) field: Field,
    sentence: &'static str,
    get: fn(&T) -> Option<f64>,
    place: fn(&mut T) -> Option<&mut f64>,
    clear: Option<fn(&mut T)>,
    part: bool,
}

impl<T> Number<T> {
    pub(crate) const fn new(
        base: &'static str,
        (quantity, range): (Quantity, Range),
        sentence: &'static str,
        get: fn(&T) -> Option<f64>,
        place: fn(&mut T) -> Option<&mut f64>,
    ) -> Self {
        Number { field: Field::new(base, quantity, range), sentence, get, place, clear: None, part: false }
    }

    /// The same, for a number that may be absent: `clear` takes it away.
    pub(crate) const fn or_absent(self, clear: fn(&mut T)) -> Self {
        Number { clear: Some(clear), ..self }
    }

    /// The same, for a number of a part that a record can be without.
    pub(crate) const fn of_part(self) -> Self {
        Number { part: true, ..self }
    }

    /// Its name at the edge, without the unit.
    pub fn name(&self) -> &'static str {
        self.field.base
    }

    /// What it measures.
    pub fn quantity(&self) -> Quantity {
        self.field.quantity
    }

    /// What it is, in a sentence.
    pub fn sentence(&self) -> &'static str {
        self.sentence
    }

    /// Its value in a record, SI, if the record has it.
    pub fn of(&self, record: &T) -> Option<f64> {
        (self.get)(record)
    }

    /// Writes it into a record, SI; false where the record has no place for it.
    pub fn set(&self, record: &mut T, value: f64) -> bool {
        (self.place)(record).map(|place| *place = value).is_some()
    }

    /// Takes it out of a record; false where every record has it.
    pub fn clear(&self, record: &mut T) -> bool {
        self.clear.map(|clear| clear(record)).is_some()
    }

    /// Whether a record can be without it.
    pub fn may_be_absent(&self) -> bool {
        self.part || self.clear.is_some()
    }
}
