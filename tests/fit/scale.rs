//! Weights of parts, taken at demold or a day later: what is learned is the same, and when it was is asked for.

use super::demo::{CASTINGS, KNOWN, mold, quick, trials};
use risefit::fit::{Calibration, calibrate};
use risefit::model::Outcome;
use risefit::records::Trial;

const DAY: f64 = 86_400.0;

/// The demo's castings as a shop would have weighed them a day later: by as much less as the model says, with the
/// ledger saying when it was as `said`.
fn a_day_later(said: f64) -> Calibration {
    let later = |mut trial: Trial| {
        let shown = |after: f64| {
            let mut casting = trial.casting.clone();
            casting.weighed_after = after;
            CASTINGS.simulate(&casting).expect("a run").result.scale_reading
        };
        let less = shown(0.0) - shown(DAY);
        trial.part_mass = trial.part_mass.map(|mass| mass - less);
        trial.casting.weighed_after = said;
        trial
    };
    let trials: Vec<Trial> = trials().into_iter().map(later).collect();
    calibrate(&KNOWN, &mold(), &trials, &quick()).expect("a calibration")
}

#[test]
fn a_weight_of_the_day_after_teaches_what_one_at_demold_does() {
    let said = a_day_later(DAY);
    let silent = a_day_later(0.0);
    let next = &trials()[2].casting;
    let off = |cal: &Calibration, of: Outcome| {
        let (there, here) = (cal.predict(next).expect("a prediction"), CASTINGS.predict(next).expect("a prediction"));
        (there.at(of).value - here.at(of).value) / here.at(of).value
    };
    for of in [Outcome::PartMass, Outcome::PeakPressure] {
        assert!(off(&said, of).abs() < 2e-3, "{of:?} {}", off(&said, of));
    }
    // Taken for weights at demold they would say that more had left through the vents.
    assert!(off(&said, Outcome::VentLoss).abs() < 0.02, "{}", off(&said, Outcome::VentLoss));
    assert!(off(&silent, Outcome::VentLoss) > 0.05, "{}", off(&silent, Outcome::VentLoss));
}

#[test]
fn what_was_assumed_is_said_once_with_its_castings() {
    let unsaid = |words: &str, of: &[usize]| {
        let mut all = trials();
        of.iter().for_each(|i| all[*i].assumed.push(words.to_owned()));
        calibrate(&KNOWN, &mold(), &all, &quick()).expect("a calibration").warnings
    };
    let all: Vec<usize> = (0..trials().len()).collect();
    assert!(unsaid("this", &all).contains(&"all castings: assumed this".to_owned()));
    assert!(unsaid("this", &[0, 2]).contains(&"A1, A3: assumed this".to_owned()));
}
