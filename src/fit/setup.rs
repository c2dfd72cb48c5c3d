//! Where each fitted parameter acts: its place in the set-up of a cup test and of a casting.

use crate::model::{Action, Casting, Cavity, FoamConstants, Parameter};
use crate::numerics::Scalar;
use crate::physics::cup::CupTest;

/// What a parameter does to the value at its place.
fn act<S: Scalar>(parameter: Parameter, value: S, place: &mut S) {
    match parameter.row().action {
        Action::Is => *place = value,
        Action::Scales => *place = *place * value,
        Action::Adds => *place += value,
    }
}

/// Everything that parameters act on in a cup test.
#[derive(Debug)]
pub(crate) struct CupSetup<S> {
    pub foam: LotFoam<S>,
    pub test: CupTest<S>,
    /// How much higher the dome of the foam rises than its mean, as a share of the rise.
    pub dome_fraction: S,
}

impl<S: Scalar> CupSetup<S> {
    /// Sets a parameter; those of one record act on what is set by then.
    pub fn set(&mut self, parameter: Parameter, value: S) {
        if let Some(place) = self.place(parameter) {
            act(parameter, value, place);
        }
    }

    fn place(&mut self, parameter: Parameter) -> Option<&mut S> {
        Some(match parameter {
            Parameter::CupHeatTransfer => &mut self.test.heat_transfer,
            Parameter::CoreHeatLossFactor => &mut self.test.core_heat_loss_factor,
            Parameter::SensorLag => &mut self.test.sensor_lag,
            Parameter::DomeFraction => &mut self.dome_fraction,
            Parameter::MixTempError => &mut self.test.mix_temp,
            _ => return self.foam.place(parameter),
        })
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
        self.each_place(parameter, |place| act(parameter, value, place));
    }

    /// What is at the place of a parameter, at its first place if there are several.
    pub fn at_place(&mut self, parameter: Parameter) -> Option<S> {
        let mut first = None;
        self.each_place(parameter, |place| first = first.or(Some(*place)));
        first
    }

    fn each_place(&mut self, parameter: Parameter, mut visit: impl FnMut(&mut S)) {
        let (cavity, casting) = (&mut self.cavity, &mut self.casting);
        match parameter {
            Parameter::GasRetention => visit(&mut cavity.gas_retention),
            Parameter::MoldRateFactor => visit(&mut cavity.rate_factor),
            Parameter::CavityVolume => visit(&mut cavity.volume),
            Parameter::HeatTransfer => {
                [&mut cavity.heat_transfer, &mut cavity.conduction_factor].into_iter().for_each(visit)
            }
            Parameter::VentSize => {
                let described = cavity.vents.iter_mut().filter_map(|vent| vent.drilled_mut());
                described.chain(&mut casting.vent_diameters).for_each(visit);
            }
            Parameter::PartingGap => cavity.parting_line.iter_mut().for_each(|line| visit(&mut line.gap)),
            Parameter::PartingOpening => cavity.parting_line.iter_mut().for_each(|line| visit(&mut line.opening)),
            Parameter::ClampEffect => cavity.clamp_force.iter_mut().chain(&mut casting.clamp_force).for_each(visit),
            Parameter::MixTempError => visit(&mut casting.mix_temp),
            Parameter::MoldTempError => visit(&mut casting.mold_temp),
            Parameter::ChargeError => visit(&mut casting.charge),
            _ => self.foam.place(parameter).into_iter().for_each(visit),
        }
    }
}

/// A grade in a fit: its constants, and the factors by which one record differs from them, in whatever order they are
/// set.
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
        if let Some(place) = self.place(parameter) {
            act(parameter, value, place);
        }
    }

    fn place(&mut self, parameter: Parameter) -> Option<&mut S> {
        Some(match parameter {
            Parameter::BlowHeat => self.blow_heat.get_or_insert_with(S::zero),
            Parameter::GasFactor => &mut self.gas,
            Parameter::BlowFactor => &mut self.blow,
            Parameter::GelFactor => &mut self.gel,
            Parameter::FlowFactor => &mut self.flow,
            _ => return constant(parameter, &mut self.constants),
        })
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

/// The constant of the foam that a parameter is as it stands, if it is one.
fn constant<S>(parameter: Parameter, foam: &mut FoamConstants<S>) -> Option<&mut S> {
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
pub(crate) fn grade_with(foam: FoamConstants, set: impl IntoIterator<Item = (Parameter, f64)>) -> FoamConstants {
    let mut lot = LotFoam::new(foam);
    set.into_iter().filter(|(parameter, _)| parameter.is_of_grade()).for_each(|(p, value)| lot.set(p, value));
    lot.constants()
}

impl Parameter {
    /// What it is in a grade with these constants, SI, if it is one of the grade's.
    pub fn of_grade(self, foam: &FoamConstants) -> Option<f64> {
        match self {
            Parameter::BlowHeat => Some(foam.blow_heat * foam.heat_capacity / foam.gas_yield),
            _ => constant(self, &mut foam.clone()).map(|value| *value),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::{FittedTo, Group};
    use crate::records::Mold;
    use crate::sweep::Slips;

    fn cup() -> CupSetup<f64> {
        let foam = LotFoam::new(FoamConstants::default());
        CupSetup { foam, test: CupTest::insulated(296.15, 101_325.0), dome_fraction: 0.0 }
    }

    fn casting() -> CastingSetup<f64> {
        let cavity = Mold::load("data/molds/armrest.toml").expect("the demo's mold").cavity;
        CastingSetup { foam: LotFoam::new(FoamConstants::default()), cavity, casting: Slips::probe() }
    }

    /// A row without a place would be fitted and do nothing.
    #[test]
    fn every_parameter_acts_in_the_fits_that_adjust_it() {
        for parameter in Parameter::all().filter(|p| p.row().group != Group::Scatter) {
            let (row, value) = (parameter.row(), parameter.prior().value(0.7));
            let (mut cup, mut casting) = (cup(), casting());
            let (cup_before, casting_before) = (format!("{cup:?}"), format!("{casting:?}"));
            cup.set(parameter, value);
            casting.set(parameter, value);
            assert!(row.fitted_to == FittedTo::Castings || format!("{cup:?}") != cup_before, "{parameter:?}");
            assert!(row.fitted_to == FittedTo::Cups || format!("{casting:?}") != casting_before, "{parameter:?}");
            assert_eq!(parameter.of_grade(&FoamConstants::default()).is_some(), parameter.is_of_grade());
        }
    }
}
