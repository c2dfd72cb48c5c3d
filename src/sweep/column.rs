//! The columns of a sweep: the outcome quantities of a casting, in SI units.

use crate::model::CastingResult;
use crate::units::Quantity;

/// How many numbers each casting of a sweep comes to.
pub const NUMBERS: usize = 18;

/// A column: its name without the unit, what it measures.
pub type Column = (&'static str, Quantity);

/// The columns of a [`Row`](super::Row), in its order. Pressures are gauge; what did not happen is NaN.
pub const COLUMNS: [Column; NUMBERS] = [
    ("peak_pressure", Quantity::GaugePressure),
    ("peak_time", Quantity::Time),
    ("pressure_at_gel", Quantity::GaugePressure),
    ("rise_start", Quantity::Time),
    ("fill_time", Quantity::Time),
    ("gel_time", Quantity::Time),
    ("margin", Quantity::Time),
    ("clamp_opened", Quantity::Time),
    ("leak_opened", Quantity::Time),
    ("clamp_needed", Quantity::Force),
    ("part_mass", Quantity::Mass),
    ("vent_loss", Quantity::Mass),
    ("flash", Quantity::Mass),
    ("fill_fraction", Quantity::Fraction),
    ("density", Quantity::Density),
    ("free_rise_density", Quantity::Density),
    ("packing_factor", Quantity::Number),
    ("peak_core_temp", Quantity::Temperature),
];

/// The numbers of a casting, in the order of [`COLUMNS`].
pub(super) fn numbers(r: &CastingResult, free_rise_density: f64) -> [f64; NUMBERS] {
    let maybe = |x: Option<f64>| x.unwrap_or(f64::NAN);
    [
        r.peak_pressure,
        r.peak_time,
        maybe(r.pressure_at_gel),
        maybe(r.rise_start),
        maybe(r.fill_time),
        maybe(r.gel_time),
        maybe(r.margin()),
        maybe(r.clamp_opened),
        maybe(r.leak_opened),
        r.clamp_needed,
        r.part_mass,
        r.vent_loss,
        r.flash,
        r.fill_fraction,
        r.density,
        free_rise_density,
        r.density / free_rise_density,
        r.core_temp,
    ]
}
