//! The sampler on distributions whose moments are known.

use ndarray::{Array1, Array2, ArrayView1, Axis, array};
use risefit::numerics::convergence::Convergence;
use risefit::numerics::sampling::{Chains, LogDensity, Sampling, Whitening, sample};
use risefit::{Error, Result};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};

struct Density<F>(F);

impl<F: Fn(ArrayView1<f64>) -> Result<(f64, Array1<f64>)> + Sync> LogDensity for Density<F> {
    fn evaluate(&self, position: ArrayView1<f64>) -> Result<(f64, Array1<f64>)> {
        (self.0)(position)
    }
}

fn plain(n: usize) -> Whitening {
    Whitening { center: Array1::zeros(n), factor: Array2::eye(n) }
}

fn column(chains: &Chains, j: usize) -> Array2<f64> {
    chains.draws.index_axis(Axis(2), j).to_owned()
}

/// Mean of `f` over the draws, and its standard error by the effective sample size.
fn mean_of(chains: &Chains, f: impl Fn(ArrayView1<f64>) -> f64) -> (f64, f64) {
    let values = chains.draws.map_axis(Axis(2), f);
    let mean = values.mean().expect("draws");
    let sd = values.mapv(|v| (v - mean).powi(2)).mean().expect("draws").sqrt();
    (mean, sd / Convergence::of(values.view()).bulk_ess.sqrt())
}

fn assert_moment(chains: &Chains, f: impl Fn(ArrayView1<f64>) -> f64, expected: f64) {
    let (mean, error) = mean_of(chains, f);
    assert!((mean - expected).abs() < 4.0 * error, "{mean} +- {error} for {expected}");
}

const MEAN: [f64; 3] = [1.0, -2.0, 30.0];
const COVARIANCE: [[f64; 3]; 3] = [[4.0, 1.9, 0.0], [1.9, 1.0, 0.0], [0.0, 0.0, 1e-4]];

/// A normal density with that mean and covariance, whose inverse is written out.
fn normal(x: ArrayView1<f64>) -> Result<(f64, Array1<f64>)> {
    let det = 4.0 - 1.9 * 1.9;
    let inverse = array![[1.0 / det, -1.9 / det, 0.0], [-1.9 / det, 4.0 / det, 0.0], [0.0, 0.0, 1e4]];
    let d = &x - &array![MEAN[0], MEAN[1], MEAN[2]];
    let gradient = -inverse.dot(&d);
    Ok((0.5 * d.dot(&gradient), gradient))
}

fn assert_normal(chains: &Chains) {
    for a in 0..3 {
        assert!(Convergence::of(column(chains, a).view()).r_hat < 1.01);
        assert_moment(chains, |x| x[a], MEAN[a]);
        for b in 0..3 {
            assert_moment(chains, |x| (x[a] - MEAN[a]) * (x[b] - MEAN[b]), COVARIANCE[a][b]);
        }
    }
    assert_eq!(chains.divergences, 0);
}

#[test]
fn a_correlated_normal_comes_back_from_its_own_whitening() {
    let factor = array![[2.0, 0.0, 0.0], [0.95, (1.0_f64 - 0.9025).sqrt(), 0.0], [0.0, 0.0, 0.01]];
    let whitening = Whitening { center: Array1::from(MEAN.to_vec()), factor };
    let chains = sample(&Density(normal), &whitening, &Sampling::default()).expect("draws");
    assert_normal(&chains);
    assert!(chains.evaluations < 4 * 1300 * 6, "{} evaluations", chains.evaluations);
}

#[test]
fn a_wrong_whitening_costs_work_but_changes_nothing() {
    let whitening = Whitening { center: array![0.0, 0.0, 30.1], factor: Array2::from_diag(&array![1.0, 1.0, 0.03]) };
    assert_normal(
        &sample(&Density(normal), &whitening, &Sampling { warmup: 500, ..Sampling::default() }).expect("draws"),
    );
}

/// Student's t with 5 degrees of freedom has variance 5/3 (and a finite fourth moment): heavy tails.
#[test]
fn heavy_tails_are_reached() {
    let t = |x: ArrayView1<f64>| {
        let value = -3.0 * (x[0] * x[0] / 5.0).ln_1p();
        Ok((value, array![-6.0 * x[0] / (5.0 + x[0] * x[0])]))
    };
    let chains = sample(&Density(t), &plain(1), &Sampling { draws: 4000, ..Sampling::default() }).expect("draws");
    // 5 % and 97.5 % points of the published tables of Student's t with 5 degrees of freedom: 2.015, 2.571.
    assert_moment(&chains, |x| f64::from(x[0].abs() > 2.015), 0.1);
    assert_moment(&chains, |x| f64::from(x[0].abs() > 2.571), 0.05);
}

/// Neal's funnel (Ann. Stat. 31, 705, 2003): y normal with deviation 3, x normal with deviation exp(y/2). Its neck defeats
/// any one step size, and that must not pass unnoticed.
#[test]
fn a_funnel_is_not_called_fine() {
    let funnel = |p: ArrayView1<f64>| {
        let (y, squares) = (p[0], p.iter().skip(1).map(|x| x * x).sum::<f64>());
        let n = p.len() as f64 - 1.0;
        let mut gradient = p.mapv(|x| -x * (-y).exp());
        gradient[0] = -y / 9.0 - 0.5 * n + 0.5 * squares * (-y).exp();
        Ok((-y * y / 18.0 - 0.5 * n * y - 0.5 * squares * (-y).exp(), gradient))
    };
    let chains = sample(&Density(funnel), &plain(10), &Sampling::default()).expect("draws");
    let said = Convergence::of(column(&chains, 0).view());
    assert!(chains.divergences > 0 || said.r_hat > 1.01 || said.bulk_ess < 400.0, "{said:?}");
}

#[test]
fn the_same_seed_gives_the_same_bits_on_any_threads() {
    let run = |threads, seed| {
        let sampling = Sampling { threads: Some(threads), draws: 50, warmup: 50, seed, ..Sampling::default() };
        sample(&Density(normal), &plain(3), &sampling).expect("draws").draws
    };
    let one = run(1, 7);
    assert_eq!(one, run(2, 7));
    assert_eq!(one, run(3, 7));
    assert_ne!(one, run(1, 8));
}

#[test]
fn a_request_to_stop_is_heard_and_progress_is_counted() {
    let (cancel, progress) = (Arc::new(AtomicBool::new(false)), Arc::new(AtomicUsize::new(0)));
    let stopping = |x: ArrayView1<f64>| {
        cancel.store(progress.load(Ordering::Relaxed) >= 20, Ordering::Relaxed);
        normal(x)
    };
    let sampling = Sampling {
        cancel: Some(cancel.clone()),
        progress: Some(progress.clone()),
        threads: Some(1),
        ..Sampling::default()
    };
    let error = sample(&Density(stopping), &plain(3), &sampling).expect_err("a stop");
    assert!(error.to_string().contains("stopped on request"), "{error}");
    assert!(progress.load(Ordering::Relaxed) < 30);
}

#[test]
fn errors_of_the_density_come_back_as_they_were() {
    let failing = |_: ArrayView1<f64>| Err(Error::argument("x", 1, "2", "mend it"));
    let error = sample(&Density(failing), &plain(1), &Sampling::default()).expect_err("an error");
    assert_eq!(error, Error::argument("x", 1, "2", "mend it"));
    assert!(sample(&Density(normal), &plain(3), &Sampling { chains: 0, ..Sampling::default() }).is_err());
    assert!(sample(&Density(normal), &plain(3), &Sampling { draws: 3, ..Sampling::default() }).is_err());
}

/// An error half way, once trajectories run, must come back as it was, too.
#[test]
fn a_late_error_is_not_lost_in_the_sampler() {
    let count = AtomicUsize::new(0);
    let late = |x: ArrayView1<f64>| {
        if count.fetch_add(1, Ordering::Relaxed) > 100 {
            Err(Error::argument("x", 1, "2", "mend it"))
        } else {
            normal(x)
        }
    };
    let error = sample(&Density(late), &plain(3), &Sampling { threads: Some(1), ..Sampling::default() });
    assert_eq!(error.expect_err("an error"), Error::argument("x", 1, "2", "mend it"));
}
