//! How accurately a cup or a casting is integrated.

use serde::{Deserialize, Serialize};

/// How accurately to integrate.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Accuracy {
    /// Relative error per step.
    pub relative: f64,
}

impl Default for Accuracy {
    fn default() -> Self {
        Accuracy { relative: 1e-6 }
    }
}
