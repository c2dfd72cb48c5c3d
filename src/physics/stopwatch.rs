//! What a stopwatch stands for in the model: one place for the thresholds.
//!
//! The words are those of ASTM D7487 (cup test); the numbers behind them are this model's convention, common practice
//! without a source. String gel, "strings of tacky material can be pulled", is the grade's gel conversion itself.

/// Cream time, "the beginning of the foam rise": the volume has grown by this share.
pub const CREAM_GROWTH: f64 = 0.03;
/// End of rise, "the foam rise stops": this share of the whole growth is reached.
pub const END_OF_RISE: f64 = 0.98;
/// Tack-free time, "the surface loses its stickiness": gelling conversion at the (cooler) surface.
pub const TACK_FREE_CONVERSION: f64 = 0.85;
/// Time constant with which the foam settles after its maximum, s.
pub const SETTLE_TIME: f64 = 30.0;
/// Time within which an unconfined foam begins to rise, s: bubbles do not come up all at once. As [`STOP_TIME`].
pub const START_TIME: f64 = 0.5;
/// Time within which an unconfined foam comes to a stop, s. Both round corners of the height curve, which would
/// otherwise fall on a reading now and then and leave a fit without a smooth minimum.
pub const STOP_TIME: f64 = 0.5;
