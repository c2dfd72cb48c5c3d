//! Gas yield from a recipe: water makes CO2, and the isocyanate dilutes it.
//!
//! One mole of water makes one mole of CO2 and takes two isocyanate groups; each OH group takes one. Stoichiometry of
//! the trade's equivalent-weight arithmetic (OH number in mg KOH/g, equivalent weight in g per group).

use crate::error::{Error, Result};
use crate::records::Recipe;

/// Molar mass of water, kg/mol.
const WATER_MOLAR_MASS: f64 = 0.01801528;
/// Molar mass of potassium hydroxide, g/mol: what an OH number is counted in.
const KOH_MOLAR_MASS: f64 = 56.1056;

impl Recipe {
    /// Isocyanate needed, parts by mass.
    ///
    /// # Errors
    /// [`Error::Argument`] for a negative amount or an equivalent weight or index that is not above zero.
    pub fn isocyanate(&self) -> Result<f64> {
        self.check()?;
        let hydroxyl: f64 = self.polyols.iter().map(|p| p.parts * p.hydroxyl_number / (1000.0 * KOH_MOLAR_MASS)).sum();
        let water = 2.0 * self.water / (1000.0 * WATER_MOLAR_MASS);
        Ok((hydroxyl + water) * self.isocyanate_equivalent * self.index / 100.0)
    }

    /// CO2 that the whole mix can make, mol/kg.
    ///
    /// # Errors
    /// As [`Recipe::isocyanate`]; also where the recipe has no mass.
    pub fn gas_yield(&self) -> Result<f64> {
        let resin: f64 = self.polyols.iter().map(|p| p.parts).sum::<f64>() + self.water + self.inert;
        let total = resin + self.isocyanate()?;
        if total <= 0.0 {
            return Err(Error::argument("recipe", "no parts at all", "at least one polyol", "add the polyols"));
        }
        Ok(self.water / WATER_MOLAR_MASS / total)
    }

    fn check(&self) -> Result<()> {
        let positive =
            [("isocyanate_equivalent (g/equivalent)", self.isocyanate_equivalent), ("index (100 = exact)", self.index)];
        let mut amounts = vec![("water (parts)", self.water), ("inert (parts)", self.inert)];
        for polyol in &self.polyols {
            amounts.push(("polyol parts", polyol.parts));
            amounts.push(("hydroxyl_number (mg KOH/g)", polyol.hydroxyl_number));
        }
        for (name, value) in positive {
            if !(value.is_finite() && value > 0.0) {
                return Err(Error::argument(name, value, "a number above zero", "look at the recipe"));
            }
        }
        for (name, value) in amounts {
            if !(value.is_finite() && value >= 0.0) {
                return Err(Error::argument(name, value, "zero or more", "look at the recipe"));
            }
        }
        Ok(())
    }
}
