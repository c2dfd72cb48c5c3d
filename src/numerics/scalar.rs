//! What the physics asks of a number: `f64`, or one that carries exact derivatives.

use std::ops::{Add, AddAssign, Div, Mul, Neg, Sub, SubAssign};

/// A real number, with or without derivatives. Comparisons and control flow use [`Scalar::value`] only.
pub trait Scalar:
    Copy
    + Send
    + Sync
    + std::fmt::Debug
    + Neg<Output = Self>
    + Add<Output = Self>
    + Sub<Output = Self>
    + Mul<Output = Self>
    + Div<Output = Self>
    + Add<f64, Output = Self>
    + Sub<f64, Output = Self>
    + Mul<f64, Output = Self>
    + Div<f64, Output = Self>
    + AddAssign
    + SubAssign
    + 'static
{
    /// A constant: all derivatives are zero.
    fn constant(x: f64) -> Self;
    /// The value alone.
    fn value(self) -> f64;
    /// The derivatives; empty for `f64`.
    fn derivatives(&self) -> &[f64];
    /// A number with these derivatives, and none by further inputs.
    fn carrying(value: f64, derivatives: &[f64]) -> Self;
    /// e to this power.
    fn exp(self) -> Self;
    /// Natural logarithm.
    fn ln(self) -> Self;
    /// Square root.
    fn sqrt(self) -> Self;
    /// Adds a multiple of another number, in place.
    fn add_scaled(&mut self, other: &Self, weight: f64);

    /// This number without its value: zero, but with its derivatives.
    #[inline]
    fn tangent(self) -> Self {
        self - self.value()
    }
    /// The larger by value.
    #[inline]
    fn max(self, other: Self) -> Self {
        if self.value() >= other.value() { self } else { other }
    }
    /// The smaller by value.
    #[inline]
    fn min(self, other: Self) -> Self {
        if self.value() <= other.value() { self } else { other }
    }
    /// Zero without derivatives.
    #[inline]
    fn zero() -> Self {
        Self::constant(0.0)
    }
    /// One without derivatives.
    #[inline]
    fn one() -> Self {
        Self::constant(1.0)
    }
    /// Whether value and derivatives are finite.
    #[inline]
    fn is_finite(&self) -> bool {
        self.value().is_finite() && self.derivatives().iter().all(|d| d.is_finite())
    }
}

impl Scalar for f64 {
    #[inline]
    fn constant(x: f64) -> Self {
        x
    }
    #[inline]
    fn value(self) -> f64 {
        self
    }
    #[inline]
    fn derivatives(&self) -> &[f64] {
        &[]
    }
    #[inline]
    fn carrying(value: f64, _derivatives: &[f64]) -> Self {
        value
    }
    #[inline]
    fn exp(self) -> Self {
        f64::exp(self)
    }
    #[inline]
    fn ln(self) -> Self {
        f64::ln(self)
    }
    #[inline]
    fn sqrt(self) -> Self {
        f64::sqrt(self)
    }
    #[inline]
    fn add_scaled(&mut self, other: &Self, weight: f64) {
        *self += *other * weight;
    }
}
