//! Rise logs, ledgers, traces, grades and molds as read from files: values, defaults, units, round trips, any bytes.

use proptest::prelude::*;
use risefit::model::{Cavity, FoamConstants, LAYER_COUNTS, PartingLine, Vent, Verdict};
use risefit::records::{Grade, Mold, RiseLog, Trace, read_rise_logs, read_trials};
use std::f64::consts::PI;
use std::fs;
use std::path::PathBuf;

/// A file of this name with this text, in a folder of its own under the build folder.
fn written(folder: &str, name: &str, text: &[u8]) -> PathBuf {
    let folder = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join(folder);
    fs::create_dir_all(&folder).expect("folder");
    let file = folder.join(name);
    fs::write(&file, text).expect("file");
    file
}

fn near(a: f64, b: f64) -> bool {
    (a - b).abs() <= 1e-12 * b.abs()
}

const LOG: &str = "\
# Invented.
# name = K at 23 C
# mass_g = 62.3
# mix_temp_C = 23.1
# altitude_m = 1000
# cup_bottom_diameter_mm = 70
# cup_top_diameter_mm = 90
# cup_height_mm = 140
# cream_time_s = 11
# string_gel_time_s =
# end_of_rise_s = 1.5e2
# free_rise_density_kg_m3 = 76

time_s,height_mm,temp_C
0.0,21.3,23.1

5.0,,23.3
10.0,22.5,
";

#[test]
fn a_log_is_read_into_si() {
    let file = written("log", "k23.csv", LOG.as_bytes());
    let log = RiseLog::read(&file).expect("a log");
    assert_eq!(log.name, "K at 23 C");
    assert_eq!(log.file.as_deref(), Some(file.as_path()));
    assert!(near(log.mass, 0.0623) && near(log.mix_temp, 296.25) && near(log.ambient_temp, 296.25));
    assert!((log.ambient_pressure - 89876.29).abs() < 0.01, "U.S. Standard Atmosphere 1976 at 1000 m");
    assert_eq!(log.time, [0.0, 5.0, 10.0]);
    let height = log.height.expect("heights");
    assert!(near(height[0], 0.0213) && height[1].is_nan() && near(height[2], 0.0225));
    let temp = log.temp.expect("temperatures");
    assert!(near(temp[1], 296.45) && temp[2].is_nan());
    assert!(log.volume.is_none());
    assert_eq!((log.stopwatch.cream, log.stopwatch.string_gel), (Some(11.0), None));
    assert_eq!((log.stopwatch.end_of_rise, log.free_rise_density), (Some(150.0), Some(76.0)));
    assert_eq!(log.assumed.len(), 2, "{:?}", log.assumed);
    assert!(log.assumed[0].contains("ambient temperature") && log.assumed[1].contains("Standard Atmosphere"));
}

#[test]
fn stopwatch_times_alone_are_a_log() {
    let text = "# mass_oz = 2.2\n# mix_temp_F = 73\n# ambient_pressure_inHg = 29.9\n# tack_free_time_min = 3\n";
    let log = RiseLog::read(written("stopwatch", "quick.csv", text.as_bytes())).expect("a log");
    assert_eq!(log.name, "quick");
    assert!(log.time.is_empty() && log.height.is_none() && log.cup.is_none());
    assert_eq!(log.stopwatch.tack_free, Some(180.0));
    assert_eq!(log.assumed, ["ambient temperature: that of the mix"]);
}

#[test]
fn sea_level_is_assumed_aloud() {
    let text =
        "\u{feff}# mass_g = 60\r\n# mix_temp_C = 23\r\n# ambient_temp_C = 21\r\n\r\ntime_s,volume_mL\r\n0,60\r\n";
    let log = RiseLog::read(written("sea", "level.csv", text.as_bytes())).expect("a log");
    assert_eq!(log.ambient_pressure, 101_325.0);
    assert!(log.assumed.len() == 1 && log.assumed[0].contains("101.325 kPa"), "{:?}", log.assumed);
    assert!(near(log.volume.expect("volumes")[0], 60e-6));
}

#[test]
fn a_pattern_finds_its_files_sorted_and_a_list_keeps_its_order() {
    let text = b"# mass_g = 60\n# mix_temp_C = 23\n";
    let files = ["c.csv", "a.csv", "b.csv"].map(|name| written("pattern", name, text));
    let names = |logs: Vec<RiseLog>| logs.into_iter().map(|log| log.name).collect::<Vec<_>>();
    let pattern = files[0].with_file_name("*.csv");
    assert_eq!(names(read_rise_logs(&[pattern]).expect("logs")), ["a", "b", "c"]);
    assert_eq!(names(read_rise_logs(&files).expect("logs")), ["c", "a", "b"]);
}

#[test]
fn the_cup_holds_a_frustum_and_a_column_above_the_rim() {
    let cup = RiseLog::read(written("cup", "cup.csv", LOG.as_bytes())).expect("a log").cup.expect("a cup");
    // V = pi h (d1^2 + d1 d2 + d2^2)/12 for a frustum; exact.
    assert!(near(cup.volume_to(0.14), PI * 0.14 * (0.07f64.powi(2) + 0.07 * 0.09 + 0.09f64.powi(2)) / 12.0));
    assert!(near(
        cup.volume_to(0.15) - cup.volume_to(0.14),
        PI / 4.0 * 0.09f64.powi(2) * 0.15 - PI / 4.0 * 0.09f64.powi(2) * 0.14
    ));
    assert_eq!(cup.volume_to(0.0), 0.0);
}

const LEDGER: &str = "\
# Invented.
trial,charge_g,left_in_cup_g,mix_temp_C,mold_temp_C,altitude_ft,vent_in,clamp_force_lbf,part_mass_g,vent_loss_g,outcome,peak_pressure_psi,gauge_at_stop,trace_file,remarks
1,60,0.5,23,40,0,0.125,450,58.1,1.1,full,7,yes,t1.csv,\"first, warm day\"
2,62,,23,40,,3/32,,,,,,,,
";

#[test]
fn a_ledger_is_read_with_its_trace() {
    let ledger = written("ledger", "trials.csv", LEDGER.replace("3/32", "0.1; 0.2").as_bytes());
    written("ledger", "t1.csv", b"time_s,pressure_kPa,temp_C\n0,0,23\n30,48.5,\n");
    let trials = read_trials(&ledger).expect("trials");
    let first = &trials[0];
    assert_eq!((first.name.as_str(), first.line), ("1", Some(3)));
    assert!(near(first.casting.charge, 0.06) && near(first.casting.left_in_cup, 0.0005));
    assert!(near(first.casting.vent_diameters[0], 3.175e-3));
    assert!(near(first.casting.clamp_force.expect("a clamp"), 450.0 * 4.4482216152605));
    assert!(near(first.peak_pressure.expect("a peak"), 7.0 * 6894.757293168361));
    assert!(first.gauge_at_stop && first.outcome == Some(Verdict::Full));
    assert_eq!(first.remarks, "first, warm day");
    let trace = first.trace.as_ref().expect("a trace");
    assert_eq!(
        (trace.time.as_slice(), trace.pressure.as_deref()),
        ([0.0, 30.0].as_slice(), Some([0.0, 48500.0].as_slice()))
    );
    assert!(trace.temp.as_ref().is_some_and(|temp| temp[1].is_nan()));
    let second = &trials[1];
    assert_eq!(
        (second.casting.left_in_cup, second.casting.closing_time, second.casting.demold_time),
        (0.0, 0.0, 300.0)
    );
    assert_eq!(second.casting.vent_diameters.len(), 2);
    assert!(near(second.casting.vent_diameters[1], 5.08e-3));
    assert_eq!(second.casting.ambient_pressure, 101_325.0);
    for word in ["clamp force", "left in the cup: 0 g", "101.325 kPa", "closing time: 0 s", "demold time: 300 s"] {
        assert!(second.assumed.iter().any(|said| said.contains(word)), "{word}: {:?}", second.assumed);
    }
    let said = |i: usize| trials[i].assumed.iter().any(|said| said.contains("weighed at demold"));
    assert!(said(0) && !said(1), "said where there is a weight");
    assert!(second.part_mass.is_none() && second.trace.is_none() && !second.gauge_at_stop);
}

#[test]
fn a_drill_size_as_a_fraction_is_refused() {
    let message = read_trials(written("fraction", "trials.csv", LEDGER.replace("t1.csv", "").as_bytes()))
        .expect_err("3/32 is no number")
        .to_string();
    assert!(message.contains("line 4, `vent_in`") && message.contains("`3/32`"), "{message}");
}

#[test]
fn when_a_part_was_weighed_has_a_column() {
    let head = "trial,charge_g,mix_temp_C,mold_temp_C,part_mass_g";
    let text = format!("{head},weighed_after_h\n1,100,23,40,95,24\n2,100,23,40,95,\n");
    let trials = read_trials(written("weighed", "hours.csv", text.as_bytes())).unwrap();
    let at = |i: usize| (trials[i].casting.weighed_after, trials[i].assumed.iter().any(|a| a.contains("weighed")));
    assert_eq!((at(0), at(1)), ((86_400.0, false), (0.0, true)));
    let text = format!("{head},weighed_after_min\n1,100,23,40,95,-5\n");
    let error = read_trials(written("weighed", "early.csv", text.as_bytes())).unwrap_err().to_string();
    assert!(error.contains("`weighed_after_min`") && error.contains("0 or more"), "{error}");
}

#[test]
fn weights_may_exceed_the_charge_by_weighing_error_only() {
    let ledger = |part: f64| format!("trial,charge_g,mix_temp_C,mold_temp_C,part_mass_g\n1,100,23,40,{part}\n");
    assert!(read_trials(written("weights", "in.csv", ledger(102.9).as_bytes())).is_ok());
    assert!(read_trials(written("weights", "out.csv", ledger(103.1).as_bytes())).is_err());
}

#[test]
fn a_mold_may_be_measured_with_water() {
    let text = "name = \"pad\"\n[cavity]\nwater_fill_g = 499.1\nprojected_area_in2 = 10\nwall_area_in2 = 50\n\
                heat_transfer_W_m2K = 12\nstretch_per_bar = 0\ndischarge_percent = 82\n";
    let cavity = Mold::from_toml(text).expect("a mold").cavity;
    assert!(near(cavity.volume, 0.4991 / 998.2), "998.2 kg/m3 at 20 C, common practice, no source");
    assert!(near(cavity.projected_area, 6.4516e-3) && near(cavity.discharge, 0.82));
    assert!(cavity.clamp_force.is_none() && cavity.vents.is_empty() && cavity.parting_line.is_none());
}

#[test]
fn a_file_is_saved_and_loaded() {
    let grade = Grade { name: "K \"new\"".into(), note: "invented\nby us".into(), constants: FoamConstants::default() };
    let file = written("save", "grade.toml", b"");
    grade.save(&file).expect("saved");
    assert_eq!(Grade::load(&file).expect("loaded"), grade);
    let text = grade.to_toml();
    for line in ["liquid_density_kg_m3 = 1050.0", "solubility_kg_kgbar = 0.001", "gel_activation_kJ_mol = 40.0"] {
        assert!(text.lines().any(|other| other == line), "{line} in\n{text}");
    }
    assert!(grade.save(file.join("below/a/file.toml")).is_err());
}

/// Nesting without end is refused, not followed until the stack is full.
#[test]
fn deep_nesting_is_refused() {
    for piece in ["[", "a = [", "a = {a=", "a."] {
        let text = piece.repeat(100_000);
        assert!(Mold::from_toml(&text).is_err() && Grade::from_toml(&text).is_err(), "{piece}");
    }
}

/// The same log in metric and in inches, degrees Fahrenheit and ounces.
fn log_in(imperial: bool, mass_g: f64, heights_mm: &[f64], temp_c: f64) -> String {
    let mut text = if imperial {
        let (oz, f, inch) = (mass_g / 28.349523125, temp_c * 1.8 + 32.0, 80.0 / 25.4);
        format!(
            "# mass_oz = {oz}\n# mix_temp_F = {f}\n# cup_diameter_in = {inch}\n# cup_height_in = 6\ntime_min,height_in,temp_F\n"
        )
    } else {
        format!(
            "# mass_g = {mass_g}\n# mix_temp_C = {temp_c}\n# cup_diameter_mm = 80\n# cup_height_mm = 152.4\ntime_s,height_mm,temp_C\n"
        )
    };
    for (i, mm) in heights_mm.iter().enumerate() {
        let seconds = i as f64 * 1.5;
        let row = if imperial { (seconds / 60.0, mm / 25.4, temp_c * 1.8 + 32.0) } else { (seconds, *mm, temp_c) };
        text.push_str(&format!("{},{},{}\n", row.0, row.1, row.2));
    }
    text
}

fn same(a: &[f64], b: &[f64]) -> bool {
    a.len() == b.len() && a.iter().zip(b).all(|(a, b)| near(*a, *b))
}

prop_compose! {
    fn vent()(count in 1u32..9, diameter in 1e-4..0.02f64, length in 1e-3..0.05f64, at_fill in 0.0..=1.0f64) -> Vent {
        Vent::hole(count, diameter, length, at_fill)
    }
}

prop_compose! {
    fn parting_line()(length in 0.1..2.0f64, land in 1e-3..0.02f64, gap in 0.0..1e-4f64, opening in 0.0..1e-7f64,
                      at_fill in 0.0..=1.0f64) -> PartingLine {
        PartingLine { length, land, gap, opening, at_fill }
    }
}

prop_compose! {
    fn mold()(name in ".{0,12}", note in ".{0,12}", sizes in prop::array::uniform4(1e-5..10.0f64), stretch in 0.0..1e-5f64,
              clamp_force in prop::option::of(0.0..1e5f64), discharge in 0.01..1.0f64, gas_retention in 0.8..1.2f64, rate_factor in 0.8..1.2f64,
              layers in prop::sample::select(LAYER_COUNTS.to_vec()), contact_transfer in 1.0..1e4f64, conduction_factor in 0.5..2.0f64,
              vents in prop::collection::vec(vent(), 0..3), parting_line in prop::option::of(parting_line())) -> Mold {
        let [volume, projected_area, wall_area, heat_transfer] = sizes;
        let cavity = Cavity {
            volume, projected_area, wall_area, heat_transfer, layers, contact_transfer, conduction_factor, stretch, clamp_force, gas_retention, rate_factor, discharge, vents,
            parting_line,
        };
        Mold { name, note, cavity }
    }
}

fn constants(x: &[f64], cell_opening_time: f64) -> FoamConstants {
    FoamConstants {
        liquid_density: 1000.0 * x[0],
        heat_capacity: 1800.0 * x[1],
        conductivity: 0.2 * x[1],
        induction: x[17],
        gas_yield: x[2],
        blow_rate: x[3],
        blow_activation: 3e4 * x[4],
        gel_rate: x[5],
        gel_activation: 4e4 * x[6],
        competition: x[18],
        blow_heat: 20.0 * x[7],
        gel_heat: 90.0 * x[8],
        solubility: 1e-8 * x[9],
        air_fraction: x[10],
        gel_conversion: x[11],
        rise_end_conversion: 0.9 * x[11],
        viscosity: x[12],
        viscosity_activation: 3e4 * x[13],
        viscosity_a: x[14],
        viscosity_b: x[15],
        settling: x[16],
        cell_opening_time,
    }
}

/// Equal in every number but for the last two bits, which no decimal may reach.
fn same_numbers(a: &impl serde::Serialize, b: &impl serde::Serialize) -> bool {
    fn alike(a: &serde_json::Value, b: &serde_json::Value) -> bool {
        match (a, b) {
            (serde_json::Value::Number(a), serde_json::Value::Number(b)) => {
                let (a, b) = (a.as_f64().unwrap_or(f64::NAN), b.as_f64().unwrap_or(f64::NAN));
                (a - b).abs() <= 4.0 * f64::EPSILON * b.abs()
            }
            (serde_json::Value::Array(a), serde_json::Value::Array(b)) => {
                a.len() == b.len() && a.iter().zip(b).all(|(a, b)| alike(a, b))
            }
            (serde_json::Value::Object(a), serde_json::Value::Object(b)) => {
                a.len() == b.len() && a.iter().all(|(key, a)| b.get(key).is_some_and(|b| alike(a, b)))
            }
            (a, b) => a == b,
        }
    }
    alike(&serde_json::to_value(a).expect("json"), &serde_json::to_value(b).expect("json"))
}

/// Texts that get past the first checks now and then.
fn nearly_a_record() -> impl Strategy<Value = Vec<u8>> {
    let piece = prop::sample::select(vec![
        "# mass_g = 60\n",
        "# mix_temp_C = 23\n",
        "# ",
        "time_s",
        ",",
        "height_mm",
        "\n",
        "0",
        "1e9",
        "-",
        ".",
        "\"",
        ";",
        "trial,charge_g,mix_temp_C,mold_temp_C\n",
        "1,60,23,40\n",
        "[cavity]\n",
        "[[vents]]\n",
        "name = \"a\"\n",
        "volume_mL = 1\n",
        "[constants]\n",
        "=",
        "\r",
        "\u{feff}",
        "é",
        "NaN",
        "[",
        "{",
        "\t",
    ]);
    prop::collection::vec(piece, 0..40).prop_map(|pieces| pieces.concat().into_bytes())
}

proptest! {
    #[test]
    fn inches_read_the_same_as_millimeters(mass in 60.0..120.0f64, temp in -10.0..120.0f64,
                                           heights in prop::collection::vec(30.0..300.0f64, 1..6)) {
        let read = |imperial, name| {
            RiseLog::read(written("inches", name, log_in(imperial, mass, &heights, temp).as_bytes())).expect("a log")
        };
        let (metric, imperial) = (read(false, "metric.csv"), read(true, "imperial.csv"));
        prop_assert!(near(metric.mass, imperial.mass) && near(metric.mix_temp, imperial.mix_temp));
        prop_assert!(same(&metric.time, &imperial.time));
        prop_assert!(same(&metric.height.unwrap_or_default(), &imperial.height.unwrap_or_default()));
        prop_assert!(same(&metric.temp.unwrap_or_default(), &imperial.temp.unwrap_or_default()));
        let (a, b) = (metric.cup.expect("a cup"), imperial.cup.expect("a cup"));
        prop_assert!(near(a.top_diameter, b.top_diameter) && near(a.height, b.height));
    }

    #[test]
    fn a_mold_survives_its_file(mold in mold()) {
        let again = Mold::from_toml(&mold.to_toml()).expect("a mold");
        prop_assert!(same_numbers(&again, &mold), "{}", mold.to_toml());
    }

    #[test]
    fn a_grade_survives_its_file(x in prop::collection::vec(0.001..0.999f64, 19), open in prop::option::of(1.0..1e3f64)) {
        let constants = constants(&x, open.unwrap_or(f64::INFINITY));
        let grade = Grade { name: "K".into(), note: String::new(), constants };
        let again = Grade::from_toml(&grade.to_toml()).expect("a grade");
        prop_assert_eq!(again.constants.cell_opening_time.is_infinite(), open.is_none());
        prop_assert!(same_numbers(&again, &grade), "{}", grade.to_toml());
    }

    #[test]
    fn no_bytes_panic_the_readers(bytes in prop_oneof![prop::collection::vec(any::<u8>(), 0..200), nearly_a_record()]) {
        let file = written("bytes", "any.csv", &bytes);
        let _ = RiseLog::read(&file);
        let _ = read_trials(&file);
        let _ = Trace::read(&file);
        let _ = Grade::load(&file);
        let _ = Mold::load(&file);
    }
}
