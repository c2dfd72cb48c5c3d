//! Gibbs and interweaving steps between the proposals of chains (Yu and Meng, J. Comput. Graph. Stat. 20, 531, 2011).
//! They leave the posterior invariant and need at most one record's simulation; they keep chains moving where the
//! surrogate is poor.

use chacha20::ChaCha8Rng;
use ndarray::{Array1, ArrayView1, s};
use rand_distr::{Distribution, StandardNormal, StandardUniform};

use super::chain_coordinates::ChainCoordinates;
use super::direction::Direction;
use super::target::{Evaluation, Target};
use crate::error::Result;
use crate::inference::records::Records;
use crate::numerics::elliptical::elliptical_step;
use crate::numerics::slice::slice_step;

/// Steps along a record's surrogate before it is simulated.
const SURROGATE_STEPS: usize = 3;

impl<P: Copy> ChainCoordinates<'_, P> {
    /// Draws anew by how much records differ, given their own parameters: these stay what they are, so no likelihood
    /// changes. Without it a chain moves all records' coordinates against that factor by small steps.
    pub fn draw_record_scatter(&self, x: &mut Array1<f64>, generator: &mut ChaCha8Rng) {
        let Some(prior) = self.scatters.records else { return };
        let at = self.coordinates.len() + usize::from(self.scatters.readings.is_some());
        let own: Vec<usize> =
            (0..self.coordinates.len()).filter(|&j| self.coordinates.axes[j].record.is_some()).collect();
        let squares: f64 = own.iter().map(|&j| x[j] * x[j]).sum();
        let (before, count) = (prior.value(x[at]), own.len() as f64);
        // Of the factor's coordinate and the records' own parameters, not their coordinates: hence the logarithm.
        let log_density = |t: f64| {
            let ratio = before / prior.value(t);
            -0.5 * t * t + count * ratio.ln() - 0.5 * squares * ratio * ratio
        };
        let t = slice_step(log_density, x[at], 1.0, generator);
        let ratio = before / prior.value(t);
        own.into_iter().for_each(|j| x[j] *= ratio);
        x[at] = t;
    }

    /// Draws anew where a constant stands among the lots that were simulated (interweaving, as above): along the
    /// level's line the density is normal. Nothing moves from or to places beyond bounds, where the products are
    /// others.
    pub fn draw_along(&self, direction: &Direction, x: &mut Array1<f64>, generator: &mut ChaCha8Rng) {
        let n = self.coordinates.len();
        let place = self.place(x.view());
        let mut line = Array1::zeros(x.len());
        line.slice_mut(s![..n]).assign(&direction.shared);
        direction.factors.iter().for_each(|&(j, change)| line[j] = change / place.record_scatter);
        let square = line.dot(&line);
        let step: f64 = StandardNormal.sample(generator);
        let moved = &*x + &(&line * (step / square.sqrt() - line.dot(x) / square));
        let beyond = |beyond: &[bool]| (0..n).any(|j| line[j] != 0.0 && beyond[j]);
        if !beyond(&place.beyond) && !beyond(&self.place(moved.view()).beyond) {
            *x = moved;
        }
    }
}

impl<R: Records> Target<'_, R> {
    /// All steps that cost no simulation.
    pub fn interweave_free(&self, x: &mut Array1<f64>, seen: &mut Evaluation, generator: &mut ChaCha8Rng) {
        self.chain.draw_record_scatter(x, generator);
        self.draw_reading_scatter(x, seen, generator);
        self.directions.iter().for_each(|level| self.chain.draw_along(level, x, generator));
        self.count_anew(x, seen);
    }

    /// Every record's own coordinates: one record's, at random, by its simulations alone, so that no surrogate can hold
    /// it where it is; the others' with their surrogate.
    pub fn interweave_own(&self, x: &mut Array1<f64>, seen: &mut Evaluation, generator: &mut ChaCha8Rng) -> Result<()> {
        let chosen = (self.axes.len() as f64 * uniform(generator)) as usize;
        for i in (0..self.axes.len()).filter(|&i| !self.own[i].is_empty()) {
            if i == chosen {
                self.draw_record(i, x, seen, generator)?;
            } else {
                self.propose_record(i, x, seen, generator)?;
            }
        }
        self.count_anew(x, seen);
        Ok(())
    }

    fn count_anew(&self, x: &Array1<f64>, seen: &mut Evaluation) {
        seen.sds = self.chain.place(x.view()).sds;
        seen.value = self.value(x.view(), &seen.misfits);
    }

    /// Draws anew by how much what was weighed and read scatters, given the misfits.
    fn draw_reading_scatter(&self, x: &mut Array1<f64>, seen: &Evaluation, generator: &mut ChaCha8Rng) {
        let Some(prior) = self.chain.scatters.readings else { return };
        let at = self.chain.coordinates.len();
        let each = || self.laws.iter().zip(&seen.misfits).flat_map(|(laws, misfits)| laws.iter().zip(misfits));
        let scattering: Vec<_> = each().filter(|(law, _)| law.scatters).collect();
        let cost = |t: f64| scattering.iter().map(|(law, m)| law.widened_cost(**m, prior.value(t)).0).sum::<f64>();
        x[at] = slice_step(|t| -0.5 * t * t - cost(t), x[at], 1.0, generator);
    }

    /// Draws a record's own coordinates by its simulations.
    fn draw_record(
        &self,
        i: usize,
        x: &mut Array1<f64>,
        seen: &mut Evaluation,
        generator: &mut ChaCha8Rng,
    ) -> Result<()> {
        let scatter = self.chain.place(x.view()).reading_scatter;
        let (from, level) = (self.own_of(i, x), -self.cost(i, &seen.misfits[i], scatter));
        let mut last = Vec::new();
        let likelihood = |own: ArrayView1<f64>| {
            last = match self.misfits(i, self.with_own(i, x, own).view()) {
                Ok(misfits) => misfits,
                Err(e) if e.is_recoverable() => return Ok(f64::NEG_INFINITY),
                Err(e) => return Err(e),
            };
            Ok(-self.cost(i, &last, scatter))
        };
        if let Some((own, _)) = elliptical_step(likelihood, from.view(), level, generator)? {
            *x = self.with_own(i, x, own.view());
            seen.misfits[i] = last;
        }
        Ok(())
    }

    /// Draws a record's own coordinates by its surrogate, and accepts or refuses where they come to by its simulation
    /// (surrogate transitions: Liu, Monte Carlo Strategies in Scientific Computing, Springer, 2001, section 9.4.3).
    fn propose_record(
        &self,
        i: usize,
        x: &mut Array1<f64>,
        seen: &mut Evaluation,
        generator: &mut ChaCha8Rng,
    ) -> Result<()> {
        let scatter = self.chain.place(x.view()).reading_scatter;
        let surrogate = |own: ArrayView1<f64>| {
            let sds = self.chain.place(self.with_own(i, x, own).view()).sds;
            let inputs: Vec<f64> = self.axes[i].iter().map(|&j| sds[j]).collect();
            Ok(-self.surrogates[i].cost(&inputs, scatter).0)
        };
        let from = self.own_of(i, x);
        let first = surrogate(from.view())?;
        let (mut own, mut last) = (from, first);
        for _ in 0..SURROGATE_STEPS {
            if let Some(next) = elliptical_step(surrogate, own.view(), last, generator)? {
                (own, last) = next;
            }
        }
        let moved = self.with_own(i, x, own.view());
        let chance = uniform(generator);
        match self.misfits(i, moved.view()) {
            Ok(misfits) => {
                let gain = self.cost(i, &seen.misfits[i], scatter) - self.cost(i, &misfits, scatter);
                if chance.ln() < gain - (last - first) {
                    *x = moved;
                    seen.misfits[i] = misfits;
                }
                Ok(())
            }
            Err(e) if e.is_recoverable() => Ok(()),
            Err(e) => Err(e),
        }
    }

    fn own_of(&self, i: usize, x: &Array1<f64>) -> Array1<f64> {
        self.own[i].iter().map(|&j| x[j]).collect()
    }

    fn with_own(&self, i: usize, x: &Array1<f64>, own: ArrayView1<f64>) -> Array1<f64> {
        let mut moved = x.clone();
        self.own[i].iter().zip(own).for_each(|(&j, value)| moved[j] = *value);
        moved
    }
}

fn uniform(generator: &mut ChaCha8Rng) -> f64 {
    StandardUniform.sample(generator)
}

#[cfg(test)]
#[path = "interweaving_tests.rs"]
mod tests;
