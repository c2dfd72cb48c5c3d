//! A map of charge x vent x mold temperature on all cores: castings per second, and whether memory stays flat.
//!
//! `sweep [CASTINGS] [RELATIVE]` prints a row of JSON.

use risefit::Accuracy;
use risefit::Result;
use risefit::model::Setting;
use risefit::sweep::{Axis, Case, Control, Runner, Sweep};
use risefit_bench::plain::Shot;
use std::time::Instant;

/// Points in a block: all that is held at a time.
const BLOCK: usize = 10_000;

/// The highest resident memory so far, kB (Linux; 0 where the system does not tell).
fn peak_memory() -> u64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find(|line| line.starts_with("VmHWM:"));
    line.and_then(|line| line.split_whitespace().nth(1)?.parse().ok()).unwrap_or(0)
}

/// A map of this many values along each axis: charge, vent, mold temperature.
fn map(edge: usize, relative: f64) -> Result<Sweep> {
    let plain = Shot::plain();
    let axes = vec![
        Axis::even(Setting::Charge, 56e-3, 68e-3, edge),
        Axis::even(Setting::Vent, 1.5e-3, 5.5e-3, edge),
        Axis::even(Setting::MoldTemp, 293.15, 323.15, edge),
    ];
    Sweep::new(vec![Case::new(plain.foam, plain.cavity)], plain.casting, axes, Accuracy { relative })
}

fn main() -> Result<()> {
    let mut words = std::env::args().skip(1);
    let castings: f64 = words.next().and_then(|w| w.parse().ok()).unwrap_or(1e6);
    let relative: f64 = words.next().and_then(|w| w.parse().ok()).unwrap_or(1e-4);
    let sweep = map(castings.cbrt().round() as usize, relative)?;
    let runner = Runner::new(None, Control::default())?;
    let (mut done, mut memory) = (0, 0);
    let begin = Instant::now();
    for block in runner.blocks(&sweep, BLOCK)? {
        done += block.rows.len();
        if memory == 0 && 10 * done >= sweep.points() {
            memory = peak_memory();
        }
    }
    let seconds = begin.elapsed().as_secs_f64();
    let row = serde_json::json!({
        "castings": sweep.points(), "done": done, "seconds": seconds, "per_s": sweep.points() as f64 / seconds,
        "memory_at_tenth_kB": memory, "memory_at_end_kB": peak_memory(),
        "cores": std::thread::available_parallelism().map_or(1, |n| n.get()),
    });
    println!("{row}");
    Ok(())
}
