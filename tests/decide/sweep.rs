//! Sweeps: the same bits on any number of threads and in any blocks, the same numbers as single castings, nothing lost.

use std::sync::atomic::{AtomicUsize, Ordering};
use std::thread;
use std::time::{Duration, Instant};

use risefit::model::{Cavity, Leak, LeakStart};
use risefit::physics::adiabatic_rise::free_rise_density;
use risefit::report::{MapSlice, Sheet, sweep_chart};
use risefit::sweep::{Axis, Block, Case, Control, Judgment, Runner, Slips, Sweep};
use risefit::{Accuracy, sampled};
use risefit::{Casting, FoamConstants, Mold, Result};
use risefit::{Outcome, Setting, Verdict};

fn cavity() -> Cavity {
    Mold::load("data/molds/armrest.toml").unwrap().cavity
}

fn base() -> Casting {
    Casting {
        charge: 62e-3,
        left_in_cup: 1.6e-3,
        mix_temp: 296.15,
        mold_temp: 303.15,
        ambient_pressure: 101_325.0,
        closing_time: 12.0,
        clamp_force: None,
        vent_diameters: vec![],
        leak: None,
        demold_time: 300.0,
        opening_limit: 5e3,
        weighed_after: 0.0,
    }
}

fn armrest() -> Vec<Case> {
    vec![Case::new(FoamConstants::default(), cavity())]
}

fn swept(cases: Vec<Case>, axes: Vec<Axis>) -> Result<Sweep> {
    Sweep::new(cases, base(), axes, Accuracy::default())
}

/// From a short weigh to foam that does not fit; from plugged to wide vents.
fn rough() -> Vec<Axis> {
    vec![
        Axis::list(Setting::Charge, [30e-3, 55e-3, 62e-3, 90e-3, 0.9]),
        Axis::list(Setting::Vent, [0.0, 3e-3, 12e-3]),
        Axis::even(Setting::MoldTemp, 288.15, 318.15, 5),
        Axis::list(Setting::ClosingTime, [0.0, 12.0, 200.0]),
    ]
}

fn runner(threads: usize) -> Runner {
    Runner::new(Some(threads), Control::default()).unwrap()
}

fn all(sweep: &Sweep, threads: usize) -> Block {
    runner(threads).block(sweep, 0..sweep.points()).unwrap()
}

fn assert_same(what: &str, a: &Block, b: &Block) {
    assert_eq!(a.range(), b.range(), "{what}");
    let different = a.rows.iter().zip(&b.rows).position(|(a, b)| !a.is_same(b));
    assert_eq!(different, None, "{what}: first difference");
}

#[test]
fn threads_and_blocks_do_not_change_a_bit() {
    let sweep = swept(armrest(), rough()).unwrap();
    let one = all(&sweep, 1);
    assert!(one.is_complete());
    for threads in [2, 3] {
        assert_same("threads", &one, &all(&sweep, threads));
    }
    for (threads, size) in [(1, 1), (2, 7), (3, 64), (2, 1000)] {
        let rows = runner(threads).blocks(&sweep, size).unwrap().flat_map(|block| block.rows).collect();
        assert_same("blocks", &one, &Block { start: 0, rows });
    }
}

#[test]
fn points_are_single_castings() {
    let sweep = swept(armrest(), rough()).unwrap();
    assert_eq!(sweep.shape(), [5, 3, 5, 3]);
    assert_eq!(sweep.points(), 225);
    let block = all(&sweep, 2);
    let mut point = 0;
    let axes = sweep.axes();
    for charge in &axes[0].values {
        for vent in &axes[1].values {
            for mold_temp in &axes[2].values {
                for closing_time in &axes[3].values {
                    let casting = Casting {
                        charge: *charge,
                        vent_diameters: vec![*vent],
                        mold_temp: *mold_temp,
                        closing_time: *closing_time,
                        ..base()
                    };
                    assert_eq!(sweep.settings(point).unwrap(), (0, casting.clone()));
                    let row = &block.rows[point];
                    let number = |of: Outcome| row.of(of);
                    match sampled(&FoamConstants::default(), &cavity(), &casting, &[], Accuracy::default()) {
                        Ok(alone) => {
                            let r = alone.result;
                            assert_eq!(row.judgment, Judgment::Cast(r.verdict));
                            assert_eq!(number(Outcome::PeakPressure), r.peak_pressure);
                            assert_eq!(number(Outcome::VentLoss), r.vent_loss);
                            assert_eq!(number(Outcome::Density), r.density);
                            assert_eq!(number(Outcome::FillTime).to_bits(), r.fill_time.unwrap_or(f64::NAN).to_bits());
                            assert_eq!(number(Outcome::Margin).to_bits(), r.margin().unwrap_or(f64::NAN).to_bits());
                            let run = sweep.cast(point, 2).unwrap();
                            assert_eq!(number(Outcome::PackingFactor), run.packing_factor);
                            assert_eq!(number(Outcome::FreeRiseDensity), run.free_rise_density);
                        }
                        Err(reason) => {
                            assert_eq!(row.judgment, Judgment::Refused);
                            assert!(row.numbers.iter().all(|x| x.is_nan()));
                            assert_eq!(sweep.cast(point, 2).unwrap_err(), reason);
                        }
                    }
                    point += 1;
                }
            }
        }
    }
    let count = |judgment| block.rows.iter().filter(|row| row.judgment == judgment).count();
    assert!(count(Judgment::Cast(Verdict::Full)) > 10 && count(Judgment::Refused) > 80, "{}", count(Judgment::Refused));
}

/// The memory of free-rise densities must not mix up temperatures, pressures or grades.
#[test]
fn free_rise_densities_belong_to_their_point() {
    let thin = FoamConstants { gas_yield: 1.1 * FoamConstants::<f64>::default().gas_yield, ..FoamConstants::default() };
    let cases = vec![armrest().remove(0), Case::new(thin, cavity())];
    let axes = vec![
        Axis::list(Setting::AmbientPressure, [101_325.0, 80e3]),
        Axis::list(Setting::MixTemp, [290.0, 296.0, 290.0, 300.0]),
    ];
    let sweep = swept(cases, axes).unwrap();
    assert_eq!(sweep.shape(), [2, 2, 4]);
    let block = all(&sweep, 1);
    for point in 0..sweep.points() {
        let (case, casting) = sweep.settings(point).unwrap();
        let foam = &sweep.cases()[case].foam;
        let alone = free_rise_density(foam, casting.mix_temp, casting.ambient_pressure, Accuracy::default()).unwrap();
        assert_eq!(block.rows[point].of(Outcome::FreeRiseDensity), alone, "{point}");
    }
}

#[test]
fn cases_are_the_slowest_axis_and_their_slips_count() {
    let slips = Slips { vent_size: 0.8, charge: 2e-3, mold_temp: -3.0, mix_temp: 1.0, clamp_effect: 0.5 };
    let cases = vec![armrest().remove(0), Case { slips, ..armrest().remove(0) }];
    let clamp = Axis::list(Setting::ClampForce, [1000.0, 1500.0]);
    let sweep = swept(cases, vec![clamp, Axis::list(Setting::Vent, [3e-3, 4e-3, 5e-3])]).unwrap();
    let block = all(&sweep, 2);
    let casting = Casting {
        charge: 64e-3,
        mold_temp: 300.15,
        mix_temp: 297.15,
        clamp_force: Some(750.0),
        vent_diameters: vec![0.8 * 5e-3],
        ..base()
    };
    let alone = sampled(&FoamConstants::default(), &cavity(), &casting, &[], Accuracy::default()).unwrap();
    assert_eq!(block.rows[11].of(Outcome::PeakPressure), 1.0 * sweep.cast(11, 2).unwrap().result.peak_pressure);
    let close = block.rows[11].of(Outcome::PeakPressure) / alone.result.peak_pressure - 1.0;
    assert!(close.abs() < 1e-12, "{close:e}");
    assert_eq!(sweep.settings(11).unwrap().1.vent_diameters, [5e-3]);
}

/// Every setting reaches the casting.
#[test]
fn every_setting_matters() {
    use Setting::*;
    let leak = Leak { diameter: 2e-3, length: 5e-3, start: LeakStart::Time(13.0) };
    let base = Casting { leak: Some(leak), ..base() };
    let pairs = [
        (Charge, [60e-3, 64e-3]),
        (LeftInCup, [0.0, 3e-3]),
        (Vent, [3e-3, 9e-3]),
        (MixTemp, [290.0, 300.0]),
        (MoldTemp, [290.0, 310.0]),
        (AmbientPressure, [80e3, 101e3]),
        (Altitude, [0.0, 2000.0]),
        (ClosingTime, [0.0, 20.0]),
        (DemoldTime, [100.0, 400.0]),
        (OpeningLimit, [100.0, 100e3]),
        (WeighedAfter, [0.0, 86_400.0]),
        (ClampForce, [100.0, 2000.0]),
        (LeakDiameter, [0.5e-3, 4e-3]),
        (LeakLength, [1e-3, 300e-3]),
        (LeakTime, [13.0, 62.0]),
        (LeakPressure, [100.0, 30e3]),
    ];
    for (setting, values) in pairs {
        let axis = Axis::list(setting, values);
        let sweep = Sweep::new(armrest(), base.clone(), vec![axis], Accuracy::default()).unwrap();
        let block = all(&sweep, 1);
        let [one, other] = &block.rows[..] else { panic!("two points") };
        assert!(one.judgment != Judgment::Refused && other.judgment != Judgment::Refused, "{setting:?}");
        assert!(!one.is_same(other), "{setting:?} does not matter");
    }
}

#[test]
fn even_axes_hold_both_ends() {
    let axis = Axis::even(Setting::Charge, 0.1, 0.7, 4);
    assert_eq!(axis.values.len(), 4);
    assert_eq!((axis.values[0], axis.values[3]), (0.1, 0.7));
    assert!((axis.values[1] - 0.3).abs() < 1e-15);
    assert_eq!(Axis::even(Setting::Charge, 0.1, 0.7, 1).values, [0.1]);
}

fn message(result: Result<Sweep>) -> String {
    result.unwrap_err().to_string()
}

#[test]
fn bad_axes_are_refused_with_advice() {
    let one = |axis| message(swept(armrest(), vec![axis]));
    let charge = || Axis::list(Setting::Charge, [60e-3]);
    assert_eq!(
        one(Axis::list(Setting::Charge, [])),
        "charge: got no values, expected at least one value; leave the axis out, or give values"
    );
    assert_eq!(
        one(Axis::list(Setting::MixTemp, [290.0, f64::NAN])),
        "mix_temp: got NaN at index 1, expected finite numbers; correct that value or leave it out"
    );
    assert!(message(swept(armrest(), vec![charge(), charge()])).contains("leave one of the two out"));
    assert!(one(Axis::list(Setting::LeakTime, [1.0])).contains("a casting with a leak"));
    assert!(message(swept(vec![], vec![charge()])).contains("give a grade and a mold"));
    let sealed = Case::new(FoamConstants::default(), Cavity { vents: vec![], ..cavity() });
    assert!(message(swept(vec![sealed], vec![Axis::list(Setting::Vent, [1e-3])])).contains("no vents"));
    let long = |setting| Axis::even(setting, 290.0, 300.0, 1 << 16);
    let axes = [Setting::Charge, Setting::Vent, Setting::MixTemp, Setting::MoldTemp].map(long).to_vec();
    assert!(message(swept(armrest(), axes)).contains("more points than can be counted"));
}

#[test]
fn bad_ranges_and_threads_are_refused() {
    let sweep = swept(armrest(), vec![Axis::list(Setting::Charge, [60e-3, 61e-3])]).unwrap();
    assert!(runner(1).block(&sweep, 1..3).unwrap_err().to_string().contains("within 0..2"));
    assert!(sweep.settings(2).unwrap_err().to_string().contains("0 to 1"));
    assert!(runner(1).blocks(&sweep, 0).err().unwrap().to_string().contains("1 or more points"));
    assert!(Runner::new(Some(0), Control::default()).err().unwrap().to_string().contains("1 or more"));
}

/// A billion points: taking the first blocks of the stream costs neither their time nor their memory.
#[test]
fn a_stream_holds_one_block_at_a_time() {
    let axes = vec![
        Axis::even(Setting::Charge, 50e-3, 70e-3, 1000),
        Axis::even(Setting::Vent, 2e-3, 8e-3, 1000),
        Axis::even(Setting::MoldTemp, 290.0, 315.0, 1000),
    ];
    let sweep = swept(armrest(), axes).unwrap();
    assert_eq!(sweep.points(), 1_000_000_000);
    let runner = runner(2);
    let mut ends = vec![];
    for block in runner.blocks(&sweep, 100).unwrap().take(3) {
        assert_eq!(block.rows.len(), 100);
        ends.push(block.range().end);
    }
    assert_eq!(ends, [100, 200, 300]);
    // The last ones are as cheap as the first.
    let last = runner.block(&sweep, 999_999_990..1_000_000_000).unwrap();
    assert_eq!(sweep.settings(999_999_999).unwrap().1.charge, 70e-3);
    assert!(last.is_complete());
}

#[test]
fn a_stopped_sweep_keeps_what_it_has() {
    let axes = vec![Axis::even(Setting::Charge, 50e-3, 70e-3, 1000), Axis::even(Setting::MoldTemp, 290.0, 315.0, 1000)];
    let sweep = swept(armrest(), axes).unwrap();
    let control = Control::default();
    let runner = Runner::new(Some(2), control.clone()).unwrap();
    let reached = AtomicUsize::new(0);
    let (block, wait) = thread::scope(|scope| {
        let stopper = scope.spawn(|| {
            while control.done() < 300 {
                thread::sleep(Duration::from_millis(1));
            }
            reached.store(control.done(), Ordering::Relaxed);
            control.stop();
            Instant::now()
        });
        let block = runner.block(&sweep, 0..sweep.points()).unwrap();
        (block, stopper.join().unwrap().elapsed())
    });
    assert!(wait < Duration::from_millis(200), "{wait:?}");
    assert!(!block.is_complete());
    assert!(block.done() >= reached.load(Ordering::Relaxed) && block.done() < 500_000, "{}", block.done());
    let done = block.rows.iter().enumerate().filter(|(_, row)| row.judgment != Judgment::NotRun);
    for (point, row) in done.step_by(97) {
        let again = self::runner(1).block(&sweep, point..point + 1).unwrap();
        assert!(row.is_same(&again.rows[0]), "{point}");
    }
    assert!(block.rows.iter().all(|row| row.judgment != Judgment::NotRun || row.numbers[0].is_nan()));
    assert_eq!(runner.blocks(&sweep, 10).unwrap().count(), 0);
}

/// The map of a sweep is well formed, names its regions, and refuses what it cannot show.
#[test]
fn a_map_names_its_regions() {
    let axes = vec![
        Axis::list(Setting::ClosingTime, [12.0, 0.0]),
        Axis::even(Setting::Charge, 20e-3, 80e-3, 13),
        Axis::list(Setting::Vent, [8e-3, 3e-3, 5e-3, 0.0]),
    ];
    let sweep = swept(armrest(), axes).unwrap();
    let block = all(&sweep, 2);
    let slice = MapSlice { outcome: Outcome::PeakPressure, across: 1, up: 2, places: vec![1, 0, 0] };
    let chart = |slice: &MapSlice, block: &Block| sweep_chart(&sweep, block, slice, "Peak", Sheet::default());
    let svg = chart(&slice, &block).unwrap();
    assert_eq!(svg, chart(&slice, &block).unwrap());
    let document = roxmltree::Document::parse(&svg).unwrap();
    let texts: Vec<_> = document.descendants().filter_map(|node| node.text()).map(str::trim).collect();
    for word in ["full", "short", "charge (g)", "vent (mm)", "peak gauge pressure (kPa)"] {
        assert!(texts.contains(&word), "{word}: {texts:?}");
    }
    assert!(!svg.contains("NaN"));
    let advice = |slice: MapSlice| chart(&slice, &block).unwrap_err().to_string();
    assert!(advice(MapSlice { up: 1, ..slice.clone() }).contains("two axes"));
    assert!(advice(MapSlice { up: 3, ..slice.clone() }).contains("an axis of the sweep"));
    assert!(advice(MapSlice { places: vec![2, 0, 0], ..slice.clone() }).contains("one place for each axis"));
    let part = runner(1).block(&sweep, 0..10).unwrap();
    assert!(chart(&slice, &part).unwrap_err().to_string().contains("join the blocks"));
}
