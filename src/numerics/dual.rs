//! Numbers that carry exact derivatives with respect to `N` inputs (forward mode).

use std::array::from_fn;
use std::ops::{Add, AddAssign, Div, Mul, Neg, Sub, SubAssign};

use super::Scalar;

/// A value and its derivatives with respect to `N` inputs.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Dual<const N: usize> {
    /// The value.
    pub value: f64,
    /// Derivatives, one per input.
    pub slope: [f64; N],
}

impl<const N: usize> Dual<N> {
    /// Input number `lane`: its derivative with respect to itself is `rate` (1, or the chain rule's factor).
    #[inline]
    pub fn seeded(value: f64, lane: usize, rate: f64) -> Self {
        Dual { value, slope: from_fn(|i| if i == lane { rate } else { 0.0 }) }
    }

    #[inline]
    fn chain(self, value: f64, rate: f64) -> Self {
        Dual { value, slope: self.slope.map(|d| d * rate) }
    }
}

impl<const N: usize> Neg for Dual<N> {
    type Output = Self;
    #[inline]
    fn neg(self) -> Self {
        self.chain(-self.value, -1.0)
    }
}

impl<const N: usize> Add for Dual<N> {
    type Output = Self;
    #[inline]
    fn add(self, o: Self) -> Self {
        Dual { value: self.value + o.value, slope: from_fn(|i| self.slope[i] + o.slope[i]) }
    }
}

impl<const N: usize> Sub for Dual<N> {
    type Output = Self;
    #[inline]
    fn sub(self, o: Self) -> Self {
        Dual { value: self.value - o.value, slope: from_fn(|i| self.slope[i] - o.slope[i]) }
    }
}

// Product and quotient rules hold sums, as they must.
#[allow(clippy::suspicious_arithmetic_impl)]
impl<const N: usize> Mul for Dual<N> {
    type Output = Self;
    #[inline]
    fn mul(self, o: Self) -> Self {
        Dual { value: self.value * o.value, slope: from_fn(|i| self.slope[i] * o.value + self.value * o.slope[i]) }
    }
}

#[allow(clippy::suspicious_arithmetic_impl)]
impl<const N: usize> Div for Dual<N> {
    type Output = Self;
    #[inline]
    fn div(self, o: Self) -> Self {
        let r = 1.0 / o.value;
        let value = self.value * r;
        Dual { value, slope: from_fn(|i| (self.slope[i] - value * o.slope[i]) * r) }
    }
}

impl<const N: usize> Add<f64> for Dual<N> {
    type Output = Self;
    #[inline]
    fn add(self, o: f64) -> Self {
        Dual { value: self.value + o, slope: self.slope }
    }
}

impl<const N: usize> Sub<f64> for Dual<N> {
    type Output = Self;
    #[inline]
    fn sub(self, o: f64) -> Self {
        Dual { value: self.value - o, slope: self.slope }
    }
}

impl<const N: usize> Mul<f64> for Dual<N> {
    type Output = Self;
    #[inline]
    fn mul(self, o: f64) -> Self {
        self.chain(self.value * o, o)
    }
}

impl<const N: usize> Div<f64> for Dual<N> {
    type Output = Self;
    #[inline]
    fn div(self, o: f64) -> Self {
        self.chain(self.value / o, 1.0 / o)
    }
}

impl<const N: usize> AddAssign for Dual<N> {
    #[inline]
    fn add_assign(&mut self, o: Self) {
        *self = *self + o;
    }
}

impl<const N: usize> SubAssign for Dual<N> {
    #[inline]
    fn sub_assign(&mut self, o: Self) {
        *self = *self - o;
    }
}

impl<const N: usize> Scalar for Dual<N> {
    #[inline]
    fn constant(x: f64) -> Self {
        Dual { value: x, slope: [0.0; N] }
    }
    #[inline]
    fn value(self) -> f64 {
        self.value
    }
    #[inline]
    fn derivatives(&self) -> &[f64] {
        &self.slope
    }
    #[inline]
    fn carrying(value: f64, derivatives: &[f64]) -> Self {
        Dual { value, slope: from_fn(|i| derivatives.get(i).copied().unwrap_or(0.0)) }
    }
    #[inline]
    fn exp(self) -> Self {
        let e = self.value.exp();
        self.chain(e, e)
    }
    #[inline]
    fn ln(self) -> Self {
        self.chain(self.value.ln(), 1.0 / self.value)
    }
    #[inline]
    fn sqrt(self) -> Self {
        let s = self.value.sqrt();
        self.chain(s, 0.5 / s)
    }
    #[inline]
    fn add_scaled(&mut self, other: &Self, weight: f64) {
        self.value += other.value * weight;
        self.slope.iter_mut().zip(&other.slope).for_each(|(to, from)| *to += from * weight);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Every operation against a central difference of the same expression in `f64`.
    #[test]
    fn derivatives_match_central_differences() {
        fn f<S: Scalar>(x: S, y: S) -> S {
            let a = (x * y + 2.0).ln() / (y - 0.25).sqrt();
            let mut b = -(a * 3.0) + (x / 4.0).exp() - x * 0.5;
            b += a / x;
            b -= y;
            b - 1.0
        }
        let (x, y) = (1.3, 0.9);
        let d = f(Dual::<2>::seeded(x, 0, 1.0), Dual::<2>::seeded(y, 1, 1.0));
        let h = 1e-6;
        let by_x = (f(x + h, y) - f(x - h, y)) / (2.0 * h);
        let by_y = (f(x, y + h) - f(x, y - h)) / (2.0 * h);
        assert_eq!(d.value, f(x, y));
        assert!((d.slope[0] - by_x).abs() < 1e-8 && (d.slope[1] - by_y).abs() < 1e-8, "{d:?} {by_x} {by_y}");
    }
}
