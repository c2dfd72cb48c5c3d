//! The gases of the mix, species by species: how each is made, how it dissolves, and the volume that the free gas
//! takes.

use super::properties::{AIR_MOLAR_MASS, CO2_MOLAR_MASS, GAS_CONSTANT};
use crate::model::FoamConstants;
use crate::numerics::Scalar;

/// Where a species comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Source {
    /// The blowing reaction makes it, in proportion to its conversion.
    Blowing,
    /// It is beaten in while mixing: all of it is there from the start.
    Mixing,
}

/// What is known of a gas, whatever the grade.
#[derive(Clone, Copy, Debug)]
pub struct Species {
    /// Where it comes from.
    pub source: Source,
    /// Whether the liquid holds some of it (Henry's law): it is free in the cells only beyond that.
    pub dissolves: bool,
    /// Molar mass, kg/mol.
    pub molar_mass: f64,
}

/// How many species there are.
pub const SPECIES_COUNT: usize = 2;
/// Place of CO2 among the species.
pub const CO2: usize = 0;
/// Place of air among the species; the headspace holds it too.
pub const AIR: usize = 1;

/// The species, in the order in which they are summed. What is known of them is constant, so that sums over them cost
/// what they would cost written out.
pub const SPECIES: [Species; SPECIES_COUNT] = [
    // CO2
    Species { source: Source::Blowing, dissolves: true, molar_mass: CO2_MOLAR_MASS },
    // Air
    Species { source: Source::Mixing, dissolves: false, molar_mass: AIR_MOLAR_MASS },
];

/// For each species, whether the liquid holds as much of it as it can: until then none of it is free. Of one that does
/// not dissolve it is not asked.
pub type Saturated = [bool; SPECIES_COUNT];

/// How much of a species there is.
#[derive(Clone, Copy, Debug)]
pub struct Amount<S> {
    /// All that its source gives, mol/kg of mix.
    pub total: S,
    /// What dissolves per absolute pressure, mol/(kg Pa).
    pub henry: S,
}

/// The gases of one kilogram of mix.
#[derive(Clone, Copy, Debug)]
pub struct Gases<S> {
    /// How much of each species.
    pub amounts: [Amount<S>; SPECIES_COUNT],
    /// Density of the liquid, kg/m3.
    pub liquid_density: S,
}

/// The sum over the species that count; `None` if none does. Written out, not a loop: what is constant of a species
/// then costs nothing.
#[inline(always)]
fn sum<S: Scalar>(of: impl Fn(usize) -> Option<S>) -> Option<S> {
    let add = |a: Option<S>, b: Option<S>| match (a, b) {
        (Some(a), Some(b)) => Some(a + b),
        (a, b) => a.or(b),
    };
    add(of(CO2), of(AIR))
}

impl<S: Scalar> Gases<S> {
    /// The gases of a grade mixed at this ambient pressure (Pa) and temperature (K), at which air was beaten in.
    pub fn new(foam: &FoamConstants<S>, ambient_pressure: S, mix_temp: S) -> Self {
        let co2 = Amount { total: foam.gas_yield, henry: foam.solubility / CO2_MOLAR_MASS };
        let beaten_in = foam.air_fraction / foam.liquid_density * ambient_pressure / (mix_temp * GAS_CONSTANT);
        let air = Amount { total: beaten_in, henry: S::zero() };
        Gases { amounts: [co2, air], liquid_density: foam.liquid_density }
    }

    /// What there is of a species at this blowing conversion, dissolved or not, mol/kg.
    #[inline(always)]
    fn made(&self, i: usize, blown: S) -> S {
        match SPECIES[i].source {
            Source::Blowing => self.amounts[i].total * blown,
            Source::Mixing => self.amounts[i].total,
        }
    }

    /// Gas that the blowing reaction has made, dissolved or not, mol/kg.
    pub fn blown(&self, blown: S) -> S {
        self.made(CO2, blown)
    }

    /// What there is of a species beyond what is dissolved at this pressure (Pa), mol/kg; negative while the liquid is
    /// not saturated with it.
    #[inline(always)]
    pub fn excess(&self, species: usize, blown: S, pressure: S) -> S {
        self.made(species, blown) - self.amounts[species].henry * pressure
    }

    /// Whether a species is free in the cells.
    #[inline(always)]
    fn is_free(species: usize, saturated: &Saturated) -> bool {
        !SPECIES[species].dissolves || saturated[species]
    }

    /// Gas that is free at this pressure (Pa), mol/kg.
    #[inline(always)]
    pub fn free(&self, blown: S, pressure: S, saturated: &Saturated) -> S {
        let there = |i: usize| match SPECIES[i].dissolves {
            true => self.excess(i, blown, pressure),
            false => self.made(i, blown),
        };
        sum(|i| Self::is_free(i, saturated).then(|| there(i))).unwrap_or_else(S::zero)
    }

    /// Gas that is free where the liquid holds all that it can at this pressure (Pa), mol/kg, and its derivative by the
    /// blowing conversion.
    #[inline(always)]
    pub fn free_where_it_can(&self, blown: S, pressure: S) -> (S, S) {
        let saturated = std::array::from_fn(|i| self.excess(i, blown, pressure).value() > 0.0);
        (self.free(blown, pressure, &saturated), self.made_by_blown(&saturated))
    }

    /// Gas of the species that are free, with what dissolves of them under pressure, mol/kg.
    #[inline(always)]
    pub fn made_of_free(&self, blown: S, saturated: &Saturated) -> S {
        sum(|i| Self::is_free(i, saturated).then(|| self.made(i, blown))).unwrap_or_else(S::zero)
    }

    /// The derivative of [`Gases::made_of_free`] by the blowing conversion.
    #[inline(always)]
    pub fn made_by_blown(&self, saturated: &Saturated) -> S {
        let blows = |i: usize| SPECIES[i].source == Source::Blowing;
        sum(|i| (blows(i) && Self::is_free(i, saturated)).then(|| self.amounts[i].total)).unwrap_or_else(S::zero)
    }

    /// What dissolves of the free species per absolute pressure, mol/(kg Pa).
    #[inline(always)]
    pub fn henry(&self, saturated: &Saturated) -> S {
        let dissolves = |i: usize| SPECIES[i].dissolves && saturated[i];
        sum(|i| dissolves(i).then(|| self.amounts[i].henry)).unwrap_or_else(S::zero)
    }

    /// Volume of a kilogram of foam at this pressure (Pa) and temperature (K), m3/kg.
    #[inline(always)]
    pub fn specific_volume(&self, blown: S, temp: S, pressure: S) -> S {
        let of = |i: usize| match SPECIES[i].dissolves {
            true => Some(self.excess(i, blown, pressure).max(S::zero())),
            false => Some(self.made(i, blown)),
        };
        let free = sum(of).unwrap_or_else(S::zero);
        S::one() / self.liquid_density + free * temp * GAS_CONSTANT / pressure
    }
}
