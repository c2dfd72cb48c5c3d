//! The stiff corner: how long one casting takes where it is known to be stiff, and over many random sets of settings,
//! against the plain casting in the same run: the mean of nine around it, as one alone may be a step quicker by luck.
//!
//! `corners [SETS] [SEED] [RELATIVE] [--only NUMBER] [--json FILE]`: 10000 sets of seed 1 at a relative tolerance of
//! 1e-4. A set that fails is named by its number and ends the run with an error; `--only` runs that one alone and
//! prints it.

use std::process::ExitCode;

use risefit::Error;
use risefit::model::CastingResult;
use risefit_bench::clock::{percentile, shortest};
use risefit_bench::corner::{draw, named};
use risefit_bench::plain::Shot;

const ROUNDS: usize = 5;
/// The plain casting is timed again every so many sets, so that both see the machine in the same mood.
const PLAIN_EVERY: u64 = 20;
const SHARES: [f64; 6] = [0.01, 0.25, 0.5, 0.9, 0.99, 0.999];

struct Settings {
    sets: usize,
    seed: u64,
    relative: f64,
    only: Option<u64>,
    json: Option<String>,
}

#[derive(Default)]
struct Tally {
    /// Where a casting is known to be stiff, and how many times the plain one it takes.
    named: Vec<(String, f64)>,
    /// Time and number of each set.
    times: Vec<(f64, u64)>,
    plain: Vec<f64>,
    refused: usize,
    failures: Vec<(String, String)>,
    named_failures: Vec<(String, String)>,
}

fn settings() -> Result<Settings, String> {
    let mut found = Settings { sets: 10_000, seed: 1, relative: 1e-4, only: None, json: None };
    let mut plain = 0;
    let mut words = std::env::args().skip(1);
    while let Some(word) = words.next() {
        let mut next = || words.next().ok_or(format!("{word}: a value is missing behind it"));
        let bad = |e: &dyn std::fmt::Display, text: &str| format!("`{text}`: {e}");
        match (word.as_str(), plain) {
            ("--only", _) => found.only = Some(next().and_then(|t| t.parse().map_err(|e| bad(&e, &t)))?),
            ("--json", _) => found.json = Some(next()?),
            (text, 0) => found.sets = text.parse().map_err(|e| bad(&e, text))?,
            (text, 1) => found.seed = text.parse().map_err(|e| bad(&e, text))?,
            (text, 2) => found.relative = text.parse().map_err(|e| bad(&e, text))?,
            (text, _) => return Err(format!("`{text}` is one too many")),
        }
        plain += usize::from(!word.starts_with("--"));
    }
    Ok(found)
}

fn main() -> ExitCode {
    let settings = match settings() {
        Ok(settings) => settings,
        Err(message) => {
            eprintln!("{message}; expected: corners [SETS] [SEED] [RELATIVE] [--only NUMBER] [--json FILE]");
            return ExitCode::FAILURE;
        }
    };
    if let Some(index) = settings.only {
        return show(&settings, index);
    }
    let tally = measure(&settings);
    print(&settings, &tally);
    if let Some(file) = &settings.json {
        std::fs::write(file, json(&settings, &tally).to_string()).expect("the file can be written");
    }
    if tally.all_failures().next().is_none() { ExitCode::SUCCESS } else { ExitCode::FAILURE }
}

fn show(settings: &Settings, index: u64) -> ExitCode {
    let Some(shot) = draw(settings.seed, index) else {
        println!("number {index} is no casting: its foam never gels");
        return ExitCode::SUCCESS;
    };
    let outcome = shot.run(settings.relative);
    let time = shortest(20, || shot.run(settings.relative));
    println!("{shot:#?}\n{outcome:#?}\n{:.1} us", 1e6 * time);
    if outcome.is_ok() { ExitCode::SUCCESS } else { ExitCode::FAILURE }
}

impl Tally {
    fn all_failures(&self) -> impl Iterator<Item = &(String, String)> {
        self.failures.iter().chain(&self.named_failures)
    }
}

fn is_finite(result: &CastingResult) -> bool {
    [result.peak_pressure, result.density, result.fill_fraction].iter().all(|x| x.is_finite())
}

/// How long a casting takes, s.
fn time(shot: &Shot, relative: f64) -> f64 {
    shortest(ROUNDS, || shot.run(relative))
}

fn measure(settings: &Settings) -> Tally {
    let mut tally = Tally::default();
    let nine = Shot::nine();
    let plain = || nine.iter().map(|shot| time(shot, settings.relative)).sum::<f64>() / nine.len() as f64;
    for (name, shot) in named().expect("the plain grade rises") {
        match shot.run(settings.relative) {
            Ok(result) if is_finite(&result) => tally.named.push((name, time(&shot, settings.relative) / plain())),
            failed => tally.named_failures.push((name, format!("{failed:?}"))),
        }
    }
    for index in 0.. {
        if tally.times.len() + tally.failures.len() >= settings.sets {
            break;
        }
        if index % PLAIN_EVERY == 0 {
            tally.plain.push(plain());
        }
        let Some(shot) = draw(settings.seed, index) else { continue };
        match shot.run(settings.relative) {
            Ok(result) if is_finite(&result) => tally.times.push((time(&shot, settings.relative), index)),
            Ok(result) => tally.failures.push((format!("number {index}"), format!("not finite: {result:?}"))),
            // Full before it is closed, or gelled: no casting.
            Err(Error::Casting { .. }) => tally.refused += 1,
            Err(error) => tally.failures.push((format!("number {index}"), error.to_string())),
        }
    }
    tally.times.sort_by(|a, b| a.0.total_cmp(&b.0));
    tally.plain.sort_by(f64::total_cmp);
    tally
}

fn print(settings: &Settings, tally: &Tally) {
    let plain = percentile(&tally.plain, 0.5);
    let times: Vec<f64> = tally.times.iter().map(|(t, _)| *t).collect();
    println!(
        "{} castings, seed {}, relative {:e}: {} failed; {} more were full or set before closing",
        tally.times.len() + tally.failures.len(),
        settings.seed,
        settings.relative,
        tally.failures.len(),
        tally.refused
    );
    println!("plain casting {:.1} us", 1e6 * plain);
    let line = |name: &str, t: f64| println!("{name:>10} {:8.1} us {:6.2} x plain", 1e6 * t, t / plain);
    SHARES.iter().for_each(|share| line(&format!("{} %", 100.0 * share), percentile(&times, *share)));
    println!("slowest:");
    tally.times.iter().rev().take(10).for_each(|(t, index)| line(&format!("number {index}"), *t));
    println!("where it is known to be stiff:");
    tally.named.iter().for_each(|(name, times)| println!("{times:10.2} x plain, {name}"));
    tally.all_failures().for_each(|(which, why)| println!("FAILED {which}: {why}"));
}

fn json(settings: &Settings, tally: &Tally) -> serde_json::Value {
    let plain = percentile(&tally.plain, 0.5);
    let times: Vec<f64> = tally.times.iter().map(|(t, _)| *t).collect();
    serde_json::json!({
        "sets": times.len() + tally.failures.len(),
        "seed": settings.seed,
        "relative": settings.relative,
        "failures": tally.all_failures().count(),
        "plain_s": plain,
        "median_s": percentile(&times, 0.5),
        "p99_s": percentile(&times, 0.99),
        "max_s": percentile(&times, 1.0),
        "above_five": times.iter().filter(|time| **time > 5.0 * plain).count(),
        "named": tally.named.iter().map(|(name, times)| (name.clone(), *times)).collect::<Vec<_>>(),
    })
}
