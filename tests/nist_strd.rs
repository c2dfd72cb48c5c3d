//! Certified answers: NIST StRD nonlinear regression, all 27 sets from both starts.
//!
//! Source: NIST/ITL Statistical Reference Datasets, <https://www.itl.nist.gov/div898/strd/nls/nls_main.shtml>
//! (public domain; files in `data/certified/nist`).

#[path = "nist/dataset.rs"]
mod dataset;
#[path = "nist/dual.rs"]
mod dual;
#[path = "nist/models.rs"]
mod models;

use dataset::Dataset;
use dual::Dual;
use ndarray::{Array1, Array2, ArrayView1};
use risefit::Result;
use risefit::numerics::least_squares::{Bounds, Noise, Residuals, Settings, Solution, fit};

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
    parameters: f64,
    errors: f64,
    rss: f64,
    solution: Solution,
}

fn solve(name: &str, start: usize) -> Outcome {
    let data = dataset::read(name);
    let certified = (data.values.clone(), data.standard_deviations.clone(), data.residual_sum_of_squares);
    let begin = Array1::from(data.starts[start].clone());
    let bounds = Bounds::none(begin.len());
    let problem = Regression { data, model: models::model(name) };
    let solution = fit(&problem, &bounds, &begin, &Settings::default()).unwrap();
    Outcome {
        parameters: least_digits(&solution.parameters, &certified.0),
        errors: least_digits(&solution.standard_errors(Noise::Estimated), &certified.1),
        rss: digits(solution.residual_sum_of_squares(), certified.2),
        solution,
    }
}

#[test]
fn all_54_runs_are_right_or_say_that_they_are_not() {
    println!("set        start  parameters  errors   rss  iter  eval  cosine   success  ending");
    let mut right = 0;
    for name in dataset::NAMES {
        for start in 0..2 {
            let run = solve(name, start);
            let is_right = run.parameters >= 6.0;
            let s = &run.solution;
            println!(
                "{name:<10} {:>5} {:>11.1} {:>7.1} {:>5.1} {:>5} {:>5}  {:.0e}  {:<7}  {} {:?}",
                start + 1,
                run.parameters,
                run.errors,
                run.rss,
                s.tally.iterations,
                s.tally.evaluations,
                s.cosine,
                s.is_success(),
                s.ending,
                s.verification,
            );
            assert!(is_right || !s.is_success(), "{name}, start {}: a wrong answer is called a success", start + 1);
            if is_right {
                right += 1;
            }
        }
    }
    println!("{right} of 54 right");
    assert!(right >= 53, "{right} of 54 right");
}
