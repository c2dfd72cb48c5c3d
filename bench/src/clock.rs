//! How long something takes.

use std::hint::black_box;
use std::time::Instant;

/// Least time of a measurement in turns, s: shorter work is repeated, or it would be timed with what other work left in
/// the caches.
const LEAST: f64 = 2e-3;

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

/// Time that a work takes, s, the shortest of `rounds` measurements of each of two works in turns.
pub fn in_turns(rounds: usize, mut one: impl FnMut(), mut other: impl FnMut()) -> (f64, f64) {
    let (mut a, mut b) = (f64::INFINITY, f64::INFINITY);
    for _ in 0..rounds {
        a = a.min(mean(&mut one));
        b = b.min(mean(&mut other));
    }
    (a, b)
}

/// The mean time of a work over at least `LEAST`, s.
fn mean(work: &mut impl FnMut()) -> f64 {
    let (start, mut runs) = (Instant::now(), 0);
    loop {
        work();
        runs += 1;
        let elapsed = start.elapsed().as_secs_f64();
        if elapsed >= LEAST {
            return elapsed / f64::from(runs);
        }
    }
}

/// The value below which this share of sorted values lies.
pub fn percentile(sorted: &[f64], share: f64) -> f64 {
    sorted[((sorted.len() - 1) as f64 * share).round() as usize]
}
