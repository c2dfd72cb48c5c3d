//! A part in layers from the wall to the middle, as it gels: its density there, and how deep the skin is.

use super::layout::State;
use super::{CavityState, Equations};
use crate::model::{DensityProfile, SKIN_RATIO};
use crate::numerics::Scalar;
use crate::physics::kinetics::{BLOW, GEL, TEMP, gelled, unblown};
use crate::physics::layers::{Layers, sum_over};
use crate::physics::properties::GAS_CONSTANT;

/// Points from the wall to the middle, closer at the wall.
const POINTS: usize = 21;

/// A skin, and what lies within it.
pub struct Skin<S> {
    /// Its depth, m.
    pub thickness: S,
    /// Density of what lies within, kg/m3.
    pub core_density: S,
}

/// The share of the mass that lies outside of a point.
fn outside(point: usize) -> f64 {
    (point as f64 / (POINTS - 1) as f64).powi(2)
}

impl<S: Scalar> Equations<S> {
    /// The part from the wall to the middle. Its volumes add up to those that the layers have together.
    pub fn profile<const N: usize>(&self, y: &State<S, N>, now: &CavityState<S, N>) -> DensityProfile<S> {
        let (layers, surface) = (&Layers::<N>::NODES, self.surface_temp(y, now));
        let half = self.cavity.volume / self.wall_area * now.fill();
        let mut all =
            DensityProfile { depth: Vec::new(), density: vec![], temp: vec![], blown: vec![], gelled: vec![] };
        let (mut depth, mut before) = (S::zero(), None);
        for point in 0..POINTS {
            let u = 1.0 - outside(point);
            let (inner, (at, by_wall)) = (layers.at_without_wall(u), layers.at(u));
            let of = |value: &dyn Fn(usize) -> S| sum_over::<N, S>(|i| value(i) * inner[i]);
            let temp = sum_over::<N, S>(|i| y.nodes[i][TEMP] * at[i]) + surface * by_wall;
            // Short of the wall, a polynomial may run below nothing.
            let turned = |place: usize| of(&|i| y.nodes[i][place]).max(S::zero());
            let (blown, gelled) = (S::one() - unblown(turned(BLOW)), gelled(turned(GEL)));
            let lost = of(&|i| y.lost[i] / layers.share[i]).max(S::zero()) / self.mass(y);
            let free = (self.gases.free_where_it_can(blown, now.pressure).0 - lost).max(S::zero());
            let volume = S::one() / self.gases.liquid_density + free * temp * GAS_CONSTANT / now.pressure;
            if let Some(before) = before.replace(volume) {
                depth += (volume + before) * (0.5 * (outside(point) - outside(point - 1)));
            }
            all.depth.push(depth);
            all.density.push(S::one() / volume);
            all.temp.push(temp);
            all.blown.push(blown);
            all.gelled.push(gelled);
        }
        all.depth.iter_mut().for_each(|at| *at = *at * half / depth);
        all
    }
}

/// How deep the skin of a part is: to where its density, between points a straight line, has come down.
pub fn skin<S: Scalar>(profile: &DensityProfile<S>, mean_density: S) -> Option<Skin<S>> {
    let (density, depth) = (&profile.density, &profile.depth);
    let (least, half) = (*density.last()? * SKIN_RATIO, *depth.last()?);
    let point = density.iter().position(|density| density.value() < least.value())?;
    let Some(before) = point.checked_sub(1) else {
        return Some(Skin { thickness: S::zero(), core_density: mean_density });
    };
    let share = (density[before] - least) / (density[before] - density[point]);
    let thickness = depth[before] + share * (depth[point] - depth[before]);
    let mass = share * (outside(point) - outside(before)) + outside(before);
    let core_density = mean_density * (S::one() - mass) * half / (half - thickness);
    Some(Skin { thickness, core_density })
}
