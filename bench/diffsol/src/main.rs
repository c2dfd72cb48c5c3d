//! Castings by risefit and by diffsol's BDF side by side, as rows of JSON: time of both at equal, measured accuracy.

mod bdf;
mod equations;

use bdf::{Tuning, cast};
use risefit::{Accuracy, simulate};
use risefit_bench::clock::{in_turns, shortest};
use risefit_bench::plain::{Shot, outcome, worst_error};
use risefit_bench::slopes;
use serde_json::{Value, json};

type Failure = Box<dyn std::error::Error>;

/// What both must reach.
const GOAL: f64 = 1e-4;
/// Against this both are measured.
const EXACT: f64 = 1e-12;
/// Independent solutions of the same equations agree to this, or the comparison is void.
const AGREEMENT: f64 = 1e-6;
const ROUNDS: usize = 40;
/// Decades cut in four, finer where it decides.
const TOLERANCES: [f64; 22] = [
    1e-3, 5e-4, 3e-4, 2e-4, 1e-4, 7e-5, 5e-5, 3e-5, 2e-5, 1e-5, 5e-6, 3e-6, 2e-6, 1e-6, 5e-7, 3e-7, 2e-7, 1e-7, 5e-8,
    3e-8, 2e-8, 1e-8,
];

/// The quickest of several settings that is accurate enough, or else the most accurate one, and its error.
fn tuned<T: Copy>(settings: &[T], error: impl Fn(T) -> Option<f64>, pass: impl Fn(T)) -> Result<(T, f64), Failure> {
    let errors: Vec<f64> = settings.iter().map(|&setting| error(setting).unwrap_or(f64::INFINITY)).collect();
    let good = settings.iter().zip(&errors).filter(|(_, error)| **error <= GOAL);
    let timed = good.map(|(&setting, &error)| (setting, error, shortest(5, || pass(setting))));
    if let Some(best) = timed.min_by(|a, b| a.2.total_cmp(&b.2)) {
        return Ok((best.0, best.1));
    }
    let nearest = settings.iter().zip(&errors).min_by(|a, b| a.1.total_cmp(b.1)).filter(|(_, e)| e.is_finite());
    let (&setting, &error) = nearest.ok_or("every tolerance failed")?;
    eprintln!("no tolerance reaches {GOAL:e}; the nearest comes to {error:e}");
    Ok((setting, error))
}

/// The largest error over several castings; `None` where one fails.
fn worst(shots: &[Shot], exact: &[[f64; 4]], run: impl Fn(&Shot) -> Option<[f64; 4]>) -> Option<f64> {
    let errors = shots.iter().zip(exact).map(|(shot, exact)| run(shot).map(|found| worst_error(&found, exact)));
    errors.reduce(|a, b| Some(if b? > a? || b?.is_nan() { b? } else { a? }))?
}

/// Takes a result so that the work behind it is not left out.
fn keep<T>(result: T) {
    std::hint::black_box(&result);
}

fn row(name: &str, (ours_s, peer_s): (f64, f64), errors: (f64, f64), settings: (String, String)) -> Value {
    json!({
        "name": name, "ours_s": ours_s, "peer": "diffsol 0.18 BDF, Rust equations", "peer_s": peer_s,
        "ratio": peer_s / ours_s, "ours_error": errors.0, "peer_error": errors.1,
        "ours_setting": settings.0, "peer_setting": settings.1,
    })
}

fn tunings() -> Vec<Tuning> {
    let firsts = [1e-1, 1e-2, 1e-3];
    let absolutes = [1.0, 0.1, 0.01];
    let all = TOLERANCES.iter().flat_map(|&relative| {
        firsts.iter().flat_map(move |&first_step| absolutes.map(|absolute| Tuning { relative, absolute, first_step }))
    });
    all.collect()
}

fn castings(shots: &[Shot]) -> Result<(Value, Value), Failure> {
    let exact: Vec<_> = shots.iter().map(|s| s.run(EXACT).map(|r| outcome(&r))).collect::<Result<_, _>>()?;
    let tight = Tuning { relative: 1e-10, absolute: 0.01, first_step: 1e-3 };
    let apart = worst(shots, &exact, |s| cast(s, tight, &[]).ok().map(|o| o.0)).ok_or("diffsol fails")?;
    if apart > AGREEMENT {
        return Err(format!("risefit and diffsol disagree by {apart:e}").into());
    }
    let run = |shot: &Shot, relative: f64| shot.run(relative).ok().map(|r| outcome(&r));
    let all = |relative: f64| shots.iter().for_each(|s| keep(run(s, relative)));
    let (ours, ours_error) = tuned(&TOLERANCES, |r| worst(shots, &exact, |s| run(s, r)), all)?;
    let theirs = |t: Tuning, times: &[f64]| shots.iter().for_each(|s| keep(cast(s, t, times)));
    let error_of = |t: Tuning| worst(shots, &exact, |s| cast(s, t, &[]).ok().map(|o| o.0));
    let (peer, peer_error) = tuned(&tunings(), error_of, |t| theirs(t, &[]))?;
    let per = |(a, b): (f64, f64)| (a / shots.len() as f64, b / shots.len() as f64);
    let settings = || (format!("{ours:e}"), format!("{peer:?}"));
    let errors = (ours_error, peer_error);
    let plain = per(in_turns(ROUNDS, || all(ours), || theirs(peer, &[])));
    let times: Vec<f64> = (0..300).map(|i| 300.0 * f64::from(i) / 299.0).collect();
    let accuracy = Accuracy { relative: ours };
    let traced = || {
        shots.iter().for_each(|s| keep(simulate(&s.foam, &s.cavity, &s.casting, 300, accuracy)));
    };
    let trace = per(in_turns(ROUNDS, traced, || theirs(peer, &times)));
    Ok((
        row("one casting, 300 s, all events", plain, errors, settings()),
        row("the same with a trace of 300 points", trace, errors, settings()),
    ))
}

fn derivatives(shot: &Shot) -> Result<Value, Failure> {
    let exact = slopes::exact(shot, EXACT)?;
    let error = |found: Option<slopes::Slopes>| found.map(|f| slopes::worst_error(&f, &exact));
    let ours = |relative: f64| slopes::exact(shot, relative).ok();
    let peer = |(t, step): (Tuning, f64)| slopes::differences(shot, step, |s| cast(s, t, &[]).map(|o| o.0)).ok();
    let tight = [1e-8, 1e-9, 1e-10, 1e-11].map(|relative| Tuning { relative, absolute: 0.01, first_step: 1e-2 });
    let pairs: Vec<_> = tight.iter().flat_map(|t| [1e-2, 3e-3, 1e-3, 3e-4].map(|step| (*t, step))).collect();
    let close = [TOLERANCES.as_slice(), &[1e-9, 1e-10]].concat();
    let (setting, ours_error) = tuned(&close, |r| error(ours(r)), |r| keep(ours(r)))?;
    let (pair, peer_error) = tuned(&pairs, |p| error(peer(p)), |p| keep(peer(p)))?;
    let times = in_turns(ROUNDS, || keep(ours(setting)), || keep(peer(pair)));
    let mut row = row(
        "one casting with derivatives by 10 parameters",
        times,
        (ours_error, peer_error),
        (format!("{setting:e}"), format!("{pair:?}")),
    );
    row["peer"] = json!("diffsol 0.18 BDF, central differences");
    Ok(row)
}

fn main() -> Result<(), Failure> {
    let (plain, trace) = castings(&Shot::nine())?;
    println!("{}", json!([plain, trace, derivatives(&Shot::plain())?]));
    Ok(())
}
