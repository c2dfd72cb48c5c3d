//! Units and their names against NIST SP 811, and the standard atmosphere against its tables.

use proptest::prelude::*;
use risefit::error::Error;
use risefit::units::{Quantity, nearest, parse, split, standard_pressure};

fn si(quantity: Quantity, suffix: &str, x: f64) -> f64 {
    quantity.unit(suffix).unwrap_or_else(|| panic!("no unit {suffix}")).to_si(x)
}

/// Conversion factors to seven digits: NIST Special Publication 811 (2008), appendix B.8, seen in a secondary copy; in2, in3
/// and lb/ft3 from memory, not verified, but they follow exactly from inch, foot and pound.
#[test]
fn factors_agree_with_nist_sp_811() {
    use Quantity::*;
    let cases = [
        (Length, "in", 2.54e-2),
        (Altitude, "ft", 3.048e-1),
        (Area, "in2", 6.4516e-4),
        (Volume, "in3", 1.638706e-5),
        (Volume, "L", 1e-3),
        (Mass, "lb", 4.535924e-1),
        (Mass, "oz", 2.834952e-2),
        (GaugePressure, "psi", 6.894757e3),
        (AbsolutePressure, "inHg", 3.386389e3),
        (AbsolutePressure, "mmHg", 1.333224e2),
        (AbsolutePressure, "atm", 1.01325e5),
        (AbsolutePressure, "mbar", 1e2),
        (Density, "lb_ft3", 1.601846e1),
        (Density, "g_cm3", 1e3),
        (Force, "lbf", 4.448222),
        (Force, "kgf", 9.80665),
        (Viscosity, "mPa_s", 1e-3),
    ];
    for (quantity, suffix, factor) in cases {
        let relative = si(quantity, suffix, 1.0) / factor - 1.0;
        assert!(relative.abs() < 5e-7, "{suffix}: off by {relative:e}");
    }
}

/// T/K = (t/F + 459.67)/1.8 and T/K = t/C + 273.15: NIST SP 811, appendix B.8.
#[test]
fn temperatures_agree_with_nist_sp_811() {
    let cases =
        [("F", 32.0, 273.15), ("F", 212.0, 373.15), ("F", -40.0, 233.15), ("C", -40.0, 233.15), ("K", 300.0, 300.0)];
    for (suffix, x, kelvin) in cases {
        assert!((si(Quantity::Temperature, suffix, x) - kelvin).abs() < 1e-12 * kelvin, "{x} {suffix}");
    }
    assert!((si(Quantity::TemperatureRise, "F", 90.0) - 50.0).abs() < 1e-12);
}

/// Compound units follow from their parts.
#[test]
fn compound_units() {
    use Quantity::*;
    let cases = [
        (Stretch, "per_bar", 1e-5),
        (Stretch, "percent_per_bar", 1e-7),
        (Opening, "um_per_kN", 1e-9),
        (Solubility, "kg_kgbar", 1e-5),
        (Activation, "kJ_mol", 1e3),
        (Rate, "per_min", 1.0 / 60.0),
        (Fraction, "percent", 0.01),
    ];
    for (quantity, suffix, factor) in cases {
        assert!((si(quantity, suffix, 1.0) / factor - 1.0).abs() < 1e-15, "{suffix}");
    }
}

/// U.S. Standard Atmosphere 1976, pressure in Pa at geometric height.
#[test]
fn atmosphere_agrees_with_its_tables() {
    for (altitude, pressure) in [(0.0, 101325.0), (1000.0, 89876.29), (2000.0, 79501.42), (3000.0, 70121.16)] {
        let found = standard_pressure(altitude).expect("in range");
        assert!((found - pressure).abs() < 0.01, "{altitude} m: {found} Pa");
    }
    assert!(standard_pressure(11_001.0).is_err() && standard_pressure(f64::NAN).is_err());
}

#[test]
fn names_are_taken_apart() {
    assert_eq!(split("charge_g"), ("charge", Some("g")));
    assert_eq!(split("free_rise_density_kg_m3"), ("free_rise_density", Some("kg_m3")));
    assert_eq!(split("heat_transfer_W_m2K"), ("heat_transfer", Some("W_m2K")));
    assert_eq!(split("charge"), ("charge", None));
    assert_eq!(split("_g"), ("_g", None));
    assert_eq!(Quantity::Mass.accepted_names("charge"), ["charge_g", "charge_kg", "charge_oz", "charge_lb"]);
    assert_eq!(nearest("creme_time", ["cream_time", "charge"].into_iter()), Some("cream_time"));
    assert_eq!(nearest("pressure", ["cream_time", "charge"].into_iter()), None);
}

const ARGUMENTS: &[(&str, Quantity)] = &[
    ("charge", Quantity::Mass),
    ("vent", Quantity::Length),
    ("vent_loss", Quantity::Mass),
    ("mix_temp", Quantity::Temperature),
    ("at_fill", Quantity::Fraction),
];

#[test]
fn arguments_are_read_by_the_same_table() {
    let read = |name: &str, x: f64| parse(name, x, ARGUMENTS).map(|reading| (reading.base, reading.value));
    assert_eq!(read("charge_g", 62.0), Ok(("charge", 0.062)));
    assert_eq!(read("vent_in", 0.125), Ok(("vent", 0.003175)));
    assert_eq!(read("vent_loss_g", 2.0), Ok(("vent_loss", 0.002)));
    assert_eq!(read("at_fill", 0.9), Ok(("at_fill", 0.9)));
    let (base, kelvin) = read("mix_temp_F", 73.4).expect("a temperature");
    assert!(base == "mix_temp" && (kelvin - 296.15).abs() < 1e-12);
}

#[test]
fn bad_arguments_say_what_would_do() {
    let cases = [
        ("charge", 62.0, "write one of: charge_g, charge_kg"),
        ("charge_mm", 62.0, "write one of: charge_g, charge_kg"),
        ("charge_grams", 62.0, "write one of: charge_g, charge_kg"),
        ("chrage_g", 62.0, "did you mean `charge_g`"),
        ("vent_los_g", 2.0, "did you mean `vent_loss_g`"),
        ("clamp_N", 2.0, "known: charge_g, vent_mm"),
        ("mix_temp_C", 296.0, "`_K`"),
        ("charge_g", f64::NAN, "a finite number"),
    ];
    for (name, x, fragment) in cases {
        let error = parse(name, x, ARGUMENTS).expect_err(name);
        assert!(matches!(error, Error::Argument { .. }), "{error:?}");
        let message = error.to_string();
        assert!(message.starts_with(name) && message.contains(fragment), "{name}: {message}");
    }
}

proptest! {
    /// Into SI and back is the same number, and the shortest decimal reads back as the same SI value.
    #[test]
    fn there_and_back(x in 1e-3..1e4f64) {
        for quantity in [Quantity::Mass, Quantity::Temperature, Quantity::GaugePressure, Quantity::Opening] {
            for unit in quantity.units() {
                let value = unit.to_si(x);
                prop_assert!((unit.from_si(value) - x).abs() <= 1e-12 * x.max(1e3));
                prop_assert!((unit.to_si(unit.shortest(value)) - value).abs() <= 4.0 * f64::EPSILON * value);
            }
        }
    }

    /// What has few digits is written with few digits.
    #[test]
    fn short_stays_short(tenths in 1u32..100_000) {
        let x = f64::from(tenths) / 10.0;
        for unit in Quantity::Length.units().iter().chain(Quantity::Mass.units()) {
            prop_assert_eq!(unit.shortest(unit.to_si(x)), x);
        }
    }

    /// No name and no number makes the reader panic.
    #[test]
    fn no_name_panics(name in ".{0,40}", x in any::<f64>()) {
        let _ = parse(&name, x, ARGUMENTS);
        let _ = split(&name);
    }
}
