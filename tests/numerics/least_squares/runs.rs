//! Whole runs: watchers, limits, many starts, the same bits.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};

use ndarray::array;
use risefit::inference::least_squares::{
    Bounds, Ending, Noise, Progress, Residuals, Settings, Solution, Watcher, fit, fit_from_starts, run,
};

use super::failures::{logarithm, stiff};
use super::problems::{assert_close, rise, single, solve};

/// Counts iterations and raises a flag, if there is one, at the third.
fn counting(stop: Option<Arc<AtomicBool>>) -> (Arc<AtomicUsize>, Watcher) {
    let seen = Arc::new(AtomicUsize::new(0));
    let count = seen.clone();
    let watcher = Watcher::new(move |progress: &Progress| {
        assert!(!progress.parameters.is_empty() && progress.cost.is_finite() && progress.cosine.is_finite());
        if count.fetch_add(1, Ordering::SeqCst) == 2
            && let Some(stop) = &stop
        {
            stop.store(true, Ordering::SeqCst);
        }
    });
    (seen, watcher)
}

#[test]
fn a_bare_run_is_watched() {
    let (seen, watcher) = counting(None);
    let settings = Settings { max_iterations: 100, watcher: Some(watcher), ..Settings::default() };
    let end = run(&rise(), &Bounds::none(2), &array![1.0, 1.0], &settings).unwrap();
    assert_close(end.parameters[1], 0.5, 1e-12);
    assert_eq!(seen.load(Ordering::SeqCst) as u64, end.tally.iterations);
}

#[test]
fn a_watcher_sees_every_iteration_and_can_stop_the_fit() {
    let (seen, watcher) = counting(None);
    let settings = Settings { watcher: Some(watcher), ..Settings::default() };
    let s = fit(&rise(), &Bounds::none(2), &array![1.0, 1.0], &settings).unwrap();
    assert_eq!(seen.load(Ordering::SeqCst) as u64, s.tally.iterations);

    let flag = Arc::new(AtomicBool::new(false));
    let (_, watcher) = counting(Some(flag.clone()));
    let settings = Settings { watcher: Some(watcher), cancel: Some(flag), ..Settings::default() };
    let s = fit(&rise(), &Bounds::none(2), &array![1.0, 1.0], &settings).unwrap();
    assert_eq!((s.ending, s.tally.iterations), (Ending::Canceled, 3));
    assert!(!s.is_success() && s.verification.runs == 0);
}

#[test]
fn an_iteration_limit_is_no_success() {
    let settings = Settings { max_iterations: 2, second_attempts: 0, ..Settings::default() };
    let s = fit(&rise(), &Bounds::none(2), &array![1.0, 3.0], &settings).unwrap();
    assert_eq!(s.ending, Ending::IterationLimit);
    assert!(!s.is_success() && !s.is_minimum());
}

/// Residuals x² - 1 and tilt (x - 1): the minimum at 1 has a worse or equal brother near -1.
fn two_wells(tilt: f64) -> impl Residuals {
    single(move |x| ([x * x - 1.0, tilt * (x - 1.0)], [2.0 * x, tilt]))
}

#[test]
fn many_starts_find_the_best_and_say_how_many_agree() {
    let starts = [array![-2.0], array![3.0], array![0.5], array![-0.7]];
    let many = fit_from_starts(&two_wells(0.1), &Bounds::none(1), &starts, &Settings::default()).unwrap();
    assert_close(many.best.parameters[0], 1.0, 1e-12);
    assert_eq!((many.agreeing, many.ends.len()), (2, 4));
    assert!(many.is_unique() && many.is_success());
    assert!(many.ends[0].as_ref().unwrap().parameters[0] < -0.9);
}

#[test]
fn a_brother_that_fits_as_well_is_told() {
    let starts = [array![-2.0], array![3.0]];
    let many = fit_from_starts(&two_wells(0.0), &Bounds::none(1), &starts, &Settings::default()).unwrap();
    assert_eq!(many.rivals.len(), 1);
    assert!(many.best.is_success() && !many.is_unique() && !many.is_success());
}

#[test]
fn a_start_that_fails_is_kept_among_the_ends() {
    let problem = logarithm(|| Err(stiff("k")));
    let starts = [array![0.1], array![2.0]];
    let many = fit_from_starts(&problem, &Bounds::none(1), &starts, &Settings::default()).unwrap();
    assert_eq!(many.ends[0].as_ref().unwrap_err(), &stiff("k"));
    assert_eq!(many.agreeing, 1);
    let none = fit_from_starts(&problem, &Bounds::none(1), &starts[..1], &Settings::default());
    assert_eq!(none.unwrap_err(), stiff("k"));
}

#[test]
fn a_poor_minimum_is_noticed_from_the_edge_of_its_region() {
    // x and 3 + 3 cos 3x: minima near odd multiples of pi/3, the best next to zero.
    let rough = single(|x| ([x, 3.0 + 3.0 * (3.0 * x).cos()], [1.0, -9.0 * (3.0 * x).sin()]));
    let alone = run(&rough, &Bounds::none(1), &array![3.2], &Settings::default()).unwrap();
    let checked = fit(&rough, &Bounds::none(1), &array![3.2], &Settings::default()).unwrap();
    assert!(alone.is_success() && alone.parameters[0] > 2.5);
    assert!(checked.verification.improvements > 0 && checked.cost < 0.5 * alone.cost, "{:?}", checked.parameters);
}

#[test]
fn a_run_that_does_not_come_back_is_not_counted_as_back() {
    // The third residual makes the region of the minimum at 1 reach into the basin of the worse one near -1.
    let noisy_wells = single(|x| ([x * x - 1.0, 0.1 * (x - 1.0), 1.5], [2.0 * x, 0.1, 0.0]));
    let s = solve(&noisy_wells, &Bounds::none(1), array![2.0]);
    assert_eq!((s.verification.runs, s.verification.returned, s.verification.improvements), (2, 1, 0));
    assert_close(s.parameters[0], 1.0, 1e-9);
}

#[test]
fn the_same_input_gives_the_same_bits() {
    let starts = [array![1.0, 1.0], array![4.0, 0.1], array![0.3, 2.0]];
    let once = || fit_from_starts(&rise(), &Bounds::none(2), &starts, &Settings::default()).unwrap().best;
    let (a, b) = (once(), once());
    let bits = |s: &Solution| -> Vec<u64> {
        s.parameters.iter().chain(&s.covariance(Noise::Known)).chain([&s.cost]).map(|v| v.to_bits()).collect()
    };
    assert_eq!(bits(&a), bits(&b));
    assert_eq!(a.tally, b.tally);
}
