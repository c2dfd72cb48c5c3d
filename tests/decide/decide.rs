//! Decisions: against the castings of a fine grid, in other units and on other threads, and where no setting is good.

use risefit::decide::{
    Candidate, Drill, Goal, Limit, NextTrial, Question, Recommendation, Step, chance_map, metric_drills, next_trial,
    recommend,
};
use risefit::fit::{Calibration, Draws, FitOptions, GradeKnowledge, Limits, Prior, calibrate, fit_free_rise};
use risefit::model::Parameter;
use risefit::model::{Casting, FoamConstants};
use risefit::records::{Grade, Mold, read_rise_logs, read_trials};
use risefit::report::{DisplayUnits, describe_next_trial_text, describe_recommendation_text};
use std::path::{Path, PathBuf};
use std::sync::atomic::AtomicBool;
use std::sync::{Arc, LazyLock};

fn data(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("data").join(name)
}

fn mold() -> Mold {
    Mold::load(data("molds/armrest.toml")).expect("a mold")
}

static CUPS: LazyLock<GradeKnowledge> = LazyLock::new(|| {
    let options = FitOptions { starts: 1, ..FitOptions::default() };
    let logs = read_rise_logs(&[data("logs/*.csv")]).expect("logs");
    let constants = FoamConstants { gas_yield: 0.55, ..FoamConstants::default() };
    let grade = Grade { name: "K".into(), note: String::new(), constants };
    GradeKnowledge::from_cup_tests(&fit_free_rise(&logs, &grade, &options).expect("a fit"))
});

static CASTINGS: LazyLock<Calibration> = LazyLock::new(|| {
    let options = FitOptions { starts: 1, ..FitOptions::default() };
    let trials = read_trials(data("trials/armrest.csv")).expect("trials");
    calibrate(&CUPS, &mold(), &trials, &options).expect("a calibration")
});

fn known(count: usize) -> Draws {
    CASTINGS.draws(count, 1).expect("draws")
}

/// Before any casting, with a cavity known within 2.5 %.
fn new(count: usize) -> Draws {
    let rough = Prior { sd: 0.025, ..Parameter::CavityVolume.prior() };
    let options = FitOptions { priors: vec![(Parameter::CavityVolume, rough)], ..FitOptions::default() };
    Draws::before_castings(&CUPS, &mold(), &options, count, 1).expect("draws")
}

fn casting() -> Casting {
    let all = read_trials(data("trials/armrest.csv")).expect("trials");
    Casting { left_in_cup: 1.6e-3, vent_diameters: vec![4e-3], ..all[2].casting.clone() }
}

fn question(density: f64, window: Option<(f64, f64)>) -> Question {
    let goal = Goal { density, tolerance: 0.03, peak_pressure: window };
    Question { casting: casting(), goal, charges: None, charge_step: None, drills: metric_drills(1e-3, 12e-3) }
}

fn asked(draws: &Draws, question: &Question) -> Recommendation {
    recommend(draws, question).expect("a recommendation")
}

/// The chance of a good part, counted apart from `decide`.
fn counted(draws: &Draws, question: &Question, charge: f64, vent: f64) -> f64 {
    let Goal { density, tolerance, peak_pressure } = question.goal;
    let within = (density * (1.0 - tolerance), density * (1.0 + tolerance));
    let limits = Limits { density: Some(within), peak_pressure };
    let casting = Casting { charge, vent_diameters: vec![vent], ..question.casting.clone() };
    draws.casting(&casting).map_or(0.0, |outcomes| outcomes.probabilities(&limits).all)
}

/// What other vents than those of 4 mm have to gain.
fn work(vent: f64) -> f64 {
    if (vent - 4e-3).abs() < 1e-6 {
        0.0
    } else if vent > 4e-3 {
        0.1
    } else {
        0.02
    }
}

/// A wide vent is needed where the pressure has to stay low, a narrow one where it has to be high; the grid knows neither.
#[test]
fn no_setting_of_a_fine_grid_is_better() {
    let draws = known(100);
    for (density, window) in [(96.0, (30e3, 60e3)), (92.0, (20e3, 38e3)), (100.0, (54e3, 62e3))] {
        let question = question(density, Some(window));
        let best = asked(&draws, &question).best;
        let vent = best.casting.vent_diameters[0];
        let own = counted(&draws, &question, best.casting.charge, vent);
        assert_eq!(own, best.chances.good, "the chance is the share of good draws");
        let vents = (2..=24).map(|i| 0.5e-3 * f64::from(i));
        let charges: Vec<f64> = (0..28).map(|i| 55e-3 * 1.0125_f64.powi(i)).collect();
        let grid = vents.flat_map(|vent| charges.iter().map(move |charge| (*charge, vent)));
        let (top, place) = grid
            .map(|(charge, vent)| (counted(&draws, &question, charge, vent) - work(vent), (charge, vent)))
            .fold((0.0, (0.0, 0.0)), |a, b| if b.0 > a.0 { b } else { a });
        // One standard error of the draws, and one draw.
        let error = (own * (1.0 - own) / 100.0_f64).sqrt() + 0.01;
        assert!(own - work(vent) >= top - error, "{density} {window:?}: {own} with {best:?}, {top} with {place:?}");
    }
}

#[test]
fn vents_stay_where_others_gain_nothing() {
    let stays = asked(&known(200), &question(96.0, Some((30e3, 60e3))));
    assert!(stays.vents_stay && stays.best.casting.vent_diameters == [4e-3], "{:?}", stays.best);
    let wide = Question {
        casting: Casting { vent_diameters: vec![12e-3], ..casting() },
        ..question(100.0, Some((48e3, 62e3)))
    };
    let changed = asked(&known(200), &wide);
    assert!(!changed.vents_stay && changed.best.casting.vent_diameters[0] < 8e-3, "{:?}", changed.best);
    let odd = Question { casting: Casting { vent_diameters: vec![3.3e-3], ..casting() }, ..question(96.0, None) };
    assert_eq!(
        asked(&known(100), &odd).best.casting.vent_diameters,
        [3.3e-3],
        "no drill of that size, but it is there"
    );
    let none = Question { drills: Vec::new(), ..wide };
    assert_eq!(asked(&known(100), &none).best.casting.vent_diameters, [12e-3]);
}

/// 105 kg/m3 packs this foam to about 60 kPa, whatever the vent.
#[test]
fn an_impossible_window_says_which_limit_to_give_up() {
    let found = asked(&known(200), &question(105.0, Some((20e3, 40e3))));
    assert!(found.best.chances.good < 0.05, "{:?}", found.best.chances);
    let (given_up, setting) = found.give_up.clone().expect("a limit to give up");
    assert_eq!(given_up.limit, Limit::HighestPressure);
    assert!(given_up.without > 0.9, "{given_up:?}");
    assert!(setting.chances.peak_pressure.0 > 50e3 && (setting.chances.density.0 - 105.0).abs() < 3.0);
    let text = describe_recommendation_text(&found, DisplayUnits::Metric);
    assert!(text.contains("Give up the highest peak pressure first"), "{text}");
    // Another casting does not make the impossible likely.
    let next = next_trial(&known(200), &found, true).expect("a next trial");
    assert!(next.proposals.iter().all(|p| p.next_good < 0.1), "{:?}", next.proposals);
}

#[test]
fn a_limit_that_is_never_missed_does_not_bind() {
    // Densities are predicted to 1.1 %: 5 % are 4.4 standard deviations away, while at 3 % some of 400 draws miss.
    let mut wide = question(96.0, Some((20e3, 80e3)));
    wide.goal.tolerance = 0.05;
    let found = asked(&known(400), &wide);
    assert!(found.best.chances.good >= 0.99 && found.give_up.is_none(), "{:?}", found.best);
    assert_eq!(found.binding, None, "{:?}", found.best.chances);
    let usual = asked(&known(400), &question(96.0, Some((20e3, 80e3))));
    let binding = usual.binding.expect("a limit that is missed");
    let place = Limit::ALL.iter().position(|l| *l == binding.limit).expect("a limit");
    assert!(usual.best.chances.misses[place] >= 0.005 && binding.without > usual.best.chances.good, "{binding:?}");
    let text = describe_recommendation_text(&found, DisplayUnits::Metric);
    assert!(!text.contains("100 %") && text.contains("over 99 %"), "{text}");
    assert!(text.contains("licensed practice") && text.contains("ventilate"), "{text}");
    let tight = asked(&known(400), &question(96.0, Some((52e3, 80e3))));
    assert_eq!(tight.binding.map(|b| b.limit), Some(Limit::LeastPressure), "{:?}", tight.best);
}

#[test]
fn drills_by_any_name_give_the_same_answer() {
    let with = |drills: Vec<Drill>| {
        let wide = Casting { vent_diameters: vec![12e-3], ..casting() };
        asked(&known(100), &Question { casting: wide, drills, ..question(100.0, Some((48e3, 62e3))) }).best
    };
    let named = |name: &str| Drill::parse(name).expect("a drill");
    let metric = with(vec![Drill::metric(3.2639e-3)]);
    let number = with(vec![named("#30")]);
    assert!((metric.casting.charge - number.casting.charge).abs() < 1e-12 && metric.chances == number.chances);
    assert_eq!(number.drill.map(|d| d.name), Some("#30".to_owned()));
    let fraction = with(vec![named("1/8")]);
    assert_eq!(fraction.chances, with(vec![named("3.175 mm")]).chances);
}

#[test]
fn charges_stay_in_range_and_on_the_scale() {
    let narrow = Question { charges: Some((58e-3, 59e-3)), charge_step: Some(0.5e-3), ..question(96.0, None) };
    let charge = asked(&known(100), &narrow).best.casting.charge;
    assert!((charge - 59e-3).abs() < 1e-9, "{charge}: the nearest to what would be best");
}

fn same(a: &NextTrial, b: &NextTrial) -> bool {
    let bits = |n: &NextTrial| -> Vec<[u64; 5]> {
        let of = |p: &risefit::decide::Proposal| {
            [p.good, p.next_good, p.within_two, p.doubt_left.0, p.doubt_left.1].map(f64::to_bits)
        };
        n.proposals.iter().map(of).collect()
    };
    bits(a) == bits(b)
}

#[test]
fn the_same_bits_on_1_2_and_3_threads() {
    let run = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().expect("a pool");
        pool.install(|| {
            let draws = new(100);
            let found = asked(&draws, &question(98.0, Some((30e3, 60e3))));
            let next = next_trial(&draws, &found, false).expect("a next trial");
            (found, next)
        })
    };
    let (found, next) = run(1);
    for threads in [2, 3] {
        let (again, after) = run(threads);
        assert_eq!((&found.best, &found.runner_up, &found.binding), (&again.best, &again.runner_up, &again.binding));
        assert!(same(&next, &after));
    }
}

fn first_of(next: &NextTrial, step: Step) -> &risefit::decide::Proposal {
    next.proposals.iter().find(|p| p.step == step).expect("a proposal")
}

/// What is in doubt spoils a casting and the one after it alike. Who read nothing of it does not stand better for that.
#[test]
fn knowing_the_pressure_is_no_loss() {
    let draws = new(400);
    let found = asked(&draws, &question(98.0, Some((44e3, 54e3))));
    let next = next_trial(&draws, &found, false).expect("a next trial");
    let mut compared = 0;
    for with in next.proposals.iter().filter(|p| p.step == Step::Casting { gauge: true }) {
        let setting = |p: &risefit::decide::Proposal| p.setting.as_ref().map(|s| s.casting.clone());
        let same =
            |p: &&risefit::decide::Proposal| p.step == Step::Casting { gauge: false } && setting(p) == setting(with);
        let without = next.proposals.iter().find(same).expect("the same without a gauge");
        assert!(with.within_two > without.within_two - 0.02, "{} {}", with.within_two, without.within_two);
        compared += 1;
    }
    assert!(compared > 5);
}

/// A mold whose pressure was never read: weights alone do not say where in the window it is.
#[test]
fn a_gauge_is_proposed_where_it_helps() {
    let draws = new(400);
    let goal = Goal { tolerance: 0.06, ..question(98.0, Some((25e3, 45e3))).goal };
    let found = asked(&draws, &Question { goal, ..question(98.0, None) });
    let next = next_trial(&draws, &found, false).expect("a next trial");
    assert_eq!(next.proposals[0].step, Step::Casting { gauge: true }, "{:?}", next.proposals[0]);
    let (with, without) = (&next.proposals[0], first_of(&next, Step::Casting { gauge: false }));
    assert!(with.doubt_left.1 < 0.7 * without.doubt_left.1, "{with:?} {without:?}");
    assert!(with.next_good > without.next_good + 0.03);
    let text = describe_next_trial_text(&next, DisplayUnits::Metric);
    assert!(text.contains("Put a gauge on it"), "{text}");
    // Without a window nobody needs to know the pressure.
    let free = asked(&draws, &question(98.0, None));
    let next = next_trial(&draws, &free, false).expect("a next trial");
    assert_eq!(next.proposals[0].step, Step::Casting { gauge: false }, "{:?}", next.proposals[0]);
    let fitted = next_trial(&draws, &found, true).expect("a next trial");
    assert!(fitted.proposals.iter().all(|p| p.step != Step::Casting { gauge: false }));
}

/// Density is the mass over a volume that is known within 2.5 %: a water fill says more than anything that is weighed.
#[test]
fn a_water_fill_tells_the_density() {
    let draws = new(400);
    let found = asked(&draws, &question(98.0, None));
    let next = next_trial(&draws, &found, true).expect("a next trial");
    let (water, casting) = (first_of(&next, Step::WaterFill), &next.proposals[0]);
    assert!(water.doubt_left.0 < 0.5 && water.doubt_left.0 < casting.doubt_left.0, "{water:?} {casting:?}");
    assert!(water.next_good > found.best.chances.good + 0.03, "{water:?} {:?}", found.best.chances);
    assert!(water.castings_expected() < casting.castings_expected());
}

#[test]
fn what_is_stated_is_coherent() {
    let draws = new(400);
    let found = asked(&draws, &question(98.0, Some((30e3, 60e3))));
    let next = next_trial(&draws, &found, true).expect("a next trial");
    for p in &next.proposals {
        assert!((0.0..=1.0).contains(&p.next_good) && p.within_two >= p.next_good - 1e-12, "{p:?}");
        assert!(p.doubt_left.0 <= 1.0 + 1e-9 && p.doubt_left.1 <= 1.0 + 1e-9, "{p:?}");
        assert!(p.castings_expected() >= 1.0);
    }
    assert_eq!(next.proposals[0].setting.as_ref().map(|s| &s.casting), Some(&found.best.casting));
    // Other vents are work; those of the same vents come by the castings expected.
    let same_vents = |p: &&risefit::decide::Proposal| p.setting.as_ref().is_some_and(|s| s.drill == found.best.drill);
    let costs: Vec<f64> = next.proposals.iter().filter(same_vents).map(|p| p.castings_expected()).collect();
    assert!(costs.len() > 1 && costs.windows(2).all(|pair| pair[1] >= pair[0] - 0.021), "{costs:?}");
}

#[test]
fn the_safe_window_holds_the_best() {
    let draws = known(200);
    let found = asked(&draws, &question(96.0, Some((30e3, 60e3))));
    let map = chance_map(&draws, &found).expect("a map");
    let all: Vec<&Candidate> = map.settings.iter().flatten().flatten().collect();
    assert!(all.iter().any(|s| s.casting == found.best.casting));
    assert!(map.charges.windows(2).all(|pair| pair[1] > pair[0]));
    // Far off the charge, no vent makes it good.
    assert!(map.settings.iter().all(|row| row[0].as_ref().is_none_or(|s| s.chances.good < 0.3)));
}

#[test]
fn wrong_questions_are_refused_and_a_request_to_stop_is_heard() {
    let draws = known(50);
    let bad = [
        Question { goal: Goal { density: -1.0, tolerance: 0.03, peak_pressure: None }, ..question(96.0, None) },
        Question { goal: Goal { density: 96.0, tolerance: 3.0, peak_pressure: None }, ..question(96.0, None) },
        Question { charges: Some((70e-3, 60e-3)), ..question(96.0, None) },
        Question { charge_step: Some(0.0), ..question(96.0, None) },
        Question { drills: vec![Drill::metric(-3e-3)], ..question(96.0, None) },
        question(96.0, Some((60e3, 30e3))),
    ];
    for question in bad {
        let error = recommend(&draws, &question).expect_err("a refusal").to_string();
        assert!(error.contains("expected"), "{error}");
    }
    let mut stopped = draws.clone();
    stopped.cancel = Some(Arc::new(AtomicBool::new(true)));
    assert!(
        recommend(&stopped, &question(96.0, None)).expect_err("stopped").to_string().contains("stopped on request")
    );
}
