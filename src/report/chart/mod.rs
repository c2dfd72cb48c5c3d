//! Charts as SVG text: a rise log with its fit, several logs, a casting over time, predicted against weighed,
//! a map of a sweep, what was believed and what is known.
//!
//! Every chart is a function of its data and a [`Sheet`] and returns a complete SVG document.

mod axis;
mod canvas;
mod casting;
mod curves;
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
pub use curves::ModelCurve;
pub use doubt::{BelievedKnown, ProfileCurve, belief_chart, profile_curve_chart};
pub use map::{MapSlice, sweep_chart};
pub use rise::rise_log_chart;
pub use rises::rise_curve_chart;
pub use weighed::{Compared, PredictedWeighed, weighed_chart};
