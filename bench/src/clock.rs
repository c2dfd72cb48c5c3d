//! How long something takes.

use std::hint::black_box;
use std::time::Instant;

/// The shortest of `rounds` runs, s: the one that the machine's other work disturbed least.
pub fn shortest<T>(rounds: usize, mut work: impl FnMut() -> T) -> f64 {
    let mut best = f64::INFINITY;
    for _ in 0..rounds {
        let start = Instant::now();
        black_box(work());
        best = best.min(start.elapsed().as_secs_f64());
    }
    best
}

/// The value below which this share of sorted values lies.
pub fn percentile(sorted: &[f64], share: f64) -> f64 {
    sorted[((sorted.len() - 1) as f64 * share).round() as usize]
}
