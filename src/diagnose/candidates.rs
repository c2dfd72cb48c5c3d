//! The hypotheses of each cause that are compared for a casting, each with its prior weight. Sizes: common practice, no
//! source.

use super::hypothesis::{Hypothesis, widest_vent};
use crate::model::{Casting, Cause, Cavity};

/// Charge poured against charge written: standard deviation, as a share.
const CHARGE_SD: f64 = 0.06;
/// Standard deviations of temperatures that nobody looked at, K.
const MOLD_TEMP_SD: f64 = 8.0;
const MIX_TEMP_SD: f64 = 4.0;
/// Standard deviation of the logarithm of the gas yield of another lot or ratio.
const LOT_GAS_SD: f64 = 0.07;
/// Mean delay of a late closing, and the longest one compared, s.
const MEAN_DELAY: f64 = 40.0;
const LONGEST_DELAY: f64 = 75.0;
/// Standard deviation of the logarithm of a wrong vent's diameter; steps between drills, m, and how many there are.
const VENT_SD: f64 = 0.5;
const DRILL_STEP: f64 = 0.5e-3;
const DRILLS: usize = 30;
/// A drill within this share of the written vent is that vent.
const SAME_DRILL: f64 = 0.04;
/// Smallest share of the written clamp force that still holds.
const LEAST_CLAMP: f64 = 0.02;
/// Diameters of a hole like the leak, m; how often it is open from the start, and else the smallest gauge pressure, Pa.
const LEAK_DIAMETERS: (f64, f64) = (0.5e-3, 10e-3);
const LEAK_OPEN_FROM_START: f64 = 0.4;
const LEAK_OPENS_FROM: f64 = 2e3;
/// After gel no foam passes an opening, but gas does: time constants in which the foam loses it, s. Infinite: it keeps
/// it.
const GAS_LOSS_TIMES: [f64; 3] = [f64::INFINITY, 40.0, 12.0];

/// A hypothesis, and the logarithm of its probability among those of its cause.
pub(super) type Weighted = (Hypothesis, f64);

/// A casting as written down, and what is known of it.
#[derive(Clone, Copy, Debug)]
pub(super) struct Written<'a> {
    pub casting: &'a Casting,
    pub cavity: &'a Cavity,
    /// How many readings were taken of it.
    pub readings: usize,
    /// Peak gauge pressure of an ordinary casting of these settings, Pa.
    pub reached: f64,
}

/// The hypotheses of a cause; none where the cause cannot be.
pub(super) fn hypotheses(cause: Cause, written: Written) -> Vec<Weighted> {
    let Written { casting, cavity, readings, reached } = written;
    let poured = casting.charge - casting.left_in_cup;
    normalized(match cause {
        Cause::Scatter => vec![(Hypothesis::Ordinary, 0.0)],
        Cause::Charge => normal(41, CHARGE_SD * poured, Hypothesis::Charge),
        Cause::MoldTemp => normal(31, MOLD_TEMP_SD, Hypothesis::MoldTemp),
        Cause::MixTemp => normal(31, MIX_TEMP_SD, Hypothesis::MixTemp),
        Cause::Lot => normal(27, LOT_GAS_SD, |by| Hypothesis::Lot(by.exp())),
        Cause::LateClosing => delays(casting),
        Cause::Vent => drills(casting, cavity),
        Cause::Clamp => clamps(casting, cavity, reached),
        Cause::Leak => leaks(reached),
        Cause::Misread => (0..readings).map(|i| (Hypothesis::Misread(i), 0.0)).collect(),
        Cause::Unknown => Vec::new(),
    })
}

/// Evenly spaced over three standard deviations either way.
fn normal(count: usize, sd: f64, of: impl Fn(f64) -> Hypothesis) -> Vec<Weighted> {
    let at = |i: usize| 6.0 * i as f64 / (count - 1) as f64 - 3.0;
    (0..count).map(|i| (of(sd * at(i)), -0.5 * at(i).powi(2))).collect()
}

/// `count` values in equal steps of the logarithm.
fn geometric(count: usize, (from, to): (f64, f64)) -> impl Iterator<Item = f64> {
    (0..count).map(move |i| from * (to / from).powf(i as f64 / (count - 1) as f64))
}

/// A mold is closed before it is opened again.
fn delays(casting: &Casting) -> Vec<Weighted> {
    let open = casting.demold_time - casting.closing_time;
    let delays = (1..=25).map(|i| LONGEST_DELAY * f64::from(i) / 25.0).filter(|by| *by < open);
    delays.map(|by| (Hypothesis::LateClosing(by), -by / MEAN_DELAY)).collect()
}

/// Drills of the widest vent; the others are wrong by as much. None where all were plugged.
fn drills(casting: &Casting, cavity: &Cavity) -> Vec<Weighted> {
    let Some(written) = widest_vent(casting, cavity) else { return Vec::new() };
    let ratios = (1..=DRILLS).map(|i| DRILL_STEP * i as f64 / written);
    let others = ratios.filter(|ratio| (ratio - 1.0).abs() > SAME_DRILL);
    others.map(|ratio| (Hypothesis::Vent(ratio), -0.5 * (ratio.ln() / VENT_SD).powi(2))).collect()
}

/// A clamp that holds more than the casting pushes is no cause.
fn clamps(casting: &Casting, cavity: &Cavity, reached: f64) -> Vec<Weighted> {
    let opens = cavity.parting_line.is_some_and(|line| line.opening > 0.0);
    let Some(force) = casting.clamp_force.or(cavity.clamp_force).filter(|force| opens && *force > 0.0) else {
        return Vec::new();
    };
    let most = (reached * cavity.projected_area / force).min(0.95);
    if most.is_nan() || most <= 0.0 {
        return Vec::new();
    }
    let least = LEAST_CLAMP.min(0.5 * most);
    let shares = geometric(16, (least, most));
    let with_loss = |share| GAS_LOSS_TIMES.map(|gas_loss_time| (Hypothesis::Clamp { share, gas_loss_time }, 0.0));
    shares.flat_map(with_loss).collect()
}

fn leaks(reached: f64) -> Vec<Weighted> {
    const FROM: usize = 4;
    let later = ((1.0 - LEAK_OPEN_FROM_START) / FROM as f64).ln();
    let from = geometric(FROM, (LEAK_OPENS_FROM.min(0.5 * reached), 0.95 * reached)).map(|gauge| (gauge, later));
    let gauges: Vec<(f64, f64)> = [(0.0, LEAK_OPEN_FROM_START.ln())].into_iter().chain(from).collect();
    let mut all = Vec::new();
    for diameter in geometric(10, LEAK_DIAMETERS) {
        for &(gauge, weight) in &gauges {
            let leak = |gas_loss_time| (Hypothesis::Leak { diameter, gauge, gas_loss_time }, weight);
            all.extend(GAS_LOSS_TIMES.map(leak));
        }
    }
    all
}

fn normalized(mut all: Vec<Weighted>) -> Vec<Weighted> {
    let total = log_sum(all.iter().map(|(_, weight)| *weight));
    all.iter_mut().for_each(|(_, weight)| *weight -= total);
    all
}

/// Logarithm of the sum of exponentials; minus infinity of none.
pub(super) fn log_sum(logs: impl Iterator<Item = f64> + Clone) -> f64 {
    let largest = logs.clone().fold(f64::NEG_INFINITY, f64::max);
    if largest == f64::NEG_INFINITY {
        return largest;
    }
    largest + logs.map(|x| (x - largest).exp()).sum::<f64>().ln()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::records::{Mold, read_trials};

    fn demo() -> (Casting, Cavity) {
        let trials = read_trials("data/trials/armrest.csv").expect("trials");
        (trials[2].casting.clone(), Mold::load("data/molds/armrest.toml").expect("a mold").cavity)
    }

    fn written<'a>(casting: &'a Casting, cavity: &'a Cavity, reached: f64) -> Written<'a> {
        Written { casting, cavity, readings: 3, reached }
    }

    /// A casting that the simulation refuses would end the whole diagnosis.
    #[test]
    fn a_mold_is_not_closed_after_it_was_opened() {
        let (casting, cavity) = demo();
        let short = Casting { demold_time: casting.closing_time + 60.0, ..casting };
        let delays = hypotheses(Cause::LateClosing, written(&short, &cavity, 50e3));
        assert_eq!(delays.len(), 19);
        assert!(delays.iter().all(|(s, _)| matches!(s, Hypothesis::LateClosing(by) if *by < 60.0)), "{delays:?}");
        assert!(log_sum(delays.iter().map(|(_, weight)| *weight)).abs() < 1e-12);
    }

    #[test]
    fn a_clamp_that_nothing_pushes_did_not_give_way() {
        let (casting, cavity) = demo();
        assert_eq!(hypotheses(Cause::Clamp, written(&casting, &cavity, 50e3)).len(), 48);
        for reached in [0.0, -5.0] {
            assert_eq!(hypotheses(Cause::Clamp, written(&casting, &cavity, reached)), Vec::new());
        }
    }

    #[test]
    fn vents_are_drills_of_the_widest() {
        let (casting, mut cavity) = demo();
        cavity.vents.push(cavity.vents[0]);
        let two = Casting { vent_diameters: vec![2e-3, 4e-3], ..casting };
        let drills = hypotheses(Cause::Vent, written(&two, &cavity, 50e3));
        let steps = drills.iter().map(|(s, _)| match s {
            Hypothesis::Vent(ratio) => ratio * 4e-3 / DRILL_STEP,
            _ => f64::NAN,
        });
        assert!(steps.clone().all(|n| (n - n.round()).abs() < 1e-9 && n < 30.5), "{:?}", steps.collect::<Vec<_>>());
        let plugged = Casting { vent_diameters: vec![0.0, 0.0], ..two };
        assert_eq!(hypotheses(Cause::Vent, written(&plugged, &cavity, 50e3)), Vec::new());
    }
}
