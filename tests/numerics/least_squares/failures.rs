//! Problems that cannot be evaluated or started.

use ndarray::{Array1, ArrayView1, array};
use risefit::Error;
use risefit::inference::least_squares::{Bounds, Residuals, Settings, fit, fit_from_starts};

use super::problems::{Evaluation, Problem, assert_close, line, linear, single};

pub fn stiff(suspect: &str) -> Error {
    Error::Integration { trial: None, time_s: 0.0, reason: "step too small".into(), suspect: suspect.into() }
}

/// Residuals ln x and x - 1 + 1e-3, with `beyond` in place of them below x = 0.5.
pub fn logarithm(beyond: impl Fn() -> Evaluation) -> impl Residuals {
    let evaluate = move |p: ArrayView1<f64>| match p[0] {
        x if x > 0.5 => Ok((array![5.0 * x.ln(), x - 1.0], array![[5.0 / x], [1.0]])),
        _ => beyond(),
    };
    Problem { n: 2, evaluate }
}

#[test]
fn failures_that_can_be_stepped_over_are_counted() {
    // From x = 6 the full step goes to x < 0.
    let settings = Settings { first_radius: 100.0, ..Settings::default() };
    let s = fit(&logarithm(|| Err(stiff("k"))), &Bounds::none(1), &array![6.0], &settings).unwrap();
    assert!(s.is_success() && s.tally.failures > 0, "{:?}", s.tally);
    assert_close(s.parameters[0], 1.0, 1e-12);
    let not_a_number = || Ok((array![f64::NAN, 0.0], array![[0.0], [0.0]]));
    let s = fit(&logarithm(not_a_number), &Bounds::none(1), &array![6.0], &settings).unwrap();
    assert!(s.is_success() && s.tally.failures > 0);
}

#[test]
fn other_failures_end_the_fit_as_they_are() {
    let wrong = || Error::argument("vent_mm", -1.0, "a positive diameter", "check the vent");
    let settings = Settings { first_radius: 100.0, ..Settings::default() };
    let end = fit(&logarithm(|| Err(wrong())), &Bounds::none(1), &array![6.0], &settings);
    assert_eq!(end.unwrap_err(), wrong());
    assert_eq!(solve_error(&logarithm(|| Err(stiff("k"))), &Bounds::none(1), array![0.1]), stiff("k"));
}

fn solve_error(problem: &impl Residuals, bounds: &Bounds, start: Array1<f64>) -> Error {
    fit(problem, bounds, &start, &Settings::default()).unwrap_err()
}

#[test]
fn what_cannot_be_a_start_is_refused() {
    let tight = Bounds::new(array![0.0, 0.0], array![1.0, 1.0]).unwrap();
    assert!(matches!(solve_error(&line(), &tight, array![2.0, 0.5]), Error::Argument { .. }));
    assert!(matches!(solve_error(&line(), &tight, array![0.5]), Error::Argument { .. }));
    assert!(matches!(solve_error(&line(), &tight, array![f64::NAN, 0.5]), Error::Argument { .. }));
    let one_column = single(|x| ([x, 1.0], [1.0, 0.0]));
    assert!(matches!(solve_error(&one_column, &Bounds::none(2), array![1.0, 1.0]), Error::Argument { .. }));
    let few = linear(array![[1.0, 2.0]], array![1.0]);
    assert!(matches!(solve_error(&few, &Bounds::none(2), array![1.0, 1.0]), Error::TooFewRecords { .. }));
    let changing = logarithm(|| Ok((array![1.0], array![[1.0]])));
    let far = Settings { first_radius: 100.0, ..Settings::default() };
    assert!(matches!(fit(&changing, &Bounds::none(1), &array![6.0], &far), Err(Error::Argument { .. })));
    let infinite = single(|_| ([f64::INFINITY], [0.0]));
    assert!(matches!(solve_error(&infinite, &Bounds::none(1), array![1.0]), Error::Fit { .. }));
    assert!(Bounds::new(array![1.0], array![0.0]).is_err() && Bounds::new(array![1.0], array![2.0, 3.0]).is_err());
    assert!(matches!(fit_from_starts(&line(), &tight, &[], &Settings::default()), Err(Error::Argument { .. })));
}
