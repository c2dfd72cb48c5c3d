//! Charts as SVG text: a rise log with its fit, several logs, a casting over time, predicted against weighed,
//! how castings fit each other, a map of a sweep, chances over charge and vent, prior and posterior.
//!
//! Every chart is a function of its data and a [`Sheet`] and returns a complete SVG document.

mod axis;
mod canvas;
mod casting;
mod chances;
mod curves;
mod deviations;
mod doubt;
mod labels;
mod map;
mod palette;
mod panel;
mod rise;
mod rises;
mod weighed;

pub use canvas::Sheet;
pub use casting::casting_chart;
pub(super) use casting::{Beside, doubted_chart};
pub use chances::chance_chart;
pub use curves::ModelCurve;
pub use deviations::{Deviating, deviation_chart};
pub use doubt::{BelievedKnown, ProfileCurve, belief_chart, profile_curve_chart};
pub use map::{MapSlice, sweep_chart};
pub use rise::rise_log_chart;
pub use rises::rise_curve_chart;
pub use weighed::{Compared, PredictedWeighed, weighed_chart};
