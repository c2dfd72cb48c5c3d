//! A shop drawn from the priors: grade, mold, lots and readings come from the very distributions that a fit believes in. Invented.
//!
//! Whether a shop is used is decided by what its records show, never by its truth or its fit: given the records, the truth
//! is then still distributed as believed, and intervals have to hold it as often as they say.

use super::blank_log::blank_log;
use super::blank_trial::blank_trial;
use super::dice::Dice;
use super::scattered::scattered;
use risefit::fit::{Draws, FitOptions, GradeKnowledge, Prior};
use risefit::model::CastingResult;
use risefit::model::Parameter;
use risefit::model::{Casting, Cup, FoamConstants, Verdict};
use risefit::records::{Grade, Mold, RiseLog, Stopwatch, Trial};
use risefit::{Accuracy, sampled};
use risefit::{CupTest, free_rise};
use std::path::Path;

const CUP: Cup = Cup { bottom_diameter: 0.11, top_diameter: 0.13, height: 0.15 };
/// Drills that vents are made with, m.
const VENTS: [f64; 6] = [2.5e-3, 3e-3, 3.5e-3, 4e-3, 5e-3, 6e-3];
const CASTINGS: usize = 4;
/// Nobody watches a cup for longer, s.
const WATCHED: f64 = 900.0;
/// White scatter of a height (m) and of a thermocouple (K): what the fit finds from the residuals.
const HEIGHT_SD: f64 = 0.5e-3;
const TEMP_SD: f64 = 0.3;
/// What nature does that the model misses, as a share of a series' change, in pieces of a fifth of it, as the fit believes.
const RISE_MISSED: f64 = 0.005;
const TEMP_MISSED: f64 = 0.01;
const PIECES: f64 = 5.0;
/// Share of wrong entries among answers of the eye, as the fit believes.
const SLIPS: f64 = 0.01;
const FINE: Accuracy = Accuracy { relative: 1e-8 };

/// A shop's records, what it asks for next, and the truth behind all of it.
pub struct DrawnShop {
    pub logs: Vec<RiseLog>,
    pub mold: Mold,
    pub trials: Vec<Trial>,
    pub next: Casting,
    /// What the next casting comes to.
    pub came: CastingResult,
    truths: Vec<(Parameter, Option<String>, f64)>,
}

/// Why a shop is not used.
#[derive(Debug, PartialEq)]
pub enum Unused {
    /// Its records are no cup test and castings to learn from: no cream, gel or end of rise in a quarter of an hour, or two
    /// parts short.
    Records,
    /// It cannot be simulated.
    Failed,
}

impl DrawnShop {
    /// The true value of an estimate.
    pub fn truth(&self, parameter: Parameter, record: Option<&str>) -> f64 {
        let found = self.truths.iter().find(|(p, of, _)| *p == parameter && of.as_deref() == record);
        found.unwrap_or_else(|| panic!("no truth of {parameter:?} of {record:?}")).2
    }

    /// Shop number `number`.
    pub fn draw(number: u64) -> Result<DrawnShop, Unused> {
        let mut dice = Dice::new(1_000_003 * number + 17);
        let mold = Mold::load(Path::new(env!("CARGO_MANIFEST_DIR")).join("data/molds/armrest.toml")).expect("a mold");
        let mut truths = Vec::new();
        let mut drawn = |p: Parameter, dice: &mut Dice| {
            let value = draw(p, dice);
            truths.push((p, None, value));
            value
        };
        let grade = FoamConstants {
            rise_end_conversion: drawn(Parameter::RiseEndConversion, &mut dice),
            settling: drawn(Parameter::Settling, &mut dice),
            ..centers()
        };
        let [heat, core, lag, crown] =
            [Parameter::CupHeatTransfer, Parameter::CoreHeatLossFactor, Parameter::SensorLag, Parameter::DomeFraction]
                .map(|p| drawn(p, &mut dice));
        let scatter = draw(Parameter::CastingScatter, &mut dice);
        let believed = FitOptions { priors: lots(draw(Parameter::LotScatter, &mut dice)), ..FitOptions::default() };
        let known = GradeKnowledge::from_priors(
            &Grade { name: "drawn".into(), note: String::new(), constants: grade },
            &believed,
        );
        // One row of what all castings share; a row of scatter for each casting.
        let draws = Draws::before_castings(&known, &mold, &believed, CASTINGS + 1, number).expect("draws");
        truths.extend(draws.parameters().into_iter().zip(draws.values().row(0)).map(|(p, x)| (p, None, *x)));
        let lasting = draws.setup(0, &setting(60e-3, 3e-3, 30.0, 15.0), false).expect("a setup").0;

        let mut logs = Vec::new();
        for (name, from, to) in [("cool", 18.0, 21.0), ("warm", 25.0, 29.0)] {
            let temp_c = from + (to - from) * dice.uniform();
            let own: Vec<f64> = Parameter::of_each_cup().map(|p| draw(p, &mut dice)).collect();
            let own: [f64; 4] = own.try_into().expect("four of each cup");
            truths.extend(Parameter::of_each_cup().zip(own).map(|(p, x)| (p, Some(name.to_owned()), x)));
            logs.push(cup_log(name, temp_c, &lasting, own, [heat, core, lag, crown], &mut dice)?);
        }
        let (density, gel) = seen(&logs);
        let mut trials = Vec::new();
        let first = (dice.uniform() * 6.0) as usize;
        for k in 0..CASTINGS {
            let name = format!("T{k}");
            let planned = plan(&mold, density, gel, VENTS[(first + 2 * (k % 2)) % 6], &mut dice);
            truths.extend(own_of(&draws, k).map(|(p, x)| (p, Some(name.clone()), x)));
            let came = cast(&draws, k, &planned)?;
            trials.push(trial(&name, planned, &came, scatter, &mut dice));
        }
        let short = trials.iter().filter(|t| t.outcome == Some(Verdict::Short)).count();
        if short > 1 {
            return Err(Unused::Records);
        }
        let next = plan(&mold, density, gel, VENTS[(first + 1) % 6], &mut dice);
        let came = cast(&draws, CASTINGS, &next)?;
        Ok(DrawnShop { logs, mold, trials, next, came, truths })
    }
}

fn draw(parameter: Parameter, dice: &mut Dice) -> f64 {
    let prior = parameter.prior();
    prior.value(dice.normal()).clamp(prior.low, prior.high)
}

/// Student's t with 4 degrees of freedom.
fn heavy(dice: &mut Dice) -> f64 {
    let square: f64 = (0..4).map(|_| dice.normal().powi(2)).sum();
    dice.normal() / (square / 4.0).sqrt()
}

/// A grade at the centers of the priors.
pub fn centers() -> FoamConstants {
    let c = |p: Parameter| p.prior().median;
    FoamConstants {
        induction: c(Parameter::Induction),
        gas_yield: c(Parameter::GasYield),
        blow_rate: c(Parameter::BlowRate),
        blow_activation: c(Parameter::BlowActivation),
        competition: c(Parameter::Competition),
        gel_rate: c(Parameter::GelRate),
        gel_activation: c(Parameter::GelActivation),
        blow_heat: c(Parameter::BlowHeat) * c(Parameter::GasYield) / FoamConstants::default().heat_capacity,
        gel_heat: c(Parameter::GelHeat),
        solubility: c(Parameter::Solubility),
        air_fraction: c(Parameter::AirFraction),
        gel_conversion: c(Parameter::GelConversion),
        ..FoamConstants::default()
    }
}

/// Priors of what makes one casting differ from another, this many times as wide.
fn lots(wider: f64) -> Vec<(Parameter, Prior)> {
    let widened = |p: Parameter| (p, Prior { sd: wider * p.prior().sd, ..p.prior() });
    Parameter::of_each_casting().map(widened).collect()
}

fn cup_log(
    name: &str,
    temp_c: f64,
    foam: &FoamConstants,
    [gas, blow, gel, warmer]: [f64; 4],
    [heat_transfer, core_heat_loss_factor, sensor_lag, crown]: [f64; 4],
    dice: &mut Dice,
) -> Result<RiseLog, Unused> {
    let lot = FoamConstants {
        gas_yield: foam.gas_yield * gas,
        blow_rate: foam.blow_rate * blow,
        gel_rate: foam.gel_rate * gel,
        ..*foam
    };
    let (mass, mix_temp) = (0.06, temp_c + 273.15);
    let test = CupTest {
        mass,
        mix_temp: mix_temp + warmer,
        ambient_temp: mix_temp,
        ambient_pressure: 101_325.0,
        heat_area: CUP.inner_area(),
        heat_transfer,
        core_heat_loss_factor,
        sensor_lag,
    };
    let glance = free_rise(&lot, &test, &[], FINE).map_err(|_| Unused::Failed)?;
    let mut read = |time: Option<f64>, sd: f64| time.map(|t| t + sd * dice.normal());
    let stopwatch = Stopwatch {
        cream: read(glance.cream_time, 2.0),
        string_gel: read(glance.gel_time, 2.5),
        end_of_rise: read(glance.end_of_rise, 4.0),
        tack_free: None,
    };
    let was_seen = |t: Option<f64>| t.is_some_and(|t| 0.0 < t && t < WATCHED);
    if ![stopwatch.cream, stopwatch.string_gel, stopwatch.end_of_rise].into_iter().all(was_seen) {
        return Err(Unused::Records);
    }
    let last = 1.5 * stopwatch.end_of_rise.unwrap_or(WATCHED);
    let time: Vec<f64> = (0..170).map(|i| last / 169.0 * f64::from(i)).collect();
    let rise = free_rise(&lot, &test, &time, FINE).map_err(|_| Unused::Failed)?;
    let level = |volume: f64| CUP.height_of(volume * mass);
    let poured = level(rise.volume[0]);
    let crowned = |v: &f64| poured + (level(*v) - poured) * (1.0 + crown);
    let height = missed(rise.volume.iter().map(crowned).collect(), RISE_MISSED, dice);
    let temp = missed(rise.sensed.clone(), TEMP_MISSED, dice);
    Ok(RiseLog {
        cup: Some(CUP),
        height: Some(height.iter().map(|h| h + HEIGHT_SD * dice.normal()).collect()),
        temp: Some(temp.iter().map(|t| t + TEMP_SD * dice.normal()).collect()),
        time,
        stopwatch,
        free_rise_density: Some(rise.density / (1.0 - foam.settling) * (1.0 + 0.015 * dice.normal())),
        ..blank_log(name, mass, mix_temp)
    })
}

/// A series as a nature shows it that drifts about the model by `share` of the whole change. The drift forgets itself (as
/// exp(-t/tau)) within half a piece, so that the variances of means are those of independent pieces.
fn missed(mut series: Vec<f64>, share: f64, dice: &mut Dice) -> Vec<f64> {
    let first = series[0];
    let whole = series.iter().map(|x| x - first).fold(0.0, f64::max);
    let until = series.iter().take_while(|x| *x - first < 0.95 * whole).count();
    let kept = (-2.0 * PIECES / until as f64).exp();
    let mut drift = dice.normal();
    for x in &mut series {
        *x += share * whole * drift;
        drift = kept * drift + (1.0 - kept * kept).sqrt() * dice.normal();
    }
    series
}

/// Free-rise density and gel time as the logs show them.
fn seen(logs: &[RiseLog]) -> (f64, f64) {
    let mean = |of: fn(&RiseLog) -> Option<f64>| logs.iter().filter_map(of).sum::<f64>() / logs.len() as f64;
    (mean(|log| log.free_rise_density), mean(|log| log.stopwatch.string_gel))
}

fn setting(charge: f64, vent: f64, mold_temp_c: f64, closing_time: f64) -> Casting {
    Casting {
        charge,
        left_in_cup: 1.6e-3,
        mix_temp: 296.15,
        mold_temp: mold_temp_c + 273.15,
        ambient_pressure: 101_200.0,
        closing_time,
        clamp_force: None,
        vent_diameters: vec![vent],
        leak: None,
        demold_time: 300.0,
        opening_limit: 5e3,
        weighed_after: 0.0,
    }
}

/// A casting as a shop plans it that knows its free-rise density and its gel time: packed 1.2 to 1.5 times, closed early.
fn plan(mold: &Mold, density: f64, gel: f64, vent: f64, dice: &mut Dice) -> Casting {
    let charge = mold.cavity.volume * density * (1.2 + 0.3 * dice.uniform()) + 1.6e-3;
    let planned = setting(charge, vent, 27.0 + 8.0 * dice.uniform(), (0.2 * gel).clamp(3.0, 15.0));
    let mix_temp = 273.15 + 21.5 + 3.0 * dice.uniform();
    Casting { mix_temp, demold_time: f64::max(300.0, 5.0 * gel), ..planned }
}

fn own_of(draws: &Draws, k: usize) -> impl Iterator<Item = (Parameter, f64)> {
    draws.own_parameters().into_iter().zip(draws.scatter().row(k).to_vec())
}

fn cast(draws: &Draws, k: usize, planned: &Casting) -> Result<CastingResult, Unused> {
    let (foam, cavity, casting) = draws.with_other_scatter(k).setup(0, planned, true).expect("a setup");
    Ok(sampled(&foam, &cavity, &casting, &[], FINE).map_err(|_| Unused::Failed)?.result)
}

fn trial(name: &str, casting: Casting, r: &CastingResult, scatter: f64, dice: &mut Dice) -> Trial {
    // Nobody writes down less than nothing.
    let mut read =
        |value: f64, floor: f64, share: f64| Some(scattered(value, floor, share, scatter * heavy(dice)).max(0.0));
    Trial {
        part_mass: read(r.scale_reading, 0.25e-3, 0.0),
        vent_loss: read(r.vent_loss, 0.2e-3, 0.12),
        flash: read(r.flash, 0.2e-3, 0.12),
        peak_pressure: read(r.peak_pressure, 1.5e3, 0.03),
        outcome: Some(judged(r, casting.demold_time, dice)),
        ..blank_trial(name, casting)
    }
}

/// What the eye says: probit, but for slips.
fn judged(r: &CastingResult, demold: f64, dice: &mut Dice) -> Verdict {
    let full = match (r.fill_time, r.gel_time) {
        (Some(filled), Some(gelled)) => (gelled - filled) / 2.0,
        (Some(filled), None) => (demold - filled) / 2.0,
        (None, _) => (r.fill_fraction - 1.0) / 0.01,
    };
    let flashed = (r.flash - 0.3e-3) / 0.15e-3;
    let mut says = |clearly: f64| {
        let slips = dice.uniform() < 2.0 * SLIPS;
        if slips { dice.uniform() < 0.5 } else { dice.normal() < clearly }
    };
    match (says(full), says(flashed)) {
        (false, _) => Verdict::Short,
        (true, false) => Verdict::Full,
        (true, true) => Verdict::Flash,
    }
}
