//! Vents of a mold: one row for each kind, with its dimensions and whether a drill makes it.
//!
//! Files, Python and checks iterate over the rows. A kind's law of flow is a variant of `physics::opening`.

use serde::{Deserialize, Serialize};

use super::field::{Field, Range};
use crate::units::Quantity;

/// Vents of one kind and size.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Vent<S = f64> {
    /// How many of these.
    pub count: u32,
    /// What they are.
    pub kind: VentKind<S>,
    /// Fill fraction of the cavity at which the foam reaches it. 1: the last place to fill.
    pub at_fill: S,
}

/// A kind of vent with its dimensions, SI; [`VentKind::row`] has what is known of it.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub enum VentKind<S = f64> {
    /// A drilled hole.
    Hole {
        /// Diameter, m.
        diameter: S,
        /// Length, m.
        length: S,
    },
}

/// A dimension of a kind of vent.
#[derive(Clone, Copy, Debug)]
pub struct Dimension {
    /// What it is called in a mold file, without a unit.
    pub(crate) field: Field,
    /// What it is called where a mold is changed, without a unit.
    pub setting: &'static str,
    /// Who looks for it finds it there.
    pub(crate) hint: &'static str,
}

/// Where the foam reaches vents, as it is called where a mold is changed.
const VENT_AT_FILL: Field = Field::new("vent_at_fill", AT_FILL.quantity, AT_FILL.range);

/// What is known of a kind of vent.
#[derive(Debug)]
pub struct VentKindRow {
    /// Its name, as a mold file says it.
    pub name: &'static str,
    /// All numbers that a mold file says of it.
    pub(crate) fields: &'static [Field],
    /// Its dimensions, in the order of [`VentKind::values`].
    pub dimensions: &'static [Dimension],
    /// The kind with these values.
    pub(crate) make: fn(&[f64]) -> VentKind,
}

const fn dimension(base: &'static str, setting: &'static str, quantity: Quantity, hint: &'static str) -> Dimension {
    Dimension { field: Field::new(base, quantity, Range::Positive), setting, hint }
}

pub(crate) const COUNT: Field = Field::new("count", Quantity::Number, Range::Positive);
pub(crate) const AT_FILL: Field = Field::new("at_fill", Quantity::Fraction, Range::Fraction);

const DIAMETER: Dimension = dimension("diameter", "vent", Quantity::Length, "the drill's diameter");
const LENGTH: Dimension = dimension("length", "vent_length", Quantity::Length, "the wall's thickness along the vent");

const HOLE: VentKindRow = VentKindRow {
    name: "hole",
    fields: &[COUNT, DIAMETER.field, LENGTH.field, AT_FILL],
    dimensions: &[DIAMETER, LENGTH],
    make: |x| VentKind::Hole { diameter: x[0], length: x[1] },
};

/// All kinds; a mold file that names none means the first.
pub(crate) static VENT_KINDS: [&VentKindRow; 1] = [&HOLE];

/// The names by which vents are changed, whatever their kind, without units: each once.
pub fn vent_settings() -> Vec<(&'static str, Quantity)> {
    let mut all: Vec<(&'static str, Quantity)> = Vec::new();
    for of in VENT_KINDS.iter().flat_map(|row| row.dimensions) {
        if all.iter().all(|(name, _)| *name != of.setting) {
            all.push((of.setting, of.quantity()));
        }
    }
    all.push((VENT_AT_FILL.base, VENT_AT_FILL.quantity));
    all
}

impl Dimension {
    /// What it is called in a mold file, with its customary unit.
    pub fn key(&self) -> String {
        self.field.quantity.customary_name(self.field.base)
    }

    /// What it measures.
    pub fn quantity(&self) -> Quantity {
        self.field.quantity
    }
}

impl VentKindRow {
    /// All kinds.
    pub fn all() -> &'static [&'static VentKindRow] {
        &VENT_KINDS
    }

    /// Whether it has a dimension that is called so where a mold is changed.
    pub fn has(&self, setting: &str) -> bool {
        self.dimensions.iter().any(|of| of.setting == setting)
    }
}

impl<S: Copy> VentKind<S> {
    /// What is known of this kind.
    pub fn row(&self) -> &'static VentKindRow {
        match self {
            VentKind::Hole { .. } => &HOLE,
        }
    }

    /// Its dimensions, SI.
    pub fn values(&self) -> Vec<S> {
        match *self {
            VentKind::Hole { diameter, length } => vec![diameter, length],
        }
    }

    /// Its dimensions, to be changed.
    pub fn values_mut(&mut self) -> Vec<&mut S> {
        match self {
            VentKind::Hole { diameter, length } => vec![diameter, length],
        }
    }

    fn map<T>(&self, to: impl Fn(S) -> T) -> VentKind<T> {
        match *self {
            VentKind::Hole { diameter, length } => VentKind::Hole { diameter: to(diameter), length: to(length) },
        }
    }
}

impl<S: Copy> Vent<S> {
    /// Holes.
    pub fn hole(count: u32, diameter: S, length: S, at_fill: S) -> Self {
        Vent { count, kind: VentKind::Hole { diameter, length }, at_fill }
    }

    /// The diameter that a drill makes, m; `None` of what a shop cannot drill or plug, which is left as it is.
    pub fn drilled(&self) -> Option<S> {
        match self.kind {
            VentKind::Hole { diameter, .. } => Some(diameter),
        }
    }

    /// The same, to be changed.
    pub fn drilled_mut(&mut self) -> Option<&mut S> {
        match &mut self.kind {
            VentKind::Hole { diameter, .. } => Some(diameter),
        }
    }

    /// The same vents in another kind of number.
    pub(super) fn map<T>(&self, to: impl Fn(S) -> T) -> Vent<T> {
        Vent { count: self.count, kind: self.kind.map(&to), at_fill: to(self.at_fill) }
    }
}
