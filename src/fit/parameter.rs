//! What can be fitted: each parameter, where it goes in the model, and what is believed of it before any record.

use serde::Serialize;

use crate::model::{Casting, Cavity, FoamConstants};
use crate::numerics::Scalar;
use crate::physics::cup::CupTest;

/// A quantity that a fit may adjust.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize)]
#[allow(missing_docs)] // each name is the field that it adjusts, see `describe`
pub enum Parameter {
    // of the grade
    Induction,
    GasYield,
    BlowRate,
    BlowActivation,
    Competition,
    GelRate,
    GelActivation,
    BlowHeat,
    GelHeat,
    Solubility,
    AirFraction,
    GelConversion,
    RiseEndConversion,
    Settling,
    Viscosity,
    CellOpeningTime,
    // of the cup test
    CupHeatTransfer,
    CoreHeatLossFactor,
    SensorLag,
    DomeFraction,
    // of the mold
    GasRetention,
    MoldRateFactor,
    CavityVolume,
    HeatTransfer,
    VentSize,
    PartingGap,
    PartingOpening,
    ClampEffect,
    // of one record: what made it differ from the others
    GasFactor,
    BlowFactor,
    GelFactor,
    FlowFactor,
    MixTempError,
    MoldTempError,
    ChargeError,
    // of all castings together: how much more than believed they scatter
    CastingScatter,
    LotScatter,
}

/// What is believed of a parameter before any record: a normal distribution of its value, or of its logarithm.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Belief {
    /// Whether the logarithm is normally distributed (positive parameters).
    pub log: bool,
    /// Median, SI.
    pub center: f64,
    /// Standard deviation: of the logarithm, or in SI.
    pub spread: f64,
    /// Smallest value allowed, SI.
    pub low: f64,
    /// Largest value allowed, SI.
    pub high: f64,
}

/// How a parameter is written at the edge.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Label {
    /// Name with its unit, as in files and frames.
    pub name: &'static str,
    /// The unit in words; empty for a plain number.
    pub unit: &'static str,
    /// What an SI value is multiplied with to be in this unit.
    pub scale: f64,
}

impl Belief {
    const fn log(center: f64, spread: f64, low: f64, high: f64) -> Self {
        Belief { log: true, center, spread, low, high }
    }

    const fn plain(center: f64, spread: f64, low: f64, high: f64) -> Self {
        Belief { log: false, center, spread, low, high }
    }

    /// The value at this many spreads from the center, at most at a bound: coordinates that are mixed know no bounds of their
    /// own, and a conversion above 1 is none.
    pub fn value(&self, at: f64) -> f64 {
        self.unbounded(at).clamp(self.low, self.high)
    }

    /// Derivative of the value by the number of spreads; none beyond a bound.
    pub fn rate(&self, at: f64) -> f64 {
        let value = self.unbounded(at);
        let beyond = value < self.low || value > self.high;
        match self.log {
            _ if beyond => 0.0,
            true => value * self.spread,
            false => self.spread,
        }
    }

    fn unbounded(&self, at: f64) -> f64 {
        if self.log { self.center * (self.spread * at).exp() } else { self.center + self.spread * at }
    }

    /// How many spreads from the center a value is.
    pub fn position(&self, value: f64) -> f64 {
        if self.log { (value / self.center).ln() / self.spread } else { (value - self.center) / self.spread }
    }

    /// This belief around another center.
    pub fn around(self, center: f64) -> Self {
        let shift = if self.log { center / self.center } else { 1.0 };
        Belief { center, low: self.low.min(self.low * shift), high: self.high.max(self.high * shift), ..self }
    }
}

impl Parameter {
    /// Those of the grade that a cup test can tell something of, and those of the test itself.
    pub const CUP: [Parameter; 18] = [
        Parameter::Induction,
        Parameter::GasYield,
        Parameter::BlowRate,
        Parameter::BlowActivation,
        Parameter::Competition,
        Parameter::GelRate,
        Parameter::GelActivation,
        Parameter::BlowHeat,
        Parameter::GelHeat,
        Parameter::Solubility,
        Parameter::AirFraction,
        Parameter::GelConversion,
        Parameter::RiseEndConversion,
        Parameter::Settling,
        Parameter::CupHeatTransfer,
        Parameter::CoreHeatLossFactor,
        Parameter::SensorLag,
        Parameter::DomeFraction,
    ];
    /// What makes one cup test differ from another of the same grade.
    pub const PER_LOG: [Parameter; 4] =
        [Parameter::GasFactor, Parameter::BlowFactor, Parameter::GelFactor, Parameter::MixTempError];
    /// What makes one casting differ from another with the same settings.
    pub const PER_TRIAL: [Parameter; 7] = [
        Parameter::GasFactor,
        Parameter::BlowFactor,
        Parameter::GelFactor,
        Parameter::FlowFactor,
        Parameter::MixTempError,
        Parameter::MoldTempError,
        Parameter::ChargeError,
    ];

    /// Whether a grade may do without it (0), though a belief that counts in factors never comes there.
    pub fn can_be_none(self) -> bool {
        matches!(self, Parameter::Induction | Parameter::Competition)
    }

    /// Whether a grade may have it infinite: cells that stay closed open after no time.
    pub fn can_be_infinite(self) -> bool {
        self == Parameter::CellOpeningTime
    }

    /// Whether it is a constant of the grade.
    pub fn is_of_grade(self) -> bool {
        self.of_grade(&FoamConstants::default()).is_some()
    }

    /// What it is in a grade with these constants, SI, if it is one of the grade's.
    pub fn of_grade(self, foam: &FoamConstants) -> Option<f64> {
        match self {
            Parameter::BlowHeat => Some(foam.blow_heat * foam.heat_capacity / foam.gas_yield),
            _ => foam_field(self, &mut foam.clone()).map(|field| *field),
        }
    }

    /// What is believed of it where nothing else is known. Centers and ranges of the grade's constants: published kinetic
    /// models and measurements disagree by a factor of two, so these are wide (Baser and Khakhar, Polym. Eng. Sci. 34, 632
    /// and 642, 1994; Geier, Winkler and Piesche, Chem. Eng. Technol. 32, 1438, 2009; both from memory, not verified). Range
    /// here means two spreads either way. Scatter of one record: common practice, no source.
    pub fn belief(self) -> Belief {
        match self {
            // Catalysts wake up, the last of the mixing; common practice, no source.
            Parameter::Induction => Belief::log(2.0, 0.6, 0.02, 60.0),
            Parameter::GasYield => Belief::log(0.5, 0.7, 0.03, 3.0),
            Parameter::BlowRate => Belief::log(1.0 / 30.0, 0.7, 1e-3, 1.0),
            Parameter::BlowActivation => Belief::log(34e3, 0.13, 15e3, 80e3),
            // Stoichiometry: near an index of 100 as much is left to blowing as to gelling. Its spread: common practice, no
            // source.
            Parameter::Competition => Belief::log(1.0, 0.3, 0.02, 10.0),
            Parameter::GelRate => Belief::log(1.0 / 45.0, 0.7, 5e-4, 1.0),
            Parameter::GelActivation => Belief::log(42e3, 0.165, 15e3, 90e3),
            // Per mole of CO2, so that a grade with more gas is believed to be hotter: 86 kJ/mol of water in Baser and Khakhar,
            // up to 125 elsewhere; both from memory, not verified.
            Parameter::BlowHeat => Belief::log(86e3, 0.2, 10e3, 400e3),
            Parameter::GelHeat => Belief::log(85.0, 0.25, 15.0, 200.0),
            Parameter::Solubility => Belief::log(1e-8, 0.58, 5e-10, 1.5e-7),
            Parameter::AirFraction => Belief::log(0.03, 0.68, 1e-3, 0.4),
            Parameter::GelConversion => Belief::log(0.63, 0.075, 0.4, 0.9),
            Parameter::RiseEndConversion => Belief::log(0.71, 0.09, 0.4, 0.95),
            Parameter::Settling => Belief::log(0.01, 1.0, 1e-5, 0.3),
            // Mixes have 0.2 to 20 Pa s (from memory, not verified); lower here, for a foam thins under the shear in a vent.
            Parameter::Viscosity => Belief::log(1.2, 1.4, 2e-3, 2e3),
            Parameter::CellOpeningTime => Belief::log(200.0, 1.2, 5.0, 1e5),
            Parameter::CupHeatTransfer => Belief::log(8.0, 0.6, 0.2, 80.0),
            // Foam insulates: in a test's time its core hardly feels the wall; common practice, no source.
            Parameter::CoreHeatLossFactor => Belief::log(0.1, 0.9, 1e-3, 1.0),
            Parameter::SensorLag => Belief::log(2.0, 0.35, 0.1, 20.0),
            Parameter::DomeFraction => Belief::plain(0.015, 0.01, -0.03, 0.1),
            // An open cup loses some gas through its surface that a closed mold keeps; common practice, no source.
            Parameter::GasRetention => Belief::log(1.0, 0.04, 0.7, 1.5),
            // A cup is not a mold: other masses, another pour; common practice, no source.
            Parameter::MoldRateFactor => Belief::log(1.0, 0.035, 0.7, 1.4),
            Parameter::CavityVolume => Belief::log(1.0, 0.005, 0.9, 1.1),
            Parameter::HeatTransfer => Belief::log(1.0, 0.5, 0.05, 20.0),
            Parameter::VentSize => Belief::log(1.0, 0.05, 0.6, 1.5),
            Parameter::PartingGap => Belief::log(1e-5, 1.0, 1e-7, 1e-3),
            Parameter::PartingOpening => Belief::log(1.0, 1.0, 1e-3, 1e3),
            Parameter::ClampEffect => Belief::log(1.0, 0.15, 0.3, 2.0),
            Parameter::GasFactor => Belief::log(1.0, 0.015, 0.8, 1.25),
            Parameter::BlowFactor | Parameter::GelFactor => Belief::log(1.0, 0.03, 0.7, 1.4),
            // What a vent passes varies with cells, burrs and skins in it: a smooth tube's law is a rough guide. Common
            // practice, no source.
            Parameter::FlowFactor => Belief::log(1.0, 0.4, 0.05, 20.0),
            Parameter::MixTempError => Belief::plain(0.0, 0.5, -6.0, 6.0),
            Parameter::MoldTempError => Belief::plain(0.0, 1.0, -12.0, 12.0),
            Parameter::ChargeError => Belief::plain(0.0, 0.5e-3, -5e-3, 5e-3),
            Parameter::CastingScatter | Parameter::LotScatter => Belief::log(1.0, 0.3, 0.1, 10.0),
        }
    }

    /// How it is written at the edge.
    pub fn label(self) -> Label {
        let l = |name, unit, scale| Label { name, unit, scale };
        match self {
            Parameter::Induction => l("induction_s", "s", 1.0),
            Parameter::GasYield => l("gas_yield_mol_kg", "mol/kg", 1.0),
            Parameter::BlowRate => l("blow_rate_per_s", "1/s at 40 °C", 1.0),
            Parameter::BlowActivation => l("blow_activation_kJ_mol", "kJ/mol", 1e-3),
            Parameter::Competition => l("competition", "", 1.0),
            Parameter::GelRate => l("gel_rate_per_s", "1/s at 40 °C", 1.0),
            Parameter::GelActivation => l("gel_activation_kJ_mol", "kJ/mol", 1e-3),
            Parameter::BlowHeat => l("blow_heat_kJ_mol", "kJ/mol", 1e-3),
            Parameter::GelHeat => l("gel_heat_K", "K", 1.0),
            Parameter::Solubility => l("solubility_kg_kgbar", "kg/(kg bar)", 1e5),
            Parameter::AirFraction => l("air_fraction", "", 1.0),
            Parameter::GelConversion => l("gel_conversion", "", 1.0),
            Parameter::RiseEndConversion => l("rise_end_conversion", "", 1.0),
            Parameter::Settling => l("settling", "", 1.0),
            Parameter::Viscosity => l("viscosity_Pa_s", "Pa s at 40 °C", 1.0),
            Parameter::CellOpeningTime => l("cell_opening_time_s", "s", 1.0),
            Parameter::CupHeatTransfer => l("cup_heat_transfer_W_m2K", "W/(m2 K)", 1.0),
            Parameter::CoreHeatLossFactor => l("core_heat_loss_factor", "of the mean's", 1.0),
            Parameter::SensorLag => l("sensor_lag_s", "s", 1.0),
            Parameter::DomeFraction => l("dome_fraction", "of the rise", 1.0),
            Parameter::GasRetention => l("gas_retention", "of the cup's", 1.0),
            Parameter::MoldRateFactor => l("mold_rate_factor", "of the cup's", 1.0),
            Parameter::CavityVolume => l("cavity_volume_factor", "of the given", 1.0),
            Parameter::HeatTransfer => l("heat_transfer_factor", "of the given", 1.0),
            Parameter::VentSize => l("vent_size_factor", "of the given", 1.0),
            Parameter::PartingGap => l("parting_gap_um", "um", 1e6),
            Parameter::PartingOpening => l("parting_opening_factor", "of the given", 1.0),
            Parameter::ClampEffect => l("clamp_effect_factor", "of the given", 1.0),
            Parameter::GasFactor => l("gas_factor", "", 1.0),
            Parameter::BlowFactor => l("blow_factor", "", 1.0),
            Parameter::GelFactor => l("gel_factor", "", 1.0),
            Parameter::FlowFactor => l("flow_factor", "", 1.0),
            Parameter::MixTempError => l("mix_temp_error_K", "K", 1.0),
            Parameter::MoldTempError => l("mold_temp_error_K", "K", 1.0),
            Parameter::ChargeError => l("charge_error_g", "g", 1e3),
            Parameter::CastingScatter => l("casting_scatter_factor", "of the believed", 1.0),
            Parameter::LotScatter => l("lot_scatter_factor", "of the believed", 1.0),
        }
    }
}

/// The constant of the foam that a parameter is as it stands, if it is one.
fn foam_field<S>(parameter: Parameter, foam: &mut FoamConstants<S>) -> Option<&mut S> {
    Some(match parameter {
        Parameter::Induction => &mut foam.induction,
        Parameter::GasYield => &mut foam.gas_yield,
        Parameter::BlowRate => &mut foam.blow_rate,
        Parameter::BlowActivation => &mut foam.blow_activation,
        Parameter::Competition => &mut foam.competition,
        Parameter::GelRate => &mut foam.gel_rate,
        Parameter::GelActivation => &mut foam.gel_activation,
        Parameter::GelHeat => &mut foam.gel_heat,
        Parameter::Solubility => &mut foam.solubility,
        Parameter::AirFraction => &mut foam.air_fraction,
        Parameter::GelConversion => &mut foam.gel_conversion,
        Parameter::RiseEndConversion => &mut foam.rise_end_conversion,
        Parameter::Settling => &mut foam.settling,
        Parameter::Viscosity => &mut foam.viscosity,
        Parameter::CellOpeningTime => &mut foam.cell_opening_time,
        _ => return None,
    })
}

/// The constants of a grade with those of these parameters set that are the grade's.
pub(super) fn grade_with(foam: FoamConstants, set: impl IntoIterator<Item = (Parameter, f64)>) -> FoamConstants {
    let mut lot = LotFoam::new(foam);
    set.into_iter().filter(|(parameter, _)| parameter.is_of_grade()).for_each(|(p, value)| lot.set(p, value));
    lot.constants()
}

/// Everything that parameters act on in a cup test.
pub(super) struct CupSetup<S> {
    pub foam: LotFoam<S>,
    pub test: CupTest<S>,
    /// How much higher the crown of the foam rises than its mean, as a share of the rise.
    pub dome_fraction: S,
}

impl<S: Scalar> CupSetup<S> {
    /// Sets a parameter; those of one record act on what is set by then.
    pub fn set(&mut self, parameter: Parameter, value: S) {
        match parameter {
            Parameter::CupHeatTransfer => self.test.heat_transfer = value,
            Parameter::CoreHeatLossFactor => self.test.core_heat_loss_factor = value,
            Parameter::SensorLag => self.test.sensor_lag = value,
            Parameter::DomeFraction => self.dome_fraction = value,
            Parameter::MixTempError => self.test.mix_temp += value,
            _ => self.foam.set(parameter, value),
        }
    }
}

/// Everything that parameters act on in a casting.
#[derive(Clone, Debug)]
pub(crate) struct CastingSetup<S> {
    pub foam: LotFoam<S>,
    pub cavity: Cavity<S>,
    pub casting: Casting<S>,
}

impl<S: Scalar> CastingSetup<S> {
    /// The same in another kind of number.
    pub fn lift<T: Scalar>(&self, to: impl Fn(S) -> T + Copy) -> CastingSetup<T> {
        CastingSetup { foam: self.foam.lift(to), cavity: self.cavity.map(to), casting: self.casting.map(to) }
    }

    /// Sets a parameter. Factors of the mold scale what it was described with.
    pub fn set(&mut self, parameter: Parameter, value: S) {
        let scale = |x: &mut S| *x = *x * value;
        match parameter {
            Parameter::GasRetention => self.cavity.gas_retention = value,
            Parameter::MoldRateFactor => self.cavity.rate_factor = value,
            Parameter::CavityVolume => scale(&mut self.cavity.volume),
            Parameter::HeatTransfer => scale(&mut self.cavity.heat_transfer),
            Parameter::VentSize => {
                self.cavity.vents.iter_mut().for_each(|v| scale(&mut v.diameter));
                self.casting.vent_diameters.iter_mut().for_each(scale);
            }
            Parameter::PartingGap => {
                if let Some(line) = &mut self.cavity.parting_line {
                    line.gap = value;
                }
            }
            Parameter::PartingOpening => self.cavity.parting_line.iter_mut().for_each(|line| scale(&mut line.opening)),
            Parameter::ClampEffect => {
                self.cavity.clamp_force.iter_mut().for_each(scale);
                self.casting.clamp_force.iter_mut().for_each(scale);
            }
            Parameter::MixTempError => self.casting.mix_temp += value,
            Parameter::MoldTempError => self.casting.mold_temp += value,
            Parameter::ChargeError => self.casting.charge += value,
            _ => self.foam.set(parameter, value),
        }
    }
}

/// A grade in a fit: its constants, and the factors by which one record differs from them, in whatever order they are set.
#[derive(Clone, Debug)]
pub(crate) struct LotFoam<S> {
    constants: FoamConstants<S>,
    /// J per mole of CO2; `None`: the grade's blow heat as it is.
    blow_heat: Option<S>,
    gas: S,
    blow: S,
    gel: S,
    /// How much thicker it flows through what it leaves by.
    flow: S,
}

impl<S: Scalar> LotFoam<S> {
    pub fn new(constants: FoamConstants<S>) -> Self {
        LotFoam { constants, blow_heat: None, gas: S::one(), blow: S::one(), gel: S::one(), flow: S::one() }
    }

    fn set(&mut self, parameter: Parameter, value: S) {
        match parameter {
            Parameter::BlowHeat => self.blow_heat = Some(value),
            Parameter::GasFactor => self.gas = value,
            Parameter::BlowFactor => self.blow = value,
            Parameter::GelFactor => self.gel = value,
            Parameter::FlowFactor => self.flow = value,
            _ => {
                if let Some(field) = foam_field(parameter, &mut self.constants) {
                    *field = value;
                }
            }
        }
    }

    /// Makes this record's lot differ by one more factor of its gas yield.
    pub fn scale_gas(&mut self, factor: S) {
        self.gas = self.gas * factor;
    }

    /// The constants of this record's lot.
    pub fn constants(&self) -> FoamConstants<S> {
        let c = self.constants;
        FoamConstants {
            gas_yield: c.gas_yield * self.gas,
            blow_rate: c.blow_rate * self.blow,
            gel_rate: c.gel_rate * self.gel,
            viscosity: c.viscosity * self.flow,
            blow_heat: self.blow_heat.map_or(c.blow_heat, |heat| heat * c.gas_yield / c.heat_capacity),
            ..c
        }
    }

    fn lift<T: Scalar>(&self, to: impl Fn(S) -> T) -> LotFoam<T> {
        LotFoam {
            constants: self.constants.map(&to),
            blow_heat: self.blow_heat.map(&to),
            gas: to(self.gas),
            blow: to(self.blow),
            gel: to(self.gel),
            flow: to(self.flow),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Mixed coordinates go anywhere; a gel conversion above 1 came out of a fit of a campaign.
    #[test]
    fn values_stay_within_their_bounds() {
        for parameter in Parameter::CUP.into_iter().chain(Parameter::PER_TRIAL) {
            let belief = parameter.belief();
            for at in [-1e3, -9.0, 9.0, 1e3] {
                let value = belief.value(at);
                assert!((belief.low..=belief.high).contains(&value), "{parameter:?} {value}");
                assert!(value > belief.low && value < belief.high || belief.rate(at) == 0.0, "{parameter:?}");
            }
        }
    }
}
