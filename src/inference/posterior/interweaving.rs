//! Steps that leave the posterior as it is and cost no simulation, or those of one record only: they go where trajectories along
//! the guide are refused, and where they are, chains do not stand still.

use chacha20::ChaCha8Rng;
use ndarray::{Array1, ArrayView1, s};
use rand_distr::{Distribution, StandardNormal, StandardUniform};

use super::chain_coordinates::Coordinates;
use super::target::{Records, Seen, Target};
use crate::error::Result;
use crate::fit::parameter::Parameter;
use crate::numerics::elliptical::elliptical_step;
use crate::numerics::slice::slice_step;
use crate::numerics::triangular::solve_lower;

/// Steps along a record's guide before its simulation is asked.
const STEPS: usize = 3;

/// A constant of the grade and the factor by which a record's lot differs from it: only their product is simulated.
const PRODUCTS: [(Parameter, Parameter); 4] = [
    (Parameter::GasYield, Parameter::GasFactor),
    (Parameter::BlowRate, Parameter::BlowFactor),
    (Parameter::GelRate, Parameter::GelFactor),
    (Parameter::Viscosity, Parameter::FlowFactor),
];

/// A direction along which a constant changes and every record's factor makes up for it.
pub(crate) struct Level {
    /// Change of the shared coordinates; shape (axes,), zero elsewhere.
    shared: Array1<f64>,
    /// Coordinates of the factors, and by how much their spreads change.
    factors: Vec<(usize, f64)>,
}

/// The directions of a space with so many records: constants whose factor every record has.
pub(crate) fn levels(coordinates: &Coordinates, records: usize) -> Vec<Level> {
    let space = coordinates.space;
    let of = |(constant, factor): (Parameter, Parameter)| {
        let at = space.axes.iter().position(|a| a.parameter == constant && a.record.is_none())?;
        let own = (0..space.len()).filter(|&j| space.axes[j].parameter == factor && space.axes[j].record.is_some());
        let own: Vec<usize> = own.collect();
        let log = own.iter().chain([&at]).all(|&j| space.axes[j].belief.log);
        (log && own.len() == records).then(|| {
            let mut unit = Array1::zeros(space.len());
            unit[at] = 1.0;
            let change = |j: usize| -space.axes[at].belief.spread / space.axes[j].belief.spread;
            Level {
                shared: solve_lower(space.mixing.view(), unit.view()),
                factors: own.into_iter().map(|j| (j, change(j))).collect(),
            }
        })
    };
    PRODUCTS.into_iter().filter_map(of).collect()
}

impl Coordinates<'_> {
    /// Draws anew by how much lots scatter, given how much those of the records do: the records' own spreads stay, so no
    /// likelihood changes. Without it a chain moves all records' coordinates against that factor by small steps (interweaving:
    /// Yu and Meng, J. Comput. Graph. Stat. 20, 531, 2011).
    pub fn stir_lots(&self, x: &mut Array1<f64>, generator: &mut ChaCha8Rng) {
        let Some(belief) = self.scatters.lot else { return };
        let at = self.space.len() + usize::from(self.scatters.casting.is_some());
        let own: Vec<usize> = (0..self.space.len()).filter(|&j| self.space.axes[j].record.is_some()).collect();
        let squares: f64 = own.iter().map(|&j| x[j] * x[j]).sum();
        let (before, count) = (belief.value(x[at]), own.len() as f64);
        // Of the factor's coordinate and the records' own spreads, not their coordinates: hence the logarithm.
        let log_density = |t: f64| {
            let ratio = before / belief.value(t);
            -0.5 * t * t + count * ratio.ln() - 0.5 * squares * ratio * ratio
        };
        let t = slice_step(log_density, x[at], 1.0, generator);
        let ratio = before / belief.value(t);
        own.into_iter().for_each(|j| x[j] *= ratio);
        x[at] = t;
    }

    /// Draws anew where a constant stands among the lots that were simulated (interweaving, as above): along the level's line the
    /// density is normal. Nothing moves from or to places beyond bounds, where the products are others.
    pub fn stir_level(&self, level: &Level, x: &mut Array1<f64>, generator: &mut ChaCha8Rng) {
        let n = self.space.len();
        let place = self.place(x.view());
        let mut line = Array1::zeros(x.len());
        line.slice_mut(s![..n]).assign(&level.shared);
        level.factors.iter().for_each(|&(j, change)| line[j] = change / place.lot);
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
    pub fn stir_free(&self, x: &mut Array1<f64>, seen: &mut Seen, generator: &mut ChaCha8Rng) {
        self.coordinates.stir_lots(x, generator);
        self.stir_scatter(x, seen, generator);
        self.levels.iter().for_each(|level| self.coordinates.stir_level(level, x, generator));
        self.count_anew(x, seen);
    }

    /// Every record's own coordinates: one record's, at random, by its simulations alone, so that no guide can hold it where it
    /// is; the others' with their guide.
    pub fn stir_own(&self, x: &mut Array1<f64>, seen: &mut Seen, generator: &mut ChaCha8Rng) -> Result<()> {
        let chosen = (self.axes.len() as f64 * uniform(generator)) as usize;
        for i in (0..self.axes.len()).filter(|&i| !self.own[i].is_empty()) {
            if i == chosen {
                self.slice_record(i, x, seen, generator)?;
            } else {
                self.guide_record(i, x, seen, generator)?;
            }
        }
        self.count_anew(x, seen);
        Ok(())
    }

    fn count_anew(&self, x: &Array1<f64>, seen: &mut Seen) {
        seen.spreads = self.coordinates.place(x.view()).spreads;
        seen.value = self.value(x.view(), &seen.misfits);
    }

    /// Draws anew by how much what was weighed and read scatters, given the misfits.
    fn stir_scatter(&self, x: &mut Array1<f64>, seen: &Seen, generator: &mut ChaCha8Rng) {
        let Some(belief) = self.coordinates.scatters.casting else { return };
        let at = self.coordinates.space.len();
        let each = || self.laws.iter().zip(&seen.misfits).flat_map(|(laws, misfits)| laws.iter().zip(misfits));
        let scattering: Vec<_> = each().filter(|(law, _)| law.scatters).collect();
        let cost = |t: f64| scattering.iter().map(|(law, m)| law.widened_cost(**m, belief.value(t)).0).sum::<f64>();
        x[at] = slice_step(|t| -0.5 * t * t - cost(t), x[at], 1.0, generator);
    }

    /// Draws a record's own coordinates by its simulations.
    fn slice_record(&self, i: usize, x: &mut Array1<f64>, seen: &mut Seen, generator: &mut ChaCha8Rng) -> Result<()> {
        let scatter = self.coordinates.place(x.view()).casting;
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

    /// Draws a record's own coordinates by its guide, and accepts or refuses where they come to by its simulation (surrogate
    /// transitions: Liu, Monte Carlo Strategies in Scientific Computing, Springer, 2001, section 9.4.3).
    fn guide_record(&self, i: usize, x: &mut Array1<f64>, seen: &mut Seen, generator: &mut ChaCha8Rng) -> Result<()> {
        let scatter = self.coordinates.place(x.view()).casting;
        let guided = |own: ArrayView1<f64>| {
            let spreads = self.coordinates.place(self.with_own(i, x, own).view()).spreads;
            let inputs: Vec<f64> = self.axes[i].iter().map(|&j| spreads[j]).collect();
            Ok(-self.guides[i].cost(&inputs, scatter).0)
        };
        let from = self.own_of(i, x);
        let first = guided(from.view())?;
        let (mut own, mut last) = (from, first);
        for _ in 0..STEPS {
            if let Some(next) = elliptical_step(guided, own.view(), last, generator)? {
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
