//! The cup of a free-rise test: a cylinder or a truncated cone.

use serde::{Deserialize, Serialize};

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
