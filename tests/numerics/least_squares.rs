//! Least squares within bounds against solutions by hand: bounds, rank, influence, failures, observers, many starts.

mod failures;
mod problems;
mod runs;

use ndarray::{Array1, Array2, ArrayView1, array};
use problems::{Problem, assert_close, line, linear, rise, solve};
use proptest::prelude::{prop, prop_assert, proptest};
use risefit::inference::least_squares::{Bounds, Ending, Noise, Residuals, Settings, Side, Standing, fit, run};

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
