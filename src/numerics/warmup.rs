//! What the no-U-turn sampler learns before draws are kept: a step by dual averaging (Hoffman and Gelman, J. Mach. Learn. Res.
//! 15, 1593, 2014), and variances from draws and gradients (Seyboldt, Carlson and Carpenter, arXiv:2603.18845, 2026).

use ndarray::{Array1, Zip};

use super::trajectory::Point;

/// Wanted mean chance of a trajectory's points to be accepted.
const ACCEPTANCE: f64 = 0.8;
/// Constants of dual averaging, as published: pull to the center, delay, decay of the weights, center over first step.
const PULL: f64 = 0.05;
const DELAY: f64 = 10.0;
const DECAY: f64 = 0.75;
const CENTER: f64 = 10.0;
/// Draws of a window while chains are on their way, and later.
const EARLY_WINDOW: f64 = 10.0;
const LATE_WINDOW: f64 = 80.0;
/// Shares of the warmup: when the way is done, and when scales are.
const EARLY: f64 = 0.3;
const SCALES: f64 = 0.85;
/// A slope from which a first variance is taken, at least.
const LEAST_SLOPE: f64 = 1e-3;
/// Draws that a variance needs.
const LEAST_DRAWS: f64 = 3.0;

/// The state of learning.
#[derive(Clone, Debug)]
pub(super) struct Warmup {
    step: DualAveraging,
    variances: Array1<f64>,
    /// Of the window before this one, and this one.
    seen: [Moments; 2],
    /// Draws until now, and in all.
    draws: usize,
    all: usize,
}

impl Warmup {
    /// At the start of a warmup of so many draws. Variances are those of a normal where this slope is usual.
    pub fn new(draws: usize, step: f64, start: &Point) -> Self {
        let seen = Moments::of(start);
        Warmup {
            step: DualAveraging::new(step),
            variances: start.gradient.mapv(|slope| 1.0 / slope.abs().max(LEAST_SLOPE)),
            seen: [seen.clone(), seen],
            draws: 0,
            all: draws,
        }
    }

    /// Takes in a draw and the acceptance of its trajectory.
    pub fn learn(&mut self, point: &Point, acceptance: f64) {
        self.draws += 1;
        self.step.learn(acceptance);
        let (now, all) = (self.draws as f64, self.all as f64);
        if now > SCALES * all {
            return;
        }
        self.seen.iter_mut().for_each(|seen| seen.add(point));
        let window = if now < EARLY * all { EARLY_WINDOW } else { LATE_WINDOW };
        if self.seen[1].count >= window && now + window <= SCALES * all {
            self.seen.swap(0, 1);
            self.seen[1] = Moments::new(point.position.len());
        }
        if self.seen[0].count >= LEAST_DRAWS {
            self.seen[0].improve(&mut self.variances);
        }
    }

    /// To go on learning with.
    pub fn step(&self) -> f64 {
        self.step.log_step.exp()
    }

    /// To draw with in the end.
    pub fn settled_step(&self) -> f64 {
        self.step.log_mean.exp()
    }

    pub fn variances(&self) -> &Array1<f64> {
        &self.variances
    }
}

#[derive(Clone, Debug)]
struct DualAveraging {
    center: f64,
    /// Mean of what acceptances lack.
    lacking: f64,
    log_step: f64,
    log_mean: f64,
    count: f64,
}

impl DualAveraging {
    fn new(step: f64) -> Self {
        let log_step = step.ln();
        DualAveraging { center: (CENTER * step).ln(), lacking: 0.0, log_step, log_mean: log_step, count: 0.0 }
    }

    fn learn(&mut self, acceptance: f64) {
        self.count += 1.0;
        let share = 1.0 / (self.count + DELAY);
        self.lacking += share * (ACCEPTANCE - acceptance - self.lacking);
        self.log_step = self.center - self.lacking * self.count.sqrt() / PULL;
        self.log_mean += self.count.powf(-DECAY) * (self.log_step - self.log_mean);
    }
}

/// Running means, and sums of squared deviations (Welford, Technometrics 4, 419, 1962), of positions and gradients.
#[derive(Clone, Debug)]
struct Moments {
    count: f64,
    means: [Array1<f64>; 2],
    squares: [Array1<f64>; 2],
}

impl Moments {
    fn new(n: usize) -> Self {
        let zeros = || [Array1::zeros(n), Array1::zeros(n)];
        Moments { count: 0.0, means: zeros(), squares: zeros() }
    }

    fn of(point: &Point) -> Self {
        let mut moments = Self::new(point.position.len());
        moments.add(point);
        moments
    }

    fn add(&mut self, point: &Point) {
        self.count += 1.0;
        let count = self.count;
        for (i, values) in [&point.position, &point.gradient].into_iter().enumerate() {
            Zip::from(&mut self.means[i]).and(&mut self.squares[i]).and(values).for_each(|mean, squares, x| {
                let off = x - *mean;
                *mean += off / count;
                *squares += off * (x - *mean);
            });
        }
    }

    /// Variances that bring gradients and positions nearest to those of a unit normal, where both varied.
    fn improve(&self, variances: &mut Array1<f64>) {
        Zip::from(variances).and(&self.squares[0]).and(&self.squares[1]).for_each(
            |variance, of_position, of_gradient| {
                let better = (of_position / of_gradient).sqrt();
                if better.is_finite() && better > 0.0 {
                    *variance = better;
                }
            },
        );
    }
}
