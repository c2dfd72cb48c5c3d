//! The quantiles of a unit normal distribution.

// The coefficients stand as published.
#![allow(clippy::excessive_precision)]

/// The value below which this share of a unit normal lies; infinite at 0 and 1, NaN beyond. Algorithm AS 241, PPND16
/// (Wichura, Appl. Stat. 37, 477, 1988), relative error 1e-16.
pub fn quantile_of_unit_normal(share: f64) -> f64 {
    let q = share - 0.5;
    if q.abs() <= 0.425 {
        let r = 0.180625 - q * q;
        return q * ratio(r, &CENTER_OVER, &CENTER_UNDER);
    }
    let r = (-share.min(1.0 - share).ln()).sqrt();
    let size = match r {
        r if r <= 5.0 => ratio(r - 1.6, &NEAR_OVER, &NEAR_UNDER),
        r if r < f64::INFINITY => ratio(r - 5.0, &FAR_OVER, &FAR_UNDER),
        other => other,
    };
    size.copysign(q)
}

/// Two polynomials, highest power first, one over the other.
fn ratio(x: f64, over: &[f64; 8], under: &[f64; 8]) -> f64 {
    let at = |coefficients: &[f64; 8]| coefficients.iter().fold(0.0, |sum, c| sum * x + c);
    at(over) / at(under)
}

const CENTER_OVER: [f64; 8] = [
    2.5090809287301226727e3,
    3.3430575583588128105e4,
    6.7265770927008700853e4,
    4.5921953931549871457e4,
    1.3731693765509461125e4,
    1.9715909503065514427e3,
    1.3314166789178437745e2,
    3.3871328727963666080e0,
];
const CENTER_UNDER: [f64; 8] = [
    5.2264952788528545610e3,
    2.8729085735721942674e4,
    3.9307895800092710610e4,
    2.1213794301586595867e4,
    5.3941960214247511077e3,
    6.8718700749205790830e2,
    4.2313330701600911252e1,
    1.0,
];
const NEAR_OVER: [f64; 8] = [
    7.74545014278341407640e-4,
    2.27238449892691845833e-2,
    2.41780725177450611770e-1,
    1.27045825245236838258e0,
    3.64784832476320460504e0,
    5.76949722146069140550e0,
    4.63033784615654529590e0,
    1.42343711074968357734e0,
];
const NEAR_UNDER: [f64; 8] = [
    1.05075007164441684324e-9,
    5.47593808499534494600e-4,
    1.51986665636164571966e-2,
    1.48103976427480074590e-1,
    6.89767334985100004550e-1,
    1.67638483018380384940e0,
    2.05319162663775882187e0,
    1.0,
];
const FAR_OVER: [f64; 8] = [
    2.01033439929228813265e-7,
    2.71155556874348757815e-5,
    1.24266094738807843860e-3,
    2.65321895265761230930e-2,
    2.96560571828504891230e-1,
    1.78482653991729133580e0,
    5.46378491116411436990e0,
    6.65790464350110377720e0,
];
const FAR_UNDER: [f64; 8] = [
    2.04426310338993978564e-15,
    1.42151175831644588870e-7,
    1.84631831751005468180e-5,
    7.86869131145613259100e-4,
    1.48753612908506148525e-2,
    1.36929880922735805310e-1,
    5.99832206555887937690e-1,
    1.0,
];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quantiles_of_the_unit_normal() {
        // Computed with mpmath at 30 digits: the root of ncdf(x) - p.
        let known = [
            (1e-30, -11.4640246884436157),
            (1e-10, -6.3613409024040562),
            (1e-4, -3.71901648545568055),
            (0.025, -1.95996398454005421),
            (0.07, -1.47579102817917069),
            (0.2, -0.841621233572914166),
            (0.6, 0.253347103135799741),
            (0.95, 1.64485362695147228),
            (0.975, 1.95996398454005386),
            (0.9999, 3.71901648545570839),
        ];
        for (share, z) in known {
            assert!((quantile_of_unit_normal(share) / z - 1.0_f64).abs() < 2e-15, "{share}");
        }
        assert_eq!(quantile_of_unit_normal(0.5), 0.0);
        assert_eq!(quantile_of_unit_normal(1.0), f64::INFINITY);
        assert!(quantile_of_unit_normal(1.5).is_nan());
    }
}
