//! The main job on the shipped data, which are invented: fit a grade, calibrate a mold, predict the next casting.

use risefit::{Casting, Datasheet, DisplayUnits, FitOptions, GradeKnowledge, Mold};

fn main() -> risefit::Result<()> {
    let options = FitOptions::default();
    let sheet = Datasheet::load("data/grades/K_datasheet.toml")?;
    // Of a data sheet, a fit to cup tests keeps what no cup tells: the density of the liquid.
    let known = risefit::grade_from_datasheet(&sheet, &options)?;
    let logs = risefit::read_rise_logs(&["data/logs/*.csv"])?;
    let fit = risefit::fit_free_rise(&logs, &known.grade, &options)?;

    let mold = Mold::load("data/molds/armrest.toml")?;
    let trials = risefit::read_trials("data/trials/armrest.csv")?;
    let calibration = risefit::calibrate(&GradeKnowledge::from_cup_tests(&fit), &mold, &trials, &options)?;

    // As trial A3, but for the charge and the temperatures. All in SI units.
    let as_before = trials[2].casting.clone();
    let (mix_temp, mold_temp) = (23.0 + 273.15, 30.0 + 273.15);
    let next = Casting { charge: 62e-3, left_in_cup: 1.6e-3, mix_temp, mold_temp, ..as_before };
    let prediction = calibration.predict(&next)?;
    print!("{}", risefit::main_job_text(&fit, &calibration, &[(next, prediction)], DisplayUnits::Metric));
    Ok(())
}
