//! A casting on its way: its equations, where it is, and what has come of it so far.

use super::recorder::Recorder;
use super::stepping_mode::SteppingMode;
use super::twin::Twin;
use crate::model::{CastingResult, DensityProfile, Phase};
use crate::physics::casting::equations::layout::State;

/// A casting on its way.
pub struct Course<'a, S, const N: usize> {
    pub twin: Twin<S>,
    pub time: S,
    pub state: State<S, N>,
    /// The next step that is tried, s.
    pub step: f64,
    /// How what moves is integrated, if that has been looked at in the present regime.
    pub mode: Option<SteppingMode>,
    /// Whether the headspace turned out to stay behind the rise in the present regime.
    pub trails: bool,
    /// Relative error per step, and absolute ones.
    pub relative: f64,
    pub absolute: State<f64, N>,
    pub recorder: Recorder<'a, S, N>,
    /// Time from demold to weighing, s.
    pub weighed_after: S,
    pub phases: Vec<(Phase, f64)>,
    pub result: CastingResult<S>,
    /// Of foam in layers: the part as it gelled.
    pub profile: Option<DensityProfile<S>>,
}
