//! Drill sizes: metric, fractions of an inch, and number drills.

use serde::{Deserialize, Serialize};

use crate::error::{Error, Result};

const INCH: f64 = 25.4e-3;
const ADVICE: &str =
    "write 3.5 (mm), \"3.5 mm\", a fraction of an inch such as \"1/8\", or a number drill such as \"#30\"";

/// Number drills 1 to 60, in: ASME B94.11M, as four charts that cite it print them (the standard itself was not seen). Smaller
/// ones are no vents.
const NUMBERED: [f64; 60] = [
    0.2280, 0.2210, 0.2130, 0.2090, 0.2055, 0.2040, 0.2010, 0.1990, 0.1960, 0.1935, 0.1910, 0.1890, 0.1850, 0.1820,
    0.1800, 0.1770, 0.1730, 0.1695, 0.1660, 0.1610, 0.1590, 0.1570, 0.1540, 0.1520, 0.1495, 0.1470, 0.1440, 0.1405,
    0.1360, 0.1285, 0.1200, 0.1160, 0.1130, 0.1110, 0.1100, 0.1065, 0.1040, 0.1015, 0.0995, 0.0980, 0.0960, 0.0935,
    0.0890, 0.0860, 0.0820, 0.0810, 0.0785, 0.0760, 0.0730, 0.0700, 0.0670, 0.0635, 0.0595, 0.0550, 0.0520, 0.0465,
    0.0430, 0.0420, 0.0410, 0.0400,
];

/// A drill that a shop owns.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Drill {
    /// As the shop calls it: `3.5 mm`, `1/8 in`, `#30`.
    pub name: String,
    /// Diameter, m.
    pub diameter: f64,
}

impl Drill {
    /// A metric drill of this diameter, m.
    pub fn metric(diameter: f64) -> Drill {
        Drill { name: format!("{} mm", (diameter * 1e6).round() / 1e3), diameter }
    }

    /// The drill of this name: `3.5` or `3.5 mm`, `1/8`, `1 1/8 in`, `#30`.
    ///
    /// # Errors
    /// [`Error::Argument`] for a name that is none of these.
    pub fn parse(name: &str) -> Result<Drill> {
        let text = name.trim();
        let found = if let Some(number) = text.strip_prefix('#') {
            numbered(number)
        } else if text.contains('/') {
            fraction(text)
        } else {
            let number = text.strip_suffix("mm").unwrap_or(text).trim();
            number.parse().ok().map(|mm: f64| Drill::metric(1e-3 * mm))
        };
        let sane = |d: &Drill| d.diameter > 0.0 && d.diameter.is_finite();
        found.filter(sane).ok_or_else(|| Error::argument("drills", format!("`{name}`"), "a drill size", ADVICE))
    }
}

fn numbered(number: &str) -> Option<Drill> {
    let place: usize = number.trim().parse().ok()?;
    let inches = NUMBERED.get(place.checked_sub(1)?)?;
    Some(Drill { name: format!("#{place}"), diameter: inches * INCH })
}

/// `1/8`, `1 1/8 in`.
fn fraction(text: &str) -> Option<Drill> {
    let text = text.strip_suffix("in").or(text.strip_suffix('"')).unwrap_or(text).trim();
    let (whole, part) = text.rsplit_once(' ').unwrap_or(("0", text));
    let (over, under) = part.split_once('/')?;
    let number = |text: &str| text.trim().parse::<u32>().ok().map(f64::from);
    let under = number(under).filter(|x| *x > 0.0)?;
    Some(Drill { name: format!("{text} in"), diameter: INCH * (number(whole)? + number(over)? / under) })
}

/// Drills that a shop owns if it does not say: 1 to 12 mm.
pub fn usual_drills() -> Vec<Drill> {
    metric_drills(1e-3, 12e-3)
}

/// Metric drills from `low` to `high` in steps of half a millimeter, m.
pub fn metric_drills(low: f64, high: f64) -> Vec<Drill> {
    let (first, last) = ((low / 0.5e-3).round() as u32, (high / 0.5e-3).round() as u32);
    (first.max(1)..=last).map(|i| Drill::metric(0.5e-3 * f64::from(i))).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 1 in = 25.4 mm; #30 is 0.1285 in, #1 0.2280 in (charts that cite ASME B94.11M).
    #[test]
    fn every_way_to_name_a_drill_is_read() {
        let mm = |name: &str| 1e3 * Drill::parse(name).expect("a drill").diameter;
        let cases = [("3.5", 3.5), ("3.5 mm", 3.5), ("1/8", 3.175), ("1 1/8 in", 28.575), ("5/32\"", 3.96875)];
        assert!(cases.iter().all(|(name, expected)| (mm(name) - expected).abs() < 1e-9));
        assert!((mm("#30") - 3.2639).abs() < 1e-9 && (mm("#1") - 5.7912).abs() < 1e-9);
        assert!(NUMBERED.windows(2).all(|pair| pair[1] < pair[0]));
        for wrong in ["", "#0", "#61", "1/0", "thick", "-2", "nan"] {
            assert!(Drill::parse(wrong).is_err(), "{wrong}");
        }
        let metric: Vec<String> = metric_drills(1e-3, 2.5e-3).into_iter().map(|d| d.name).collect();
        assert_eq!(metric, ["1 mm", "1.5 mm", "2 mm", "2.5 mm"]);
    }
}
