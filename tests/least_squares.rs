//! Least squares within bounds against solutions by hand: bounds, rank, influence, failures, observers, many starts.

use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::sync::{Arc, Mutex};

use argmin::core::observers::{Observe, ObserverMode};
use argmin::core::{Executor, KV, State};
use ndarray::{Array1, Array2, ArrayView1, array};
use proptest::prelude::{prop, prop_assert, proptest};
use risefit::numerics::least_squares::{
    Bounds, Ending, FitState, LevenbergMarquardt, Noise, Residuals, Settings, Side, Solution, Standing, Watcher, fit,
    fit_from_starts, run,
};
use risefit::{Error, Result};

type Evaluation = Result<(Array1<f64>, Array2<f64>)>;

struct Problem<F> {
    n: usize,
    evaluate: F,
}

impl<F: Fn(ArrayView1<f64>) -> Evaluation> Residuals for Problem<F> {
    fn n_residuals(&self) -> usize {
        self.n
    }

    fn evaluate(&self, p: ArrayView1<f64>) -> Evaluation {
        (self.evaluate)(p)
    }
}

/// Residuals `a p - b`.
fn linear(a: Array2<f64>, b: Array1<f64>) -> impl Residuals {
    Problem { n: b.len(), evaluate: move |p: ArrayView1<f64>| Ok((a.dot(&p) - &b, a.clone())) }
}

/// One residual list and one list of slopes for a single parameter.
fn single<const M: usize>(f: impl Fn(f64) -> ([f64; M], [f64; M])) -> impl Residuals {
    let evaluate = move |p: ArrayView1<f64>| {
        let (r, d) = f(p[0]);
        Ok((Array1::from_iter(r), Array2::from_shape_fn((M, 1), |(i, _)| d[i])))
    };
    Problem { n: M, evaluate }
}

fn solve(problem: &impl Residuals, bounds: &Bounds, start: Array1<f64>) -> Solution {
    fit(problem, bounds, &start, &Settings::default()).unwrap()
}

fn assert_close(got: f64, want: f64, relative: f64) {
    assert!((got - want).abs() <= relative * want.abs(), "{got} is not {want} within {relative}");
}

const X: [f64; 4] = [0.0, 1.0, 2.0, 3.0];

/// The line a + b x through (0, 1), (1, 3), (2, 4), (3, 8): Sxx 5, b 2.2, a 0.7, residual sum of squares 1.8.
fn line() -> impl Residuals {
    linear(Array2::from_shape_fn((4, 2), |(i, j)| X[i].powi(j as i32)), array![1.0, 3.0, 4.0, 8.0])
}

#[test]
fn a_straight_line_is_fitted_as_in_closed_form() {
    let s = solve(&line(), &Bounds::none(2), array![10.0, -5.0]);
    assert!(s.is_success() && s.ending == Ending::Converged && s.standings == [Standing::Free, Standing::Free]);
    assert_close(s.parameters[0], 0.7, 1e-12);
    assert_close(s.parameters[1], 2.2, 1e-12);
    assert_close(s.residual_sum_of_squares(), 1.8, 1e-12);
    assert_eq!((s.degrees_of_freedom, s.rank), (2, 2));
    assert_close(s.residual_variance(), 0.9, 1e-12);
}

#[test]
fn covariance_has_its_closed_form_for_known_and_estimated_noise() {
    // Variances 1/n + mean²/Sxx and 1/Sxx, covariance -mean/Sxx, with n 4, mean 1.5, Sxx 5.
    let s = solve(&line(), &Bounds::none(2), array![10.0, -5.0]);
    let known = s.covariance(Noise::Known);
    for (got, want) in known.iter().zip([0.7, -0.3, -0.3, 0.2]) {
        assert_close(*got, want, 1e-12);
    }
    let errors = (s.standard_errors(Noise::Known), s.standard_errors(Noise::Estimated));
    assert_close(errors.0[0], 0.7_f64.sqrt(), 1e-12);
    assert_close(errors.1[0], (0.7_f64 * 0.9).sqrt(), 1e-12);
    assert_close(errors.1[1], (0.2_f64 * 0.9).sqrt(), 1e-12);
    assert_close(s.correlation()[[0, 1]], -0.3 / (0.7_f64 * 0.2).sqrt(), 1e-12);
    assert_close(s.correlation()[[1, 1]], 1.0, 1e-12);
}

#[test]
fn without_degrees_of_freedom_the_noise_is_not_made_up() {
    let s = solve(&linear(array![[2.0]], array![6.0]), &Bounds::none(1), array![1.0]);
    assert!(s.is_success() && s.residual_variance().is_nan());
    assert_close(s.parameters[0], 3.0, 1e-14);
    assert_close(s.standard_errors(Noise::Known)[0], 0.5, 1e-14);
    assert!(s.standard_errors(Noise::Estimated)[0].is_nan());
}

#[test]
fn a_parameter_pressed_against_its_bound_is_said_to_be() {
    // With the slope at most 2, the intercept is the mean of y - 2 x = 1, its variance 1/4.
    let bounds = Bounds::new(array![-100.0, -100.0], array![100.0, 2.0]).unwrap();
    let s = solve(&line(), &bounds, array![0.0, 0.0]);
    assert!(s.is_success());
    assert_eq!(s.standings, [Standing::Free, Standing::AtBound(Side::Upper)]);
    assert_eq!(s.parameters[1], 2.0);
    assert_close(s.parameters[0], 1.0, 1e-12);
    assert_close(s.standard_errors(Noise::Known)[0], 0.5, 1e-12);
    assert!(s.standard_errors(Noise::Known)[1].is_nan() && s.covariance(Noise::Known)[[0, 1]].is_nan());
    assert_eq!(s.degrees_of_freedom, 3);
}

#[test]
fn a_bound_bends_the_step_of_correlated_parameters() {
    // Residuals 10 (x - y) and x + y - 4 with x <= 1: y minimizes 100 (1 - y)² + (y - 3)², which is 103/101.
    let problem = linear(array![[10.0, -10.0], [1.0, 1.0]], array![0.0, 4.0]);
    let bounds = Bounds::new(array![f64::NEG_INFINITY, f64::NEG_INFINITY], array![1.0, f64::INFINITY]).unwrap();
    let s = run(&problem, &bounds, &array![0.5, 0.4], &Settings { first_radius: 1e3, ..Settings::default() }).unwrap();
    assert!(s.is_success());
    assert_close(s.parameters[1], 103.0 / 101.0, 1e-12);
    assert_eq!(s.tally.iterations, 1, "one step finds the constrained minimum of a linear problem");
}

#[test]
fn a_start_on_the_wrong_bound_leaves_it() {
    let bounds = Bounds::new(array![-1.0, -1.0], array![5.0, 5.0]).unwrap();
    let s = solve(&line(), &bounds, array![5.0, -1.0]);
    assert_eq!(s.standings, [Standing::Free, Standing::Free]);
    assert_close(s.parameters[1], 2.2, 1e-12);
}

#[test]
fn a_held_parameter_does_not_move_and_costs_no_degree_of_freedom() {
    let bounds = Bounds::new(array![0.0, 2.0], array![9.0, 2.0]).unwrap();
    let s = solve(&line(), &bounds, array![3.0, 2.0]);
    assert_eq!(s.standings[1], Standing::Held);
    assert_eq!((s.parameters[1], s.degrees_of_freedom), (2.0, 3));
    assert!(s.is_success());
}

#[test]
fn a_sum_of_two_parameters_is_not_two_parameters() {
    // a + b is 2 and c is 3 by two readings each; se of c is 1/sqrt(2).
    let rows = array![[1.0, 1.0, 0.0], [1.0, 1.0, 0.0], [0.0, 0.0, 1.0], [0.0, 0.0, 1.0]];
    let s = solve(&linear(rows, array![1.5, 2.5, 2.0, 4.0]), &Bounds::none(3), array![5.0, 4.0, 0.5]);
    assert_eq!(s.standings[0], Standing::NotIdentified { partners: vec![1] });
    assert_eq!(s.standings[1], Standing::NotIdentified { partners: vec![0] });
    assert_eq!(s.standings[2], Standing::Free);
    assert!(s.is_minimum() && !s.is_success());
    assert_close(s.parameters[0] + s.parameters[1], 2.0, 1e-10);
    let errors = s.standard_errors(Noise::Known);
    assert!(errors[0].is_infinite() && errors[1].is_infinite());
    assert_close(errors[2], 0.5_f64.sqrt(), 1e-12);
    assert_eq!((s.rank, s.degrees_of_freedom), (2, 2));
}

#[test]
fn two_lost_pairs_are_kept_apart() {
    let rows = array![[1.0, 0.0, 1.0, 0.0], [0.0, 1.0, 0.0, 3.0], [2.0, 0.0, 2.0, 0.0], [0.0, 1.0, 0.0, 3.0]];
    let s = solve(&linear(rows, array![1.0, 2.0, 3.0, 4.0]), &Bounds::none(4), array![1.0, 1.0, 1.0, 1.0]);
    let partners = |s: &Standing| match s {
        Standing::NotIdentified { partners } => partners.clone(),
        other => panic!("{other}"),
    };
    let all: Vec<Vec<usize>> = s.standings.iter().map(partners).collect();
    assert_eq!(all, [vec![2], vec![3], vec![0], vec![1]]);
}

/// A saturating rise a (1 - exp(-b t)) with a 2, b 0.5, at t 1 to 6, without noise.
fn rise() -> impl Residuals {
    let evaluate = |p: ArrayView1<f64>| {
        let t = |i: usize| 1.0 + i as f64;
        let r = Array1::from_shape_fn(6, |i| p[0] * -(-p[1] * t(i)).exp_m1() + 2.0 * (-0.5 * t(i)).exp_m1());
        let slope = |i: usize, j: usize| match j {
            0 => -(-p[1] * t(i)).exp_m1(),
            _ => p[0] * t(i) * (-p[1] * t(i)).exp(),
        };
        Ok((r, Array2::from_shape_fn((6, 2), |(i, j)| slope(i, j))))
    };
    Problem { n: 6, evaluate }
}

#[test]
fn a_parameter_without_influence_is_no_success() {
    let s = solve(
        &linear(array![[1.0, 0.0], [1.0, 0.0], [1.0, 0.0]], array![1.0, 2.0, 3.0]),
        &Bounds::none(2),
        array![5.0, 5.0],
    );
    assert_eq!(s.standings, [Standing::Free, Standing::NoInfluence]);
    assert!(!s.is_success() && s.standard_errors(Noise::Known)[1].is_infinite());
    assert_close(s.parameters[0], 2.0, 1e-12);
}

#[test]
fn a_rate_so_fast_that_its_influence_is_gone_is_no_success() {
    // At b = 80 the slope by b is below 1e-32, yet not zero.
    let only_there = Settings { second_attempts: 0, ..Settings::default() };
    let s = run(&rise(), &Bounds::none(2), &array![1.0, 80.0], &only_there).unwrap();
    assert_eq!(s.standings[1], Standing::NoInfluence);
    assert!(!s.is_success());
}

#[test]
fn a_noiseless_problem_converges() {
    let s = solve(&rise(), &Bounds::none(2), array![1.0, 1.0]);
    assert!(s.is_success());
    assert_close(s.parameters[0], 2.0, 1e-12);
    assert_close(s.parameters[1], 0.5, 1e-12);
}

fn stiff(suspect: &str) -> Error {
    Error::Integration { trial: None, time_s: 0.0, reason: "step too small".into(), suspect: suspect.into() }
}

/// Residuals ln x and x - 1 + 1e-3, with `beyond` in place of them below x = 0.5.
fn logarithm(beyond: impl Fn() -> Evaluation) -> impl Residuals {
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

/// Counts iterations and raises a flag at the third.
#[derive(Clone, Default)]
struct Counter {
    seen: Arc<AtomicUsize>,
    stop: Option<Arc<AtomicBool>>,
}

impl Observe<FitState> for Counter {
    fn observe_iter(&mut self, state: &FitState, told: &KV) -> Result<(), argmin::core::Error> {
        assert!(state.get_param().is_some() && state.get_cost().is_finite() && told.get("cosine").is_some());
        if self.seen.fetch_add(1, Ordering::SeqCst) == 2
            && let Some(stop) = &self.stop
        {
            stop.store(true, Ordering::SeqCst);
        }
        Ok(())
    }
}

#[test]
fn the_executor_of_the_framework_runs_the_solver_with_an_observer() {
    let counter = Counter::default();
    let problem = rise();
    let solver = LevenbergMarquardt::new(Bounds::none(2), Settings::default());
    let end = Executor::new(&problem, solver)
        .configure(|state: FitState| state.param(array![1.0, 1.0]).max_iters(100))
        .add_observer(counter.clone(), ObserverMode::Always)
        .run()
        .unwrap();
    assert_close(end.state.get_param().unwrap()[1], 0.5, 1e-12);
    assert_eq!(counter.seen.load(Ordering::SeqCst) as u64, end.solver.tally().iterations);
}

#[test]
fn a_watcher_sees_every_iteration_and_can_stop_the_fit() {
    let counter = Counter::default();
    let watcher = Some(Watcher::new(Arc::new(Mutex::new(counter.clone()))));
    let settings = Settings { watcher, ..Settings::default() };
    let s = fit(&rise(), &Bounds::none(2), &array![1.0, 1.0], &settings).unwrap();
    assert_eq!(counter.seen.load(Ordering::SeqCst) as u64, s.tally.iterations);

    let flag = Arc::new(AtomicBool::new(false));
    let counter = Counter { stop: Some(flag.clone()), ..Counter::default() };
    let watcher = Some(Watcher::new(Arc::new(Mutex::new(counter))));
    let settings = Settings { watcher, cancel: Some(flag), ..Settings::default() };
    let s = fit(&rise(), &Bounds::none(2), &array![1.0, 1.0], &settings).unwrap();
    assert_eq!((s.ending, s.tally.iterations), (Ending::Cancelled, 3));
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

/// A decay fitted to readings by a model that is rough by `roughness`, as an integrator leaves them.
fn rough_exponential(roughness: f64) -> impl Residuals {
    let rough = move |v: f64| v * (1.0 + roughness * (v * 1e12).sin());
    let evaluate = move |p: ArrayView1<f64>| {
        let t = |i: usize| 0.5 * i as f64;
        let reading = |i: usize| 3.0 * (-0.7 * t(i)).exp() + 0.05 * (7.0 * t(i)).cos();
        let r = Array1::from_shape_fn(12, |i| rough(p[0] * (-p[1] * t(i)).exp()) - reading(i));
        let slope = |i: usize, j: usize| if j == 0 { 1.0 } else { -p[0] * t(i) };
        Ok((r, Array2::from_shape_fn((12, 2), |(i, j)| slope(i, j) * (-p[1] * t(i)).exp())))
    };
    Problem { n: 12, evaluate }
}

#[test]
fn residuals_as_rough_as_an_integrator_makes_them_converge() {
    let settings = Settings { cost_noise: 1e-7, acceptable_cosine: 1e-3, ..Settings::default() };
    let smooth = solve(&rough_exponential(0.0), &Bounds::none(2), array![1.0, 2.0]);
    let rough = fit(&rough_exponential(1e-7), &Bounds::none(2), &array![1.0, 2.0], &settings).unwrap();
    assert!(rough.is_success(), "{} {}", rough.ending, rough.cosine);
    let errors = smooth.standard_errors(Noise::Estimated);
    for j in 0..2 {
        assert!((rough.parameters[j] - smooth.parameters[j]).abs() < 1e-3 * errors[j]);
    }
    assert!(rough.tally.iterations < 60, "{:?}", rough.tally);
}

proptest! {
    #[test]
    fn bounded_linear_problems_meet_the_kuhn_tucker_conditions(
        a in prop::collection::vec(-3.0..3.0_f64, 18),
        b in prop::collection::vec(-5.0..5.0_f64, 6),
        low in prop::collection::vec(-1.5..0.0_f64, 3),
        width in prop::collection::vec(0.1..2.0_f64, 3),
    ) {
        let bounds = Bounds::new(Array1::from(low.clone()), &Array1::from(low) + &Array1::from(width)).unwrap();
        let problem = linear(Array2::from_shape_vec((6, 3), a).unwrap(), Array1::from(b));
        let s = solve(&problem, &bounds, bounds.clamp(&Array1::zeros(3)));
        let slope = s.jacobian.t().dot(&s.residuals);
        prop_assert!(s.is_minimum(), "{} cosine {} {:?} {:?}", s.ending, s.cosine, s.parameters, s.standings);
        for j in 0..3 {
            let size = 1e-7 * s.jacobian.column(j).dot(&s.jacobian.column(j)).sqrt() * s.residuals.dot(&s.residuals).sqrt();
            prop_assert!(bounds.lower[j] <= s.parameters[j] && s.parameters[j] <= bounds.upper[j]);
            let is_met = match s.standings[j] {
                Standing::AtBound(Side::Lower) => s.parameters[j] == bounds.lower[j] && slope[j] >= -size,
                Standing::AtBound(Side::Upper) => s.parameters[j] == bounds.upper[j] && slope[j] <= size,
                _ => slope[j].abs() <= size,
            };
            prop_assert!(is_met, "parameter {}: slope {}, {}", j, slope[j], s.standings[j]);
        }
    }
}

#[test]
fn a_parameter_one_rounding_away_from_its_bound_does_not_stop_the_others() {
    // Found by the property above: `p + (bound - p)` missed the bound by its last bit.
    let a = array![
        [1.1075409295151095, -2.8376743388422776, 1.8361180743028573],
        [0.0, 0.0, 0.0],
        [2.9662997876981856, 0.0, -2.883704344007871],
        [2.5266907990048466, -2.689075426821149, -2.8199273627955685],
        [0.0, 0.0, 0.0],
        [1.1029780404181115, 0.0, 0.0],
    ];
    let b = array![-0.6770298525757131, 0.0, 0.0, -2.7680138114623123, 0.0, -1.6313736051160548];
    let low = array![-1.298609106167207, -0.005054970650819169, -0.9529474017957531];
    let high = &low + &array![1.6735550487400492, 0.1, 0.1];
    let bounds = Bounds::new(low, high).unwrap();
    let s = solve(&linear(a, b), &bounds, bounds.clamp(&Array1::zeros(3)));
    assert_eq!((s.ending, &s.standings[1]), (Ending::Converged, &Standing::AtBound(Side::Lower)));
}
