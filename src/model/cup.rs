//! The cup of a free-rise test: a cylinder or a truncated cone.

use serde::{Deserialize, Serialize};
use std::f64::consts::PI;

/// A cup, standing upright, in SI units. A cylinder has the same diameter at top and bottom.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Cup {
    /// Inner diameter at the bottom, m.
    pub bottom_diameter: f64,
    /// Inner diameter at the rim, m.
    pub top_diameter: f64,
    /// Inner height, m. Foam above the rim stands as a dome: a column of the rim's diameter.
    pub height: f64,
}

impl Cup {
    /// Volume below a height above the floor, m3: a frustum up to the rim, a column of the rim's diameter above it.
    pub fn volume_to(&self, height: f64) -> f64 {
        let inside = height.min(self.height);
        let diameter = self.bottom_diameter + (self.top_diameter - self.bottom_diameter) * inside / self.height;
        let squares = self.bottom_diameter.powi(2) + self.bottom_diameter * diameter + diameter.powi(2);
        let above = (height - self.height).max(0.0) * self.top_diameter.powi(2) / 4.0;
        PI * (inside * squares / 12.0 + above)
    }

    /// Inner area of floor and side, m2.
    pub fn inner_area(&self) -> f64 {
        let (bottom, top) = (0.5 * self.bottom_diameter, 0.5 * self.top_diameter);
        PI * bottom * bottom + PI * (bottom + top) * self.height.hypot(top - bottom)
    }
}
