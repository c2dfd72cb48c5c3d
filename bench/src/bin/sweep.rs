//! A map of charge x vent x mold temperature on all cores: castings per second, and whether memory stays flat.
//!
//! `sweep [CASTINGS] [RELATIVE]` prints a row of JSON. Until the crate's own sweep is here, plain threads share the map out.

use risefit_bench::plain::Shot;
use std::time::Instant;

/// The highest resident memory so far, kB (Linux; 0 where the system does not tell).
fn peak_memory() -> u64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find(|line| line.starts_with("VmHWM:"));
    line.and_then(|line| line.split_whitespace().nth(1)?.parse().ok()).unwrap_or(0)
}

/// Casting number `index` of a map with `edge` values of each.
fn at(index: usize, edge: usize) -> Shot {
    let share = |i: usize| (i % edge) as f64 / (edge.max(2) - 1) as f64;
    let mut shot = Shot::plain();
    shot.casting.charge = 56e-3 + 12e-3 * share(index);
    shot.casting.vent_diameters = vec![1.5e-3 + 4e-3 * share(index / edge)];
    shot.casting.mold_temp = 293.15 + 30.0 * share(index / edge / edge);
    shot
}

/// Runs every `of`th casting of a range; the sum of the peaks and how many came to a result.
fn run(range: std::ops::Range<usize>, first: usize, of: usize, edge: usize, relative: f64) -> (f64, usize) {
    let results = range.skip(first).step_by(of).filter_map(|i| at(i, edge).run(relative).ok());
    results.fold((0.0, 0), |(sum, n), result| (sum + result.peak_pressure, n + 1))
}

fn on_all_cores(range: std::ops::Range<usize>, edge: usize, relative: f64) -> usize {
    let cores = std::thread::available_parallelism().map_or(1, |n| n.get());
    std::thread::scope(|scope| {
        let start = |first| {
            scope.spawn({
                let range = range.clone();
                move || run(range, first, cores, edge, relative)
            })
        };
        let threads: Vec<_> = (0..cores).map(start).collect();
        threads.into_iter().map(|t| t.join().map_or(0, |(_, n)| n)).sum()
    })
}

fn main() {
    let mut words = std::env::args().skip(1);
    let castings: usize = words.next().and_then(|w| w.parse().ok()).unwrap_or(1_000_000);
    let relative: f64 = words.next().and_then(|w| w.parse().ok()).unwrap_or(1e-4);
    let edge = (castings as f64).cbrt().ceil() as usize;
    let begin = Instant::now();
    let early = on_all_cores(0..castings / 10, edge, relative);
    let early_memory = peak_memory();
    let late = on_all_cores(castings / 10..castings, edge, relative);
    let seconds = begin.elapsed().as_secs_f64();
    let row = serde_json::json!({
        "castings": castings, "done": early + late, "seconds": seconds, "per_s": castings as f64 / seconds,
        "memory_at_tenth_kB": early_memory, "memory_at_end_kB": peak_memory(),
        "cores": std::thread::available_parallelism().map_or(1, |n| n.get()),
    });
    println!("{row}");
}
