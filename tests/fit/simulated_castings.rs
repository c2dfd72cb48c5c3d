//! Simulation-based calibration of cups and castings together: constants, lots and scatter drawn from the priors, records
//! simulated from them, and the truth at even ranks among the posterior's draws. Once with weighings and a gauge, once with
//! nothing but graded parts and a gauge that may stand at its stop. `make sbc` does the same with many more shops.

use crate::blank_log::blank_log;
use crate::blank_trial::blank_trial;
use crate::dice::Dice;
use crate::ranks::{rank, shops, worst_of};
use crate::scattered::scattered;
use rayon::prelude::*;
use risefit::Accuracy;
use risefit::fit::{FitOptions, GradeKnowledge, Posterior, PosteriorOptions, Prior, calibrate, fit_free_rise};
use risefit::model::CastingResult;
use risefit::model::Parameter;
use risefit::model::{Casting, Cavity, FoamConstants, Verdict};
use risefit::records::{Grade, Mold, RiseLog, Stopwatch, Trial};
use risefit::simulate;
use risefit::{CupTest, free_rise};

/// What is in doubt, with narrower priors than the fit's own: most shops drawn from those could not fill the mold.
fn in_doubt() -> Vec<(Parameter, Prior)> {
    let narrow = |p: Parameter, center: f64, spread: f64| (p, Prior { median: center, sd: spread, ..p.prior() });
    let usual = |p: Parameter| (p, p.prior());
    vec![
        narrow(Parameter::GasYield, 0.55, 0.1),
        narrow(Parameter::BlowRate, 1.0 / 33.0, 0.15),
        narrow(Parameter::GelRate, 1.0 / 50.0, 0.15),
        narrow(Parameter::Viscosity, 0.6, 0.5),
        usual(Parameter::GasRetention),
        usual(Parameter::CastingScatter),
        usual(Parameter::LotScatter),
        usual(Parameter::GasFactor),
        usual(Parameter::GelFactor),
        usual(Parameter::ChargeError),
    ]
}

/// Every other parameter, at the value that the simulated shops have.
fn held() -> Vec<(Parameter, f64)> {
    let free: Vec<Parameter> = in_doubt().into_iter().map(|(p, _)| p).collect();
    let of_mold = [
        Parameter::MoldRateFactor,
        Parameter::CavityVolume,
        Parameter::HeatTransfer,
        Parameter::VentSize,
        Parameter::PartingOpening,
        Parameter::ClampEffect,
    ];
    let own = Parameter::of_each_cup().chain(Parameter::of_each_casting()).chain(of_mold);
    let all = Parameter::shared_by_cups().chain(own).filter(|p| !free.contains(p)).map(|p| (p, p.prior().median));
    all.chain([(Parameter::PartingGap, 0.0), (Parameter::CellOpeningTime, f64::INFINITY)]).collect()
}

fn options() -> FitOptions {
    FitOptions { starts: 1, priors: in_doubt(), held: held(), ..FitOptions::default() }
}

/// The grade where nothing is in doubt but what is drawn.
fn foam() -> FoamConstants {
    let center = |p: Parameter| p.prior().median;
    FoamConstants {
        induction: center(Parameter::Induction),
        blow_activation: center(Parameter::BlowActivation),
        gel_activation: center(Parameter::GelActivation),
        competition: center(Parameter::Competition),
        gel_heat: center(Parameter::GelHeat),
        solubility: center(Parameter::Solubility),
        air_fraction: center(Parameter::AirFraction),
        gel_conversion: center(Parameter::GelConversion),
        rise_end_conversion: center(Parameter::RiseEndConversion),
        settling: center(Parameter::Settling),
        ..FoamConstants::default()
    }
}

/// A shop with its truth.
struct Shop {
    foam: FoamConstants,
    cavity: Cavity,
    casting_scatter: f64,
    lot_scatter: f64,
    dice: Dice,
}

impl Shop {
    fn drawn(seed: u64, mold: &Mold) -> Self {
        let mut dice = Dice::new(seed);
        let mut d = |parameter: Parameter| drawn(parameter, 1.0, &mut dice);
        let mut foam = FoamConstants {
            gas_yield: d(Parameter::GasYield),
            blow_rate: d(Parameter::BlowRate),
            gel_rate: d(Parameter::GelRate),
            viscosity: d(Parameter::Viscosity),
            ..foam()
        };
        foam.blow_heat = Parameter::BlowHeat.prior().median * foam.gas_yield / foam.heat_capacity;
        let cavity = Cavity { gas_retention: d(Parameter::GasRetention), ..mold.cavity.clone() };
        let (casting_scatter, lot_scatter) = (d(Parameter::CastingScatter), d(Parameter::LotScatter));
        Shop { foam, cavity, casting_scatter, lot_scatter, dice }
    }

    fn truth(&self, parameter: Parameter) -> f64 {
        match parameter {
            Parameter::GasYield => self.foam.gas_yield,
            Parameter::BlowRate => self.foam.blow_rate,
            Parameter::GelRate => self.foam.gel_rate,
            Parameter::Viscosity => self.foam.viscosity,
            Parameter::GasRetention => self.cavity.gas_retention,
            Parameter::CastingScatter => self.casting_scatter,
            Parameter::LotScatter => self.lot_scatter,
            other => panic!("{other:?} is not shared"),
        }
    }

    /// The grade as one lot of it is.
    fn lot(&mut self, scatter: f64) -> FoamConstants {
        let gas = drawn(Parameter::GasFactor, scatter, &mut self.dice);
        let gel = drawn(Parameter::GelFactor, scatter, &mut self.dice);
        FoamConstants { gas_yield: self.foam.gas_yield * gas, gel_rate: self.foam.gel_rate * gel, ..self.foam }
    }

    /// A cup test with stopwatch and density, read as uncertainly as the fit believes: s, and a share.
    fn cup(&mut self, temp: f64) -> Option<RiseLog> {
        let lot = self.lot(1.0);
        let test = CupTest::insulated(temp, 101_325.0);
        let rise = free_rise(&lot, &test, &[], Accuracy::default()).ok()?;
        let [cream, gel, end, density] = [2.0, 2.5, 4.0, 0.015].map(|sd| sd * self.dice.normal());
        let stopwatch = Stopwatch {
            cream: Some(rise.cream_time? + cream),
            string_gel: Some(rise.gel_time? + gel),
            end_of_rise: Some(rise.end_of_rise? + end),
            tack_free: None,
        };
        let free_rise_density = Some(rise.density * (1.0 + density));
        Some(RiseLog { stopwatch, free_rise_density, ..blank_log(&format!("cup at {temp} K"), 0.1, temp) })
    }

    /// A casting with these settings, and what came out.
    fn cast(&mut self, number: usize, charge: f64, vent: f64) -> Option<(Trial, CastingResult)> {
        let casting = Casting {
            charge,
            left_in_cup: 1.5e-3,
            mix_temp: 296.15,
            mold_temp: 303.15,
            ambient_pressure: 101_325.0,
            closing_time: 12.0,
            clamp_force: None,
            vent_diameters: vec![vent],
            leak: None,
            demold_time: 300.0,
            opening_limit: 5e3,
            weighed_after: 0.0,
        };
        let lot = self.lot(self.lot_scatter);
        let off = drawn(Parameter::ChargeError, self.lot_scatter, &mut self.dice);
        let poured = Casting { charge: charge + off, ..casting.clone() };
        let result = simulate(&lot, &self.cavity, &poured, 2, Accuracy::default()).ok()?.result;
        Some((blank_trial(&format!("A{number}"), casting), result))
    }

    /// A misfit as the fit believes them, in standard deviations: Student's t with 4 degrees of freedom, wider in this shop.
    fn misfit(&mut self) -> f64 {
        let squares: f64 = (0..4).map(|_| self.dice.normal().powi(2)).sum();
        self.casting_scatter * self.dice.normal() / (squares / 4.0).sqrt()
    }

    fn read(&mut self, truth: f64, sd: f64, share: f64) -> f64 {
        scattered(truth, sd, share, self.misfit())
    }

    fn gauge(&mut self, peak: f64) -> f64 {
        self.read(peak, GAUGE_SD, GAUGE_SHARE_SD)
    }

    /// Weighed, with what came out of the vent and of a seam that is tight, and read from a gauge. What is weighed of nothing
    /// tells of nothing but the scatter: without it scatter taken 1.5 times too small went unnoticed in 60 shops.
    fn weighed(&mut self, (trial, result): (Trial, CastingResult)) -> Trial {
        let part_mass = Some(self.read(result.scale_reading, PART_SD, 0.0));
        let peak_pressure = Some(self.gauge(result.peak_pressure));
        let mut loss = |truth: f64| Some(self.read(truth, LOSS_SD, LOSS_SHARE_SD));
        let (vent_loss, flash) = (loss(result.vent_loss), loss(result.flash));
        Trial { part_mass, vent_loss, flash, peak_pressure, ..trial }
    }

    /// Graded by eye, and read from a gauge that ends at `STOP`.
    fn graded(&mut self, (trial, result): (Trial, CastingResult)) -> Trial {
        let clear = match (result.fill_time, result.gel_time) {
            (Some(filled), Some(gelled)) => (gelled - filled) / MARGIN_SD,
            (Some(filled), None) => (trial.casting.demold_time - filled) / MARGIN_SD,
            (None, _) => (result.fill_fraction - 1.0) / FILL_SD,
        };
        let outcome = match self.says(clear) {
            false => Verdict::Short,
            true if self.says((result.flash - FLASH_SEEN) / FLASH_SEEN_SD) => Verdict::Flash,
            true => Verdict::Full,
        };
        let peak = self.gauge(result.peak_pressure);
        let (gauge_at_stop, peak) = (peak >= STOP, peak.min(STOP));
        Trial { outcome: Some(outcome), gauge_at_stop, peak_pressure: Some(peak), ..trial }
    }

    /// What an eye answers to what is so clear, but for slips: one answer in a hundred is the wrong one.
    fn says(&mut self, clear: f64) -> bool {
        (clear + self.dice.normal() > 0.0) != (self.dice.uniform() < 0.01)
    }
}

/// Scatter as the fit believes it (`src/fit/calibrate/model.rs`), SI.
const PART_SD: f64 = 0.25e-3;
const LOSS_SD: f64 = 0.2e-3;
const LOSS_SHARE_SD: f64 = 0.12;
const GAUGE_SD: f64 = 1.5e3;
const GAUGE_SHARE_SD: f64 = 0.03;
const MARGIN_SD: f64 = 2.0;
const FILL_SD: f64 = 0.01;
const FLASH_SEEN: f64 = 0.3e-3;
const FLASH_SEEN_SD: f64 = 0.15e-3;
/// Where the gauge of the graded castings stops, Pa.
const STOP: f64 = 40e3;
/// Charges, kg, and vents, m.
const SETTINGS: [(f64, f64); 6] =
    [(46e-3, 3e-3), (52e-3, 3e-3), (58e-3, 4e-3), (62e-3, 3e-3), (66e-3, 5e-3), (60e-3, 6e-3)];

fn drawn(parameter: Parameter, wider: f64, dice: &mut Dice) -> f64 {
    let prior = in_doubt().into_iter().find(|(p, _)| *p == parameter).expect("in doubt").1;
    prior.value(wider * dice.normal()).clamp(prior.low, prior.high)
}

fn posterior(logs: &[RiseLog], trials: &[Trial], mold: &Mold, seed: u64) -> Option<Posterior> {
    let start = Grade { name: "K".into(), note: String::new(), constants: foam() };
    let cups = fit_free_rise(logs, &start, &options()).ok()?;
    let castings = calibrate(&GradeKnowledge::from_cup_tests(&cups), mold, trials, &options()).ok()?;
    castings.posterior(&PosteriorOptions { chains: 2, draws: 100, warmup: 200, seed, ..Default::default() }).ok()
}

const SHARED: [Parameter; 7] = [
    Parameter::GasYield,
    Parameter::BlowRate,
    Parameter::GelRate,
    Parameter::Viscosity,
    Parameter::GasRetention,
    Parameter::CastingScatter,
    Parameter::LotScatter,
];

/// Where the truth of each shared parameter stands among the draws, and last by how much chains disagree on them (R-hat).
fn ranks_of(seed: u64, mold: &Mold, record: impl Fn(&mut Shop, (Trial, CastingResult)) -> Trial) -> Option<Vec<f64>> {
    let mut shop = Shop::drawn(seed, mold);
    let logs = [shop.cup(291.15)?, shop.cup(299.15)?];
    let mut trials = Vec::new();
    for (i, (charge, vent)) in SETTINGS.into_iter().enumerate() {
        let cast = shop.cast(i, charge, vent)?;
        trials.push(record(&mut shop, cast));
    }
    let posterior = posterior(&logs, &trials, mold, seed)?;
    let ranks = SHARED.map(|parameter| {
        let j = posterior.estimates.iter().position(|e| e.parameter == parameter && e.record.is_none()).expect("drawn");
        rank(posterior.values.index_axis(ndarray::Axis(2), j).iter().copied(), shop.truth(parameter))
    });
    let shared = posterior.estimates.iter().filter(|e| e.record.is_none());
    Some(ranks.into_iter().chain([shared.map(|e| e.r_hat).fold(1.0, f64::max)]).collect())
}

/// Ranks among draws of chains that have not met are those of the chains, not of the posterior: with 2 chains of 100 draws each
/// R-hat is about 1.03, and was up to 2.2 when a guide held chains where they stood.
const MET: f64 = 1.25;

fn assert_met(all: &[Vec<f64>]) {
    let mut r_hats: Vec<f64> = all.iter().map(|row| row[SHARED.len()]).collect();
    r_hats.sort_by(f64::total_cmp);
    let apart = r_hats.iter().filter(|r| **r > MET).count();
    println!("R-hat in the middle {:.3}, at most {:.3}", r_hats[r_hats.len() / 2], r_hats[r_hats.len() - 1]);
    assert!(50 * apart <= all.len(), "chains have not met in {apart} of {} shops", all.len());
}

fn assert_even(record: impl Fn(&mut Shop, (Trial, CastingResult)) -> Trial + Sync) {
    let mold = Mold::load(concat!(env!("CARGO_MANIFEST_DIR"), "/data/molds/armrest.toml")).expect("a mold");
    let count = shops(SHOPS);
    let all: Vec<Vec<f64>> = (0..count).into_par_iter().filter_map(|seed| ranks_of(seed, &mold, &record)).collect();
    println!("{} of {count} shops", all.len());
    assert!(all.len() as u64 > count * 9 / 10, "{} of {count} shops could be fitted", all.len());
    assert_met(&all);
    let (worst, name) = worst_of(&SHARED.map(|p| p.label().name.to_owned()), &all);
    assert!(worst < 1.0, "{name}: {worst:.2} of what happens once in 2000 times");
}

const SHOPS: u64 = 40;

#[test]
fn truths_of_weighed_castings_stand_at_even_ranks() {
    assert_even(Shop::weighed);
}

#[test]
fn truths_of_graded_castings_stand_at_even_ranks() {
    assert_even(Shop::graded);
}
