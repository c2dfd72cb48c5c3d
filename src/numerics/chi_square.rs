//! The tail of the chi-square distribution.

use super::normal::distribution_of_unit_normal;

/// The probability that the squares of `count` unit normals add up to more than `square`; 1 without any. Closed form:
/// from one or two degrees of freedom upward, Q(a + 1, x) = Q(a, x) + x^a exp(-x) / Gamma(a + 1) (NIST Digital Library
/// of Mathematical Functions, 8.8.6; from memory, not verified).
pub fn chi_square_tail(square: f64, count: usize) -> f64 {
    if count == 0 || square <= 0.0 {
        return 1.0;
    }
    let x = 0.5 * square;
    let (mut a, mut tail) = match count % 2 {
        0 => (1.0, (-x).exp()),
        _ => (0.5, 2.0 * distribution_of_unit_normal(-square.sqrt()).0),
    };
    // x^a exp(-x) / Gamma(a + 1), in logarithms: x may be large.
    let log_gamma = if count.is_multiple_of(2) { 0.0 } else { 0.5 * std::f64::consts::PI.ln() - 2.0_f64.ln() };
    let mut log_term = a * x.ln() - x - log_gamma;
    while a < 0.5 * count as f64 - 0.25 {
        tail += log_term.exp();
        a += 1.0;
        log_term += (x / a).ln();
    }
    tail.min(1.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Computed with SciPy: stats.chi2.sf.
    #[test]
    fn tails_of_chi_square() {
        let known = [
            (3.841458820694124, 1, 0.04999999999999989),
            (9.21, 2, 0.01000170200470548),
            (2.5, 3, 0.4752910833430205),
            (40.0, 6, 4.5551495055892125e-07),
            (25.0, 11, 0.009116681125526997),
        ];
        for (square, count, tail) in known {
            let found = chi_square_tail(square, count);
            assert!((found / tail - 1.0_f64).abs() < 1e-12, "{square} {count}: {found} {tail}");
        }
        assert_eq!((chi_square_tail(3.0, 0), chi_square_tail(0.0, 4)), (1.0, 1.0));
    }
}
