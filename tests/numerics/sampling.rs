//! The samplers on distributions whose moments are known.

use ndarray::{Array1, Array2, ArrayView1, Axis, array};
use risefit::numerics::convergence::Convergence;
use risefit::numerics::sampling::{Chains, LogDensity, Sampling, Whitening, sample};
use risefit::numerics::surrogate_chains::{Leg, WithSurrogate, move_into, tally, together, walk, walkers, whitened_by};
use risefit::numerics::threads::on_threads;
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

/// Half a normal, whose other half cannot be evaluated: trajectories that break are counted, and the draws stay exact.
#[test]
fn trajectories_that_break_are_counted() {
    let half = |x: ArrayView1<f64>| match x[0] {
        x if x < 0.0 => {
            Err(Error::Integration { trial: None, time_s: 1.0, reason: "it broke".into(), suspect: "x".into() })
        }
        x => Ok((-0.5 * x * x, array![-x])),
    };
    let start_inside = Whitening { center: array![1.0], factor: array![[1.0]] };
    let sampling = Sampling { draws: 4000, seed: 3, ..Sampling::default() };
    let chains = sample(&Density(half), &start_inside, &sampling).expect("draws");
    assert!(chains.divergences > 0 && chains.draws.iter().all(|x| *x >= 0.0));
    // The mean of half a normal is the root of 2/pi.
    assert_moment(&chains, |x| x[0], (2.0 / std::f64::consts::PI).sqrt());
}

const EFFECTS: [f64; 8] = [28.0, 8.0, -3.0, 7.0, -1.0, 1.0, 18.0, 12.0];
const ERRORS: [f64; 8] = [15.0, 10.0, 16.0, 11.0, 9.0, 11.0, 10.0, 18.0];

/// Eight schools (Rubin, J. Educ. Stat. 6, 377, 1981), not centered: position is mu/5, ln tau, eta; mu normal with deviation 5,
/// tau half-Cauchy with scale 5, effects mu + tau eta.
fn eight_schools(x: ArrayView1<f64>) -> (f64, Array1<f64>) {
    let (mu, tau) = (5.0 * x[0], x[1].exp());
    let ratio = (tau / 5.0).powi(2);
    let mut value = -0.5 * x[0] * x[0] - ratio.ln_1p() + x[1];
    let mut gradient = Array1::zeros(10);
    (gradient[0], gradient[1]) = (-x[0], 1.0 - 2.0 * ratio / (1.0 + ratio));
    for j in 0..8 {
        let eta = x[2 + j];
        let z = (EFFECTS[j] - mu - tau * eta) / ERRORS[j];
        let pull = z / ERRORS[j];
        value -= 0.5 * (z * z + eta * eta);
        gradient[0] += 5.0 * pull;
        gradient[1] += tau * eta * pull;
        gradient[2 + j] = tau * pull - eta;
    }
    (value, gradient)
}

/// By quadrature over tau, mu being normal given tau: 4.39682, 3.31770; 3.59771, 3.21996. The reference draws of the database
/// stan-dev/posteriordb (eight_schools_noncentered) have means 4.411 +- 0.033 and 3.602 +- 0.032.
fn assert_eight_schools(chains: &Chains) {
    let (mu, tau) = (|x: ArrayView1<f64>| 5.0 * x[0], |x: ArrayView1<f64>| x[1].exp());
    assert_moment(chains, mu, 4.396_82);
    assert_moment(chains, |x| (mu(x) - 4.396_82).powi(2), 3.317_70 * 3.317_70);
    assert_moment(chains, tau, 3.597_71);
    assert_moment(chains, |x| (tau(x) - 3.597_71).powi(2), 3.219_96 * 3.219_96);
}

#[test]
fn eight_schools_come_back() {
    let sampling = Sampling { draws: 4000, warmup: 500, ..Sampling::default() };
    assert_eight_schools(
        &sample(&Density(|x: ArrayView1<f64>| Ok(eight_schools(x))), &plain(10), &sampling).expect("draws"),
    );
}

/// A density with a surrogate.
struct Pair<D, G>(D, G);

impl<D, G> WithSurrogate for Pair<D, G>
where
    D: Fn(ArrayView1<f64>) -> Result<f64> + Sync,
    G: Fn(ArrayView1<f64>) -> (f64, Array1<f64>) + Sync,
{
    type Seen = ();

    fn density(&self, position: ArrayView1<f64>) -> Result<(f64, ())> {
        Ok(((self.0)(position)?, ()))
    }

    fn surrogate(&self, position: ArrayView1<f64>) -> (f64, Array1<f64>) {
        (self.1)(position)
    }
}

/// WithSurrogate draws as posteriors make them: tuned, whitened anew, then kept. Also the share of proposals accepted.
fn drawn(target: &impl WithSurrogate, n: usize, sampling: &Sampling, proposals: f64) -> Result<(Chains, f64)> {
    let before = plain(n);
    let mut chains = walkers(target, &before, sampling)?;
    let warming = Leg { draws: sampling.warmup, proposals, parts: 0.2, tune: true, watch: false };
    let walks = walk(target, &before, &mut chains, warming, sampling)?;
    let visited = together(&walks).into_shape_with_order((sampling.chains * sampling.warmup, n)).expect("rows");
    let anew = whitened_by(&before, visited.view());
    move_into(&mut chains, &before, &anew);
    let leg = Leg { draws: sampling.draws, proposals, parts: 0.2, tune: false, watch: false };
    let walks = walk(target, &anew, &mut chains, leg, sampling)?;
    let (accepted, proposed) = tally(&walks);
    let chains = Chains { draws: together(&walks), divergences: 0, evaluations: proposed };
    Ok((chains, accepted as f64 / proposed as f64))
}

fn no_surrogate(x: ArrayView1<f64>) -> (f64, Array1<f64>) {
    (-0.5 * x.dot(&x), -&x)
}

/// A bent distribution, x normal and y normal around half of x^2 - 1 with deviation 0.6, after surrogates that bend it less or not
/// at all: the draws are exact, only fewer proposals are accepted.
#[test]
fn a_banana_comes_back_whatever_the_surrogate() {
    let bent = |bend: f64| {
        move |p: ArrayView1<f64>| {
            let off = (p[1] - bend * (p[0] * p[0] - 1.0)) / 0.36;
            (-0.5 * (p[0] * p[0] + 0.36 * off * off), array![-p[0] + 2.0 * bend * p[0] * off, -off])
        }
    };
    let exact = bent(0.5);
    let density = |p: ArrayView1<f64>| Ok(exact(p).0);
    let sampling = Sampling { draws: 4000, ..Sampling::default() };
    let check = |(chains, rate): (Chains, f64)| {
        assert!(Convergence::of(column(&chains, 1).view()).r_hat < 1.02);
        assert_moment(&chains, |x| x[0], 0.0);
        assert_moment(&chains, |x| x[0] * x[0], 1.0);
        assert_moment(&chains, |x| x[1], 0.0);
        assert_moment(&chains, |x| x[1] * x[1], 0.86);
        assert_moment(&chains, |x| f64::from(x[0].abs() > 1.959_964), 0.05);
        rate
    };
    let right = check(drawn(&Pair(density, exact), 2, &sampling, 3.0).expect("draws"));
    let near = check(drawn(&Pair(density, bent(0.4)), 2, &sampling, 6.0).expect("draws"));
    let wrong = check(drawn(&Pair(density, bent(0.0)), 2, &sampling, 20.0).expect("draws"));
    assert!(right > 0.85 && right > near && near > wrong, "{right} {near} {wrong}");
}

#[test]
fn eight_schools_come_back_by_a_surrogate_that_errs() {
    let crooked = |x: ArrayView1<f64>| {
        let (value, gradient) = eight_schools(x);
        (0.9 * value, 0.9 * gradient)
    };
    let density = |x: ArrayView1<f64>| Ok(eight_schools(x).0);
    let sampling = Sampling { draws: 4000, warmup: 500, ..Sampling::default() };
    assert_eight_schools(&drawn(&Pair(density, crooked), 10, &sampling, 3.0).expect("draws").0);
}

/// Neal's funnel again: its neck must not pass unnoticed here either.
#[test]
fn a_funnel_by_surrogate_is_not_called_fine() {
    let density = |p: ArrayView1<f64>| {
        let (y, squares) = (p[0], p.iter().skip(1).map(|x| x * x).sum::<f64>());
        Ok(-y * y / 18.0 - 4.5 * y - 0.5 * squares * (-y).exp())
    };
    let (chains, _) = drawn(&Pair(density, no_surrogate), 10, &Sampling::default(), 5.0).expect("draws");
    let said = Convergence::of(column(&chains, 0).view());
    assert!(said.r_hat > 1.01 || said.bulk_ess.min(said.tail_ess) < 400.0, "{said:?}");
}

/// Where a density cannot be evaluated nothing is drawn: half a normal.
#[test]
fn proposals_that_break_are_refused() {
    let half = |x: ArrayView1<f64>| match x[0] {
        x if x < 0.0 => {
            Err(Error::Integration { trial: None, time_s: 1.0, reason: "it broke".into(), suspect: "x".into() })
        }
        x => Ok(-0.5 * x * x),
    };
    let sampling = Sampling { draws: 4000, seed: 3, ..Sampling::default() };
    let start_inside = Whitening { center: array![1.0], factor: array![[1.0]] };
    let target = Pair(half, no_surrogate);
    let mut chains = walkers(&target, &start_inside, &sampling).expect("starts");
    let leg = Leg { draws: 4000, proposals: 4.0, parts: 0.2, tune: false, watch: false };
    let walks = walk(&target, &start_inside, &mut chains, leg, &sampling).expect("walks");
    assert!(walks.iter().all(|w| w.broken > 0) && walks.iter().all(|w| w.draws.iter().all(|x| *x >= 0.0)));
    let found = Chains { draws: together(&walks), divergences: 0, evaluations: 0 };
    // The mean of half a normal is the root of 2/pi.
    assert_moment(&found, |x| x[0], (2.0 / std::f64::consts::PI).sqrt());
}

#[test]
fn surrogate_draws_are_the_same_bits_on_any_threads_and_stop_on_request() {
    let target = Pair(|x: ArrayView1<f64>| Ok(normal(x)?.0), no_surrogate);
    let run = |threads: usize| {
        let sampling = Sampling { draws: 50, warmup: 50, ..Sampling::default() };
        on_threads(Some(threads), || drawn(&target, 3, &sampling, 2.0)).expect("threads").expect("draws").0.draws
    };
    let one = run(1);
    assert!(one == run(2) && one == run(3));
    let cancel = Some(Arc::new(AtomicBool::new(true)));
    let error = drawn(&target, 3, &Sampling { cancel, ..Sampling::default() }, 2.0).expect_err("a stop");
    assert!(error.to_string().contains("stopped on request"), "{error}");
}
