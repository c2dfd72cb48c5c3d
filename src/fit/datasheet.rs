//! A grade from its data sheet alone: what the sheet says is fitted, all else stays at its prior.

use super::free_rise::{FreeRiseFit, fit_free_rise};
use super::knowledge::GradeKnowledge;
use super::options::FitOptions;
use crate::error::{Error, Result};
use crate::fit::setup::grade_with;
use crate::inference::Prior;
use crate::model::FoamConstants;
use crate::model::Parameter;
use crate::records::{Datasheet, Grade, Recipe, RiseLog, Stopwatch};
use crate::units::STANDARD_PRESSURE;

/// Spread of the gas yield around what the recipe or the sheet gives: side reactions, losses, weighing. Common
/// practice, no source.
const GAS_YIELD_SD: f64 = 0.05;
/// A log without a cup loses no heat, whatever its mass, kg.
const ANY_MASS: f64 = 0.1;

/// The prior of the gas yield that a recipe gives: its stoichiometry within 5 %.
///
/// # Errors
/// [`Error::Argument`] as [`Recipe::gas_yield`]; also for a recipe that makes no gas or more than any foam.
pub fn gas_yield_prior(recipe: &Recipe) -> Result<Prior> {
    around_gas_yield(recipe.gas_yield()?, "water (parts)")
}

fn around_gas_yield(gas_yield: f64, argument: &str) -> Result<Prior> {
    let allowed = Parameter::GasYield.prior();
    if gas_yield > allowed.low && gas_yield < allowed.high {
        return Ok(Prior { median: gas_yield, sd: GAS_YIELD_SD, ..allowed });
    }
    let found = format!("a gas yield of {gas_yield:.4} mol/kg");
    let expected = format!("between {} and {} mol/kg", allowed.low, allowed.high);
    Err(Error::argument(argument, found, expected, "this model is for foams blown by water; look at the amounts"))
}

/// What is known of a grade from its data sheet. Density and times are taken as one cup test without heat loss; what
/// they do not determine stays at its prior, and the covariance says so.
///
/// A gas yield or recipe in the sheet becomes a prior of 5 % standard deviation, unless the options hold another.
///
/// # Errors
/// As [`gas_yield_prior`] and [`fit_free_rise`].
pub fn grade_from_datasheet(sheet: &Datasheet, options: &FitOptions) -> Result<GradeKnowledge> {
    let mut known = if tells_of_rise(sheet) {
        GradeKnowledge::from_cup_tests(&fit_datasheet(sheet, options)?)
    } else {
        let options = with_gas_yield(sheet, options)?;
        GradeKnowledge::from_priors(&expected_grade(sheet, &options), &options)
    };
    known.grade.note = note(sheet);
    Ok(known)
}

/// The fit behind [`grade_from_datasheet`], with every estimate.
///
/// # Errors
/// As [`grade_from_datasheet`]; [`Error::TooFewRecords`] for a sheet with neither density nor times.
pub fn fit_datasheet(sheet: &Datasheet, options: &FitOptions) -> Result<FreeRiseFit> {
    let options = with_gas_yield(sheet, options)?;
    fit_free_rise(&[as_cup_test(sheet)], &expected_grade(sheet, &options), &options)
}

fn with_gas_yield(sheet: &Datasheet, options: &FitOptions) -> Result<FitOptions> {
    let prior = match (sheet.gas_yield, &sheet.recipe) {
        (Some(given), _) => Some(around_gas_yield(given, "gas_yield_mol_kg")?),
        (None, Some(recipe)) => Some(gas_yield_prior(recipe)?),
        (None, None) => None,
    };
    let mut options = options.clone();
    // The first prior of a parameter counts: those of the caller stand before.
    options.priors.extend(prior.map(|prior| (Parameter::GasYield, prior)));
    Ok(options)
}

/// The grade before the fit: defaults, with what the sheet gives outright.
fn expected_grade(sheet: &Datasheet, options: &FitOptions) -> Grade {
    let mut constants = FoamConstants::default();
    constants.liquid_density = sheet.liquid_density.unwrap_or(constants.liquid_density);
    let expected = [Parameter::GasYield, Parameter::BlowHeat].map(|p| (p, options.prior(p).median));
    Grade { name: sheet.name.clone(), note: String::new(), constants: grade_with(constants, expected) }
}

fn tells_of_rise(sheet: &Datasheet) -> bool {
    let Stopwatch { cream, string_gel, end_of_rise, .. } = sheet.stopwatch;
    sheet.free_rise_density.is_some() || [cream, string_gel, end_of_rise].iter().any(Option::is_some)
}

fn as_cup_test(sheet: &Datasheet) -> RiseLog {
    RiseLog {
        name: format!("data sheet of {}", sheet.name),
        file: sheet.file.clone(),
        mass: ANY_MASS,
        mix_temp: sheet.at_temp,
        ambient_temp: sheet.at_temp,
        // Data sheets say nothing of altitude.
        ambient_pressure: STANDARD_PRESSURE,
        cup: None,
        time: Vec::new(),
        height: None,
        volume: None,
        temp: None,
        stopwatch: sheet.stopwatch,
        free_rise_density: sheet.free_rise_density,
        assumed: sheet.assumed.clone(),
    }
}

fn note(sheet: &Datasheet) -> String {
    let mut note = "from a data sheet alone: what it does not say is prior".to_owned();
    for assumed in &sheet.assumed {
        note.push_str(&format!("; assumed: {assumed}"));
    }
    note
}
