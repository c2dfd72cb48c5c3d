//! A shop that obeys the model to the letter: cup tests simulated from known constants, with the scatter that the fit believes
//! in. Invented.

use super::dice::Dice;
use risefit::Accuracy;
use risefit::model::Parameter;
use risefit::model::{Cup, FoamConstants};
use risefit::records::{RiseLog, Stopwatch};
use risefit::{CupTest, free_rise};

/// Constants away from the centers of the priors, each within one and a half spreads.
pub fn foam() -> FoamConstants {
    FoamConstants {
        induction: 1.5,
        gas_yield: 0.62,
        blow_rate: 1.0 / 26.0,
        blow_activation: 36e3,
        gel_rate: 1.0 / 38.0,
        gel_activation: 45e3,
        competition: 0.8,
        blow_heat: 24.0,
        gel_heat: 78.0,
        solubility: 1.3e-8,
        air_fraction: 0.04,
        gel_conversion: 0.61,
        rise_end_conversion: 0.73,
        settling: 0.015,
        ..FoamConstants::default()
    }
}

pub const HEAT_TRANSFER: f64 = 11.0;
pub const CORE_COOLING: f64 = 0.2;
pub const LAG: f64 = 2.4;
pub const CROWN: f64 = 0.01;

/// The true value of a parameter that all logs share.
pub fn truth(parameter: Parameter) -> f64 {
    match parameter {
        Parameter::CoreHeatLossFactor => CORE_COOLING,
        Parameter::CupHeatTransfer => HEAT_TRANSFER,
        Parameter::SensorLag => LAG,
        Parameter::DomeFraction => CROWN,
        other => other.of_grade(&foam()).expect("shared by logs"),
    }
}

const CUP: Cup = Cup { bottom_diameter: 0.11, top_diameter: 0.13, height: 0.15 };

/// One cup test at this temperature of the mix, °C, read once a second.
pub fn cup_log(temp_c: f64, dice: &mut Dice) -> RiseLog {
    let time: Vec<f64> = (0..170).map(f64::from).collect();
    let (mass, mix_temp) = (0.06, temp_c + 273.15);
    let mut foam = foam();
    foam.gas_yield *= (0.015 * dice.normal()).exp();
    let rate = (0.03 * dice.normal()).exp();
    foam.blow_rate *= rate;
    foam.gel_rate *= rate;
    let test = CupTest {
        mass,
        mix_temp: mix_temp + 0.5 * dice.normal(),
        ambient_temp: mix_temp,
        ambient_pressure: 101_325.0,
        heat_area: CUP.inner_area(),
        heat_transfer: HEAT_TRANSFER,
        core_heat_loss_factor: CORE_COOLING,
        sensor_lag: LAG,
    };
    let rise = free_rise(&foam, &test, &time, Accuracy { relative: 1e-8 }).expect("a rise");
    let level = |volume: f64| CUP.height_of(volume * mass);
    let poured = level(rise.volume[0]);
    let height = rise.volume.iter().map(|v| poured + (level(*v) - poured) * (1.0 + CROWN) + 0.5e-3 * dice.normal());
    let height = height.collect();
    let temp = rise.sensed.iter().map(|t| t + 0.3 * dice.normal()).collect();
    let mut watch = |time: Option<f64>, sd: f64| time.map(|t| t + sd * dice.normal());
    RiseLog {
        name: format!("{temp_c} C"),
        file: None,
        mass,
        mix_temp,
        ambient_temp: mix_temp,
        ambient_pressure: 101_325.0,
        cup: Some(CUP),
        time,
        height: Some(height),
        volume: None,
        temp: Some(temp),
        stopwatch: Stopwatch {
            cream: watch(rise.cream_time, 2.0),
            string_gel: watch(rise.gel_time, 2.5),
            end_of_rise: watch(rise.end_of_rise, 4.0),
            tack_free: None,
        },
        free_rise_density: Some(rise.density / (1.0 - foam.settling) * (1.0 + 0.015 * dice.normal())),
        assumed: Vec::new(),
    }
}

/// Cup tests at three temperatures.
pub fn three_logs(seed: u64) -> Vec<RiseLog> {
    let mut dice = Dice::new(seed);
    [17.0, 23.0, 30.0].into_iter().map(|temp| cup_log(temp, &mut dice)).collect()
}
