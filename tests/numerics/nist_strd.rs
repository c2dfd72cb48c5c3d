//! Certified answers: NIST StRD nonlinear regression, all 27 sets from both starts.
//!
//! Source: NIST/ITL Statistical Reference Datasets, <https://www.itl.nist.gov/div898/strd/nls/nls_main.shtml>
//! (public domain; files in `data/certified/nist`).

mod dataset;
mod dual;
mod models;

use dataset::Dataset;
use dual::Dual;
use ndarray::{Array1, Array2, ArrayView1};
use risefit::Result;
use risefit::inference::least_squares::{Bounds, Noise, Residuals, Settings, Solution, fit, run};

struct Regression {
    data: Dataset,
    model: models::Model,
}

impl Residuals for Regression {
    fn n_residuals(&self) -> usize {
        self.data.rows.len()
    }

    fn evaluate(&self, p: ArrayView1<f64>) -> Result<(Array1<f64>, Array2<f64>)> {
        let b: Vec<Dual> = p.iter().enumerate().map(|(j, &v)| Dual::variable(v, j)).collect();
        let mut residuals = Array1::zeros(self.n_residuals());
        let mut jacobian = Array2::zeros((self.n_residuals(), p.len()));
        for (i, row) in self.data.rows.iter().enumerate() {
            let fitted = (self.model)(&b, &row[1..]);
            residuals[i] = fitted.value - row[0];
            jacobian.row_mut(i).iter_mut().zip(fitted.slopes).for_each(|(to, from)| *to = from);
        }
        Ok((residuals, jacobian))
    }
}

/// Digits in which `got` agrees with the certified value: the log relative error of NIST, at most the 11 given.
fn digits(got: f64, certified: f64) -> f64 {
    let error = (got - certified).abs() / certified.abs();
    if error.is_nan() { 0.0 } else { (-error.log10()).clamp(0.0, 11.0) }
}

fn least_digits(got: &Array1<f64>, certified: &[f64]) -> f64 {
    got.iter().zip(certified).map(|(&g, &c)| digits(g, c)).fold(11.0, f64::min)
}

struct Outcome {
    name: &'static str,
    start: usize,
    parameters: f64,
    errors: f64,
    rss: f64,
    /// Digits that double precision leaves in the residuals.
    left: f64,
    solution: Solution,
}

impl Outcome {
    fn is_right(&self) -> bool {
        self.parameters >= 6.0
    }

    fn print(&self) {
        println!(
            "{:<9} {:>5} {:>10.1} {:>7.1} {:>5.1} {:>5} {:>5}  {:>7.0e}  {:<7} {}",
            self.name,
            self.start + 1,
            self.parameters,
            self.errors,
            self.rss,
            self.solution.tally.iterations,
            self.solution.tally.evaluations,
            self.solution.cosine,
            self.solution.is_success(),
            self.solution.ending,
        );
    }
}

type Fit = fn(&Regression, &Bounds, &Array1<f64>, &Settings) -> Result<Solution>;

fn solve(name: &'static str, start: usize, fit: Fit, settings: &Settings) -> Outcome {
    let data = dataset::read(name);
    let (values, sds, rss) = (data.values.clone(), data.standard_deviations.clone(), data.residual_sum_of_squares);
    let begin = Array1::from(data.starts[start].clone());
    let size = data.rows.iter().map(|row| row[0] * row[0]).sum::<f64>();
    let problem = Regression { data, model: models::model(name) };
    let solution = fit(&problem, &Bounds::none(begin.len()), &begin, settings).unwrap();
    Outcome {
        name,
        start,
        parameters: least_digits(&solution.parameters, &values),
        errors: least_digits(&solution.standard_errors(Noise::Estimated), &sds),
        rss: digits(solution.residual_sum_of_squares(), rss),
        left: -(f64::EPSILON * (size / rss).sqrt()).log10(),
        solution,
    }
}

fn solve_all(fit: Fit, settings: &Settings) -> Vec<Outcome> {
    let runs = dataset::NAMES.into_iter().flat_map(|name| [(name, 0), (name, 1)]);
    runs.map(|(name, start)| solve(name, start, fit, settings)).collect()
}

#[test]
fn all_54_runs_are_right_and_called_so() {
    println!("set       start parameters  errors   rss  iter  eval   cosine  success ending");
    let outcomes = solve_all(fit, &Settings::default());
    outcomes.iter().for_each(Outcome::print);
    let right = outcomes.iter().filter(|o| o.is_right()).count();
    println!("{right} of 54 right");
    for o in &outcomes {
        let place = format!("{}, start {}", o.name, o.start + 1);
        assert!(o.is_right() || !o.solution.is_success(), "{place}: a wrong answer is called a success");
        assert!(!o.is_right() || o.errors >= o.left.min(6.0), "{place}: standard errors to {} digits", o.errors);
        assert!(!o.is_right() || o.rss >= o.left.min(6.0), "{place}: residual sum of squares to {} digits", o.rss);
        assert!(!o.is_right() || o.solution.is_success(), "{place}: a right answer is not called a success");
    }
    assert_eq!(right, 54);
}

#[test]
fn no_first_radius_makes_a_bare_run_call_a_wrong_answer_a_success() {
    for (first_radius, least_right) in [(0.001, 0), (0.01, 0), (0.1, 54), (1.0, 54), (10.0, 54), (100.0, 0), (1e4, 0)] {
        let outcomes = solve_all(run, &Settings { first_radius, ..Settings::default() });
        let right = outcomes.iter().filter(|o| o.is_right()).count();
        println!("first radius {first_radius}: {right} of 54 right");
        assert!(right >= least_right);
        for o in outcomes.iter().filter(|o| !o.is_right()) {
            assert!(!o.solution.is_success(), "{}, start {}, first radius {first_radius}", o.name, o.start + 1);
        }
    }
}

#[test]
fn second_attempts_mend_a_first_step_that_is_too_long() {
    let settings = Settings { first_radius: 100.0, verifications: 0, ..Settings::default() };
    let right = |fit| solve_all(fit, &settings).iter().filter(|o| o.is_right() && o.solution.is_success()).count();
    assert!(right(run) < 54);
    assert_eq!(right(fit), 54);
}
