//! Readings as fits believe in them: so many standard deviations from the truth, each as large as it is there.

/// What is read of `truth` that scatters by `floor` and by a `share` of it, `deviations` away.
pub fn scattered(truth: f64, floor: f64, share: f64, deviations: f64) -> f64 {
    if share == 0.0 {
        return truth + floor * deviations;
    }
    let ratio = share / floor;
    ((ratio * truth).asinh() + share * deviations).sinh() / ratio
}
