//! What heat passes by on its way from layer to layer and to the wall.

use crate::model::{Cavity, FoamConstants};
use crate::numerics::Scalar;
use crate::physics::conductivity::Conductivity;

/// What heat passes by, of the cavity and the grade.
#[derive(Clone, Copy, Debug)]
pub struct HeatPath<S> {
    /// How foam conducts.
    pub conductivity: Conductivity<S>,
    /// Square of the wall's area over heat capacity, m4 kg K/J.
    pub between: S,
    /// Contact times area over heat capacity, kg/s.
    pub contact: S,
}

impl<S: Scalar> HeatPath<S> {
    /// Of a grade in a mold, whose factor stands for all of it.
    pub fn new(cavity: &Cavity<S>, foam: &FoamConstants<S>) -> Self {
        let per = cavity.conduction_factor * cavity.wall_area / foam.heat_capacity;
        HeatPath {
            conductivity: Conductivity::new(foam.conductivity, foam.liquid_density),
            between: per * cavity.wall_area,
            contact: per * cavity.contact_transfer,
        }
    }
}
