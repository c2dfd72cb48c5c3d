//! Numbers as text: fixed decimals, significant digits, a value with its standard error, percent.

/// How a missing number reads.
const MISSING: &str = "-";

/// A number with so many decimals, never `-0.0`; `-` if it is not finite.
pub fn fixed(x: f64, decimals: usize) -> String {
    if !x.is_finite() {
        return MISSING.to_owned();
    }
    let text = format!("{x:.decimals$}");
    let is_zero = text.bytes().all(|b| matches!(b, b'-' | b'0' | b'.'));
    if is_zero { text.trim_start_matches('-').to_owned() } else { text }
}

/// A number to so many significant digits, in powers of ten where it is below 0.0001 or from a million up; `-` if it is
/// not finite.
pub fn significant(x: f64, digits: usize) -> String {
    let digits = digits.max(1);
    if !x.is_finite() {
        return MISSING.to_owned();
    }
    if x == 0.0 {
        return "0".to_owned();
    }
    if needs_power(x) {
        return format!("{x:.*e}", digits - 1);
    }
    let scientific = format!("{x:.*e}", digits - 1);
    let exponent = exponent_of(&scientific);
    rounded_at(x, exponent - (digits as i32 - 1))
}

/// A value and its standard error with matching digits, such as `12.34 ± 0.05`: the error to one digit, to two where it
/// begins with 1 or 2. Without a finite, positive error the value alone, to four digits; `-` if there is no value.
pub fn with_error(value: f64, error: Option<f64>) -> String {
    let Some(error) = error.filter(|e| e.is_finite() && *e > 0.0) else { return significant(value, 4) };
    if !value.is_finite() {
        return MISSING.to_owned();
    }
    let largest = value.abs().max(error);
    if needs_power(largest) {
        let power = exponent_of(&format!("{largest:e}"));
        let factor = 10f64.powi(power);
        return format!("({})e{power}", matched(value / factor, error / factor));
    }
    matched(value, error)
}

/// A share of one in percent: `12.3 %`; `-` if it is not finite.
pub fn percent(share: f64, decimals: usize) -> String {
    if share.is_finite() { format!("{} %", fixed(100.0 * share, decimals)) } else { MISSING.to_owned() }
}

fn needs_power(x: f64) -> bool {
    x != 0.0 && !(1e-4..1e6).contains(&x.abs())
}

fn matched(value: f64, error: f64) -> String {
    let place = last_place(error);
    format!("{} ± {}", rounded_at(value, place), rounded_at(error, place))
}

/// Power of ten of the last digit worth printing of an error.
fn last_place(error: f64) -> i32 {
    let two_digits = format!("{error:.1e}");
    let exponent = exponent_of(&two_digits);
    if two_digits.starts_with(['1', '2']) { exponent - 1 } else { exponent_of(&format!("{error:.0e}")) }
}

/// The exponent of a number written by `{:e}`.
fn exponent_of(scientific: &str) -> i32 {
    scientific.split_once('e').and_then(|(_, exponent)| exponent.parse().ok()).unwrap_or_default()
}

/// Rounds at a power of ten; what lies before it is filled with zeros.
fn rounded_at(x: f64, place: i32) -> String {
    if place <= 0 {
        return fixed(x, place.unsigned_abs() as usize);
    }
    let unit = 10f64.powi(place);
    fixed((x / unit).round() * unit, 0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_error_sets_the_digits_of_its_value() {
        assert_eq!(with_error(12.3411, Some(0.0522)), "12.34 ± 0.05");
        assert_eq!(with_error(12.3411, Some(0.0122)), "12.341 ± 0.012");
        assert_eq!(with_error(12.3411, Some(0.0966)), "12.3 ± 0.1");
        assert_eq!(with_error(12345.0, Some(678.0)), "12300 ± 700");
        assert_eq!(with_error(-0.004, Some(0.3)), "0.0 ± 0.3");
        assert_eq!(with_error(4.4e-9, Some(3.1e-10)), "(4.4 ± 0.3)e-9");
        assert_eq!(with_error(2.0, Some(35.0)), "0 ± 40");
    }

    #[test]
    fn a_missing_error_leaves_the_value_and_a_missing_value_a_dash() {
        assert_eq!(with_error(12.3456, None), "12.35");
        assert_eq!(with_error(12.3456, Some(f64::NAN)), "12.35");
        assert_eq!(with_error(12.3456, Some(0.0)), "12.35");
        assert_eq!(with_error(f64::NAN, Some(1.0)), "-");
        assert_eq!(percent(f64::NAN, 1), "-");
        assert_eq!(fixed(f64::INFINITY, 1), "-");
    }

    #[test]
    fn digits_are_significant() {
        assert_eq!(significant(0.0333333, 4), "0.03333");
        assert_eq!(significant(1050.0, 4), "1050");
        assert_eq!(significant(99.996, 4), "100.0");
        assert_eq!(significant(123456.0, 3), "123000");
        assert_eq!(significant(1.0e-8, 3), "1.00e-8");
        assert_eq!(significant(0.0, 3), "0");
        assert_eq!(fixed(-0.04, 1), "0.0");
        assert_eq!(percent(0.123456, 1), "12.3 %");
    }
}
