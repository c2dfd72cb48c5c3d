//! The constants of a foam: one row each, from which files, attributes and changes read.

use super::field::Range;
use super::foam::FoamConstants;
use super::number::Number;
use crate::units::Quantity;

type Kind = (Quantity, Range);

const TIME: Kind = (Quantity::Time, Range::NotNegative);
const RATE: Kind = (Quantity::Rate, Range::Positive);
const ACTIVATION: Kind = (Quantity::Activation, Range::NotNegative);
const HEAT: Kind = (Quantity::TemperatureRise, Range::NotNegative);
const SHARE: Kind = (Quantity::Fraction, Range::Fraction);
const CONVERSION: Kind = (Quantity::Fraction, Range::OpenFraction);
const NUMBER: Kind = (Quantity::Number, Range::NotNegative);

const fn constant(
    base: &'static str,
    kind: Kind,
    sentence: &'static str,
    get: fn(&FoamConstants) -> Option<f64>,
    place: fn(&mut FoamConstants) -> Option<&mut f64>,
) -> Number<FoamConstants> {
    Number::new(base, kind, sentence, get, place)
}

/// The constants, in the order of [`FoamConstants`]; what may be absent from a file has a value that says "none".
pub static CONSTANTS: [Number<FoamConstants>; 22] = [
    constant(
        "liquid_density",
        (Quantity::Density, Range::Positive),
        "Density of the liquid mix without gas.",
        |c| Some(c.liquid_density),
        |c| Some(&mut c.liquid_density),
    ),
    constant(
        "heat_capacity",
        (Quantity::HeatCapacity, Range::Positive),
        "Heat capacity of the mix.",
        |c| Some(c.heat_capacity),
        |c| Some(&mut c.heat_capacity),
    ),
    constant(
        "conductivity",
        (Quantity::Conductivity, Range::Positive),
        "Thermal conductivity of the mix without gas; foam in layers conducts by it.",
        |c| Some(c.conductivity),
        |c| Some(&mut c.conductivity),
    )
    .or_absent(|c| c.conductivity = FoamConstants::default().conductivity),
    constant(
        "induction",
        TIME,
        "Time after mixing until the reactions start.",
        |c| Some(c.induction),
        |c| Some(&mut c.induction),
    )
    .or_absent(|c| c.induction = 0.0),
    constant(
        "gas_yield",
        (Quantity::GasYield, Range::Positive),
        "CO2 that the mix can make.",
        |c| Some(c.gas_yield),
        |c| Some(&mut c.gas_yield),
    ),
    constant(
        "blow_rate",
        RATE,
        "First-order blowing rate at 40 °C.",
        |c| Some(c.blow_rate),
        |c| Some(&mut c.blow_rate),
    ),
    constant(
        "blow_activation",
        ACTIVATION,
        "Activation energy of blowing.",
        |c| Some(c.blow_activation),
        |c| Some(&mut c.blow_activation),
    ),
    constant("gel_rate", RATE, "Second-order gelling rate at 40 °C.", |c| Some(c.gel_rate), |c| Some(&mut c.gel_rate)),
    constant(
        "gel_activation",
        ACTIVATION,
        "Activation energy of gelling.",
        |c| Some(c.gel_activation),
        |c| Some(&mut c.gel_activation),
    ),
    constant(
        "competition",
        NUMBER,
        "How much gelling takes the isocyanate away from blowing: 0 not at all, 1 as much as from itself.",
        |c| Some(c.competition),
        |c| Some(&mut c.competition),
    )
    .or_absent(|c| c.competition = 0.0),
    constant(
        "blow_heat",
        HEAT,
        "Adiabatic temperature rise of the whole blowing reaction.",
        |c| Some(c.blow_heat),
        |c| Some(&mut c.blow_heat),
    ),
    constant(
        "gel_heat",
        HEAT,
        "Adiabatic temperature rise of the whole gelling reaction.",
        |c| Some(c.gel_heat),
        |c| Some(&mut c.gel_heat),
    ),
    constant(
        "solubility",
        (Quantity::Solubility, Range::NotNegative),
        "CO2 that the liquid holds per absolute pressure.",
        |c| Some(c.solubility),
        |c| Some(&mut c.solubility),
    ),
    constant(
        "air_fraction",
        SHARE,
        "Air beaten in while mixing, as a share of the liquid's volume at ambient pressure.",
        |c| Some(c.air_fraction),
        |c| Some(&mut c.air_fraction),
    ),
    constant(
        "gel_conversion",
        CONVERSION,
        "Gelling conversion at which the mix stops flowing.",
        |c| Some(c.gel_conversion),
        |c| Some(&mut c.gel_conversion),
    ),
    constant(
        "rise_end_conversion",
        CONVERSION,
        "Gelling conversion at which an unconfined foam stops rising.",
        |c| Some(c.rise_end_conversion),
        |c| Some(&mut c.rise_end_conversion),
    ),
    constant(
        "viscosity",
        (Quantity::Viscosity, Range::Positive),
        "Viscosity of the unreacted mix at 40 °C.",
        |c| Some(c.viscosity),
        |c| Some(&mut c.viscosity),
    ),
    constant(
        "viscosity_activation",
        ACTIVATION,
        "Activation energy of the viscosity.",
        |c| Some(c.viscosity_activation),
        |c| Some(&mut c.viscosity_activation),
    ),
    constant(
        "viscosity_a",
        NUMBER,
        "Castro-Macosko exponent a.",
        |c| Some(c.viscosity_a),
        |c| Some(&mut c.viscosity_a),
    ),
    constant(
        "viscosity_b",
        NUMBER,
        "Castro-Macosko exponent b.",
        |c| Some(c.viscosity_b),
        |c| Some(&mut c.viscosity_b),
    ),
    constant(
        "settling",
        SHARE,
        "Share of the maximum height that is lost after the maximum.",
        |c| Some(c.settling),
        |c| Some(&mut c.settling),
    ),
    constant(
        "cell_opening_time",
        (Quantity::Time, Range::Positive),
        "Time constant of gas loss through opened cells after gel; infinite: cells stay closed.",
        |c| Some(c.cell_opening_time),
        |c| Some(&mut c.cell_opening_time),
    )
    .or_absent(|c| c.cell_opening_time = f64::INFINITY),
];
