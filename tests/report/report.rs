//! Reports: charts are well-formed and say what they show, text is aligned and escaped, the same bytes every time.

use proptest::prelude::*;
use risefit::Accuracy;
use risefit::error::Error;
use risefit::model::Run;
use risefit::model::{Casting, Cavity, Cup, FoamConstants, PartingLine, Vent};
use risefit::records::{RiseLog, Stopwatch, Trace};
use risefit::report::*;
use risefit::simulate;
use roxmltree::Document;

/// The invented grade "K".
fn foam() -> FoamConstants {
    FoamConstants { gas_yield: 0.5, ..FoamConstants::default() }
}

/// The invented armrest mold with this charge, g.
fn run(charge: f64) -> Run {
    let vents = vec![Vent::hole(1, 3e-3, 12e-3, 1.0)];
    let line = PartingLine { length: 0.6, land: 5e-3, gap: 0.0, opening: 1e-7, at_fill: 1.0 };
    let cavity = Cavity {
        volume: 620e-6,
        projected_area: 0.015,
        wall_area: 0.048,
        heat_transfer: 12.0,
        layers: 1,
        contact_transfer: Cavity::CONTACT_TRANSFER,
        conduction_factor: 1.0,
        stretch: 0.0,
        clamp_force: Some(1500.0),
        gas_retention: 1.0,
        rate_factor: 1.0,
        discharge: 0.82,
        vents,
        parting_line: Some(line),
    };
    let casting = Casting {
        charge: charge * 1e-3,
        left_in_cup: 0.0,
        mix_temp: 296.15,
        mold_temp: 303.15,
        ambient_pressure: 101_325.0,
        closing_time: 10.0,
        clamp_force: None,
        vent_diameters: vec![],
        leak: None,
        demold_time: 300.0,
        opening_limit: 5e3,
        weighed_after: 0.0,
    };
    simulate(&foam(), &cavity, &casting, 200, Accuracy::default()).expect("a casting that runs")
}

fn log() -> RiseLog {
    RiseLog {
        name: "cold <K> & \"co\"".to_owned(),
        file: None,
        mass: 0.06,
        mix_temp: 296.15,
        ambient_temp: 296.15,
        ambient_pressure: 101_325.0,
        cup: Some(Cup { bottom_diameter: 0.09, top_diameter: 0.1, height: 0.12 }),
        time: vec![0.0, 10.0, 20.0, 30.0],
        height: Some(vec![0.01, 0.03, f64::NAN, 0.12]),
        volume: None,
        temp: Some(vec![296.0, 310.0, 340.0, f64::INFINITY]),
        stopwatch: Stopwatch { cream: Some(8.0), string_gel: Some(27.0), ..Stopwatch::default() },
        free_rise_density: None,
        assumed: vec![],
    }
}

fn model() -> ModelCurve {
    ModelCurve {
        time: vec![0.0, 15.0, 30.0],
        height_or_volume: vec![0.01, 0.05, 0.119],
        sensed_temp: vec![296.0, 325.0, 370.0],
        stopwatch: Stopwatch { cream: Some(7.0), end_of_rise: Some(30.0), ..Stopwatch::default() },
    }
}

fn trial(name: &str, is_outlier: bool) -> PredictedWeighed {
    let compared = |predicted: f64, measured: f64| Compared {
        predicted,
        interval_95: Some([0.97 * predicted, 1.03 * predicted]),
        measured,
        measured_error: Some(0.005 * measured),
        is_at_stop: is_outlier,
    };
    PredictedWeighed {
        name: name.to_owned(),
        part_mass: Some(compared(0.060, 0.0611)),
        peak_pressure: Some(compared(49e3, 52e3)),
        is_outlier,
    }
}

fn us() -> Sheet {
    Sheet { units: DisplayUnits::UsCustomary, ..Sheet::default() }
}

/// The texts of a chart, after checking that it is well-formed and holds nothing that is not a number.
fn texts(svg: &str) -> Vec<String> {
    let document = Document::parse(svg).expect("well-formed SVG");
    assert_eq!(document.root_element().tag_name().name(), "svg");
    for bad in ["NaN", "inf", "-2147483648", "2147483647"] {
        assert!(!svg.contains(bad), "{bad}");
    }
    let texts = document.descendants().filter(|node| node.has_tag_name("text"));
    texts.filter_map(|node| node.text()).map(|text| text.trim().to_owned()).collect()
}

fn assert_says(svg: &str, expected: &[&str]) {
    let texts = texts(svg);
    for one in expected {
        assert!(texts.iter().any(|text| text.contains(one)), "`{one}` is not among {texts:?}");
    }
}

#[test]
fn a_casting_chart_names_quantities_units_phases_and_peak() {
    let run = run(60.0);
    let time = vec![0.0, 30.0, 60.0, 900.0];
    let trace = Trace { file: None, time, pressure: Some(vec![0.0, 31e3, f64::NAN, 9e3]), temp: None };
    let svg = casting_chart(&run, Some(&trace), "60 g", Sheet::default()).expect("chart");
    let peak = format!("peak {:.1} kPa at {:.0} s", 1e-3 * run.result.peak_pressure, run.result.peak_time);
    assert_says(&svg, &["60 g", "gauge pressure (kPa)", "fill (%)", "temperature (°C)", "(s)", "measured", &peak]);
    assert_says(&svg, &["open from 0 s", "rising from 10 s", "filled from", "set from"]);
    let svg = casting_chart(&run, None, "60 g", us()).expect("chart");
    assert_says(&svg, &["gauge pressure (psi)", "temperature (°F)"]);
    assert!(!texts(&svg).iter().any(|text| text == "measured"));
}

/// The trace rises by 30 kPa while the mold is closed: a tenth of that is missed. Without a pressure there is nothing to miss.
#[test]
fn a_chart_with_a_trace_shows_what_the_model_may_miss_of_it() {
    let time = vec![0.0, 30.0, 60.0, 900.0];
    let pressure = Trace { file: None, time, pressure: Some(vec![-9e3, 1e3, 31e3, 99e3]), temp: None };
    let svg = casting_chart(&run(60.0), Some(&pressure), "60 g", Sheet::default()).expect("chart");
    assert_says(&svg, &["what the model may miss (± 3.0 kPa)"]);
    let svg = casting_chart(&run(60.0), Some(&pressure), "60 g", us()).expect("chart");
    assert_says(&svg, &["what the model may miss (± 0.44 psi)"]);
    let bands = |svg: &str| svg.matches("opacity=\"0.1\"").count();
    assert_eq!(bands(&svg), 2, "in the panel and in the legend");
    let temp = Trace { pressure: None, temp: Some(vec![300.0; 4]), ..pressure };
    for bare in [Some(&temp), None] {
        let svg = casting_chart(&run(60.0), bare, "60 g", Sheet::default()).expect("chart");
        assert!(!svg.contains("may miss") && bands(&svg) == 0);
    }
}

#[test]
fn a_short_shot_has_a_chart_without_the_filled_phase() {
    let svg = casting_chart(&run(40.0), None, "40 g", Sheet::default()).expect("chart");
    assert!(!texts(&svg).iter().any(|text| text.starts_with("filled")));
}

#[test]
fn a_rise_chart_shows_what_is_there_and_escapes_names() {
    let svg = rise_log_chart(&log(), Some(&model()), Sheet::default()).expect("chart");
    assert_says(
        &svg,
        &["Rise of cold <K> & \"co\"", "height (mm)", "temperature (°C)", "cream 8 s", "end of rise 30 s"],
    );
    assert_says(&svg, &["height: measured less fitted", "temperature: measured less fitted", "fitted", "measured"]);
    assert_says(&rise_log_chart(&log(), Some(&model()), us()).expect("chart"), &["height (in)", "temperature (°F)"]);
    let bare = RiseLog { temp: None, ..log() };
    let svg = rise_log_chart(&bare, None, Sheet::default()).expect("chart");
    assert!(!texts(&svg).iter().any(|text| text.contains("temperature") || text.contains("less fitted")));
}

#[test]
fn logs_with_little_in_them_have_a_chart_and_empty_ones_a_clear_error() {
    let empty = RiseLog { time: vec![], height: None, temp: None, stopwatch: Stopwatch::default(), ..log() };
    let error = rise_log_chart(&empty, None, Sheet::default()).expect_err("nothing to draw");
    assert!(matches!(&error, Error::TooFewRecords { wanted, .. } if wanted.contains("cold <K>")), "{error}");
    let error = rise_curve_chart(&[(&empty, None)], "t", Sheet::default()).expect_err("nothing to draw");
    assert!(matches!(error, Error::TooFewRecords { .. }));
    let watch_only = RiseLog { stopwatch: log().stopwatch, ..empty.clone() };
    assert_says(&rise_log_chart(&watch_only, None, Sheet::default()).expect("chart"), &["string gel 27 s"]);
    let one = RiseLog { time: vec![5.0], height: Some(vec![0.02]), ..empty.clone() };
    assert_says(&rise_log_chart(&one, None, Sheet::default()).expect("chart"), &["height (mm)"]);
    let absent = RiseLog { time: vec![1.0, 2.0], height: Some(vec![f64::NAN; 2]), ..empty.clone() };
    assert!(rise_log_chart(&absent, None, Sheet::default()).is_err());
    let model_only = rise_log_chart(&empty, Some(&ModelCurve { sensed_temp: vec![], ..model() }), Sheet::default());
    assert_says(&model_only.expect("chart"), &["volume (mL)"]);
}

#[test]
fn several_logs_share_a_chart_of_volume_per_mass() {
    let (cold, warm) = (log(), RiseLog { name: "warm".to_owned(), mix_temp: 303.15, ..log() });
    let curve = model();
    let svg = rise_curve_chart(&[(&cold, Some(&curve)), (&warm, None)], "Rise of K", Sheet::default()).expect("chart");
    assert_says(&svg, &["volume per mass (mL/g)", "warm, mix at 30.0 °C", "mix at 23.0 °C", "Rise of K"]);
    assert_says(&rise_curve_chart(&[(&cold, None)], "K", us()).expect("chart"), &["(in3/oz)", "73.4 °F"]);
    let many: Vec<(&RiseLog, Option<&ModelCurve>)> = vec![(&warm, None); 12];
    let svg = rise_curve_chart(&many, "many", Sheet::default()).expect("chart");
    assert_eq!(texts(&svg).iter().filter(|text| text.starts_with("warm")).count(), 12);
    let cupless = RiseLog { cup: None, ..log() };
    let error = rise_curve_chart(&[(&cupless, None)], "K", Sheet::default()).expect_err("no cup");
    assert!(matches!(error, Error::Argument { ref name, .. } if name == "cup_diameter_mm"), "{error}");
}

#[test]
fn a_weighed_chart_names_every_trial_and_its_units() {
    let rows = [trial("first", false), trial("odd one", true)];
    let svg = weighed_chart(&rows, Sheet::default()).expect("chart");
    assert_says(
        &svg,
        &["first", "odd one", "measured part mass (g)", "predicted peak gauge pressure (kPa)", "does not fit"],
    );
    assert_says(&weighed_chart(&rows, us()).expect("chart"), &["part mass (oz)", "(psi)"]);
    let weighed = [PredictedWeighed { peak_pressure: None, ..trial("first", false) }];
    let svg = weighed_chart(&weighed, Sheet::default()).expect("chart");
    assert!(!texts(&svg).iter().any(|text| text.contains("pressure") || text.contains("does not fit")));
    let none = PredictedWeighed { part_mass: None, ..weighed[0].clone() };
    assert!(matches!(weighed_chart(&[none], Sheet::default()), Err(Error::TooFewRecords { .. })));
    assert!(weighed_chart(&[], Sheet::default()).is_err());
}

#[test]
fn a_reading_that_is_not_a_number_is_left_out() {
    let mut bad = trial("bad", false);
    bad.part_mass.iter_mut().for_each(|both| both.predicted = f64::NAN);
    let svg = weighed_chart(&[trial("good", false), bad], Sheet::default()).expect("chart");
    assert_eq!(texts(&svg).iter().filter(|text| *text == "bad").count(), 1, "only in the panel of pressures");
}

#[test]
fn a_sheet_too_small_or_a_run_without_courses_is_refused() {
    let tiny = Sheet { width: 20, ..Sheet::default() };
    assert!(matches!(casting_chart(&run(60.0), None, "t", tiny), Err(Error::Argument { name, .. }) if name == "width"));
    let mut bare = run(60.0);
    bare.trace.time.clear();
    assert!(matches!(casting_chart(&bare, None, "t", Sheet::default()), Err(Error::TooFewRecords { .. })));
}

/// Whether every text lies within the sheet and no two level texts of a chart cover one another, by a cautious width.
#[test]
fn labels_do_not_collide() {
    let charts = [
        casting_chart(&run(60.0), None, "60 g", Sheet::default()).expect("chart"),
        casting_chart(&run(60.0), None, "60 g", us()).expect("chart"),
        rise_log_chart(&log(), Some(&model()), Sheet::default()).expect("chart"),
        weighed_chart(&[trial("a", false), trial("b", true)], Sheet::default()).expect("chart"),
        casting_chart(&run(60.0), None, "60 g", Sheet { width: 400, height: 300, ..us() }).expect("chart"),
    ];
    for svg in &charts {
        let document = Document::parse(svg).expect("well-formed SVG");
        let boxes: Vec<_> = document.descendants().filter_map(level_box).collect();
        for (i, a) in boxes.iter().enumerate() {
            assert!(a.1[0] >= 0.0 && a.1[2] <= 9000.0, "{a:?} leaves the sheet");
            for b in &boxes[i + 1..] {
                let apart = a.1[0] >= b.1[2] || b.1[0] >= a.1[2] || a.1[1] >= b.1[3] || b.1[1] >= a.1[3];
                assert!(apart, "{a:?} and {b:?}");
            }
        }
    }
}

/// Text and box (left, top, right, bottom) of a level text: half an em for each character, a line 0.9 em high.
fn level_box(node: roxmltree::Node) -> Option<(String, [f64; 4])> {
    let number = |name: &str| node.attribute(name)?.parse::<f64>().ok();
    if !node.has_tag_name("text") || node.attribute("transform").is_some() {
        return None;
    }
    let (text, x, y, size) = (node.text()?.trim().to_owned(), number("x")?, number("y")?, number("font-size")?);
    let width = 0.5 * size * text.chars().count() as f64;
    let left = match node.attribute("text-anchor")? {
        "start" => x,
        "end" => x - width,
        _ => x - 0.5 * width,
    };
    Some((text, [left, y - 0.45 * size, left + width, y + 0.45 * size]))
}

#[test]
fn a_casting_is_described_with_units_and_cautions() {
    let full = run(60.0);
    let text = describe_run(&full, DisplayUnits::Metric);
    assert!(text.starts_with("Full part: the foam fills the mold at "), "{text}");
    let expected = [
        ("peak gauge pressure", format!("{:.1} kPa", 1e-3 * full.result.peak_pressure)),
        ("part mass", format!("{:.1} g", 1e3 * full.result.part_mass)),
        ("reading of a scale in air", format!("{:.1} g", 1e3 * full.result.scale_reading)),
        ("margin from fill to gel", format!("{:.1} s", full.result.margin().expect("margin"))),
        ("packing factor", format!("{:.2}", full.packing_factor)),
        ("clamp force to hold the peak", format!("{:.0} N", full.result.clamp_needed)),
        ("hottest core (lump: at most)", format!("{:.1} °C", full.result.core_temp - 273.15)),
        ("density (part over cavity)", format!("{:.1} kg/m3", full.result.density)),
    ];
    for (name, value) in expected {
        let line = text.lines().find(|line| line.starts_with(name)).unwrap_or_else(|| panic!("no {name}"));
        assert!(line.ends_with(&format!(" {value}")), "{line}");
    }
    assert_eq!(text.lines().filter(|line| line.starts_with("- ")).count(), cautions().lines().count());
    let us = describe_run(&full, DisplayUnits::UsCustomary);
    assert!([" psi", " oz", " lb/ft3", " °F", " lbf"].iter().all(|unit| us.contains(unit)), "{us}");
    assert!(run_sentence(&run(40.0), DisplayUnits::Metric).starts_with("Short shot: the foam gels at "));
}

#[test]
fn the_cautions_name_every_danger() {
    let needed = [
        "Isocyanates are skin and respiratory sensitizers",
        "foam is hot",
        "stores energy",
        "not a pressure-safety calculation",
        "no reason to take off a clamp or to close a vent",
        "nor to open early: wait, and open slowly",
        "safety data sheet",
        "local codes and licensed practice",
        "national exposure limit",
    ];
    assert!(needed.iter().all(|words| cautions().contains(words)));
}

#[test]
fn a_page_is_one_safe_file() {
    let mut table = Table::new(&[("<script>", Align::Left)]);
    table.push(["<img src=x>"]);
    let mut page = Page::new("Pad <b> & co");
    page.sections = vec![
        Section::Heading("<h>".to_owned()),
        Section::Paragraph("a < b & \u{1} c".to_owned()),
        Section::Table(table),
        Section::Chart {
            svg: rise_log_chart(&log(), None, Sheet::default()).expect("chart"),
            caption: "<c>".to_owned(),
        },
        Section::Preformatted("x  <y>".to_owned()),
        Section::Cautions,
    ];
    let html = page.to_html();
    let body = html.strip_prefix("<!DOCTYPE html>").expect("a document type").replace("<meta charset=\"utf-8\">", "");
    let body = body.replace("initial-scale=1\">", "initial-scale=1\"/>");
    let document = Document::parse(&body).expect("every tag closed, every text escaped");
    let fetches = |node: roxmltree::Node| {
        ["script", "img", "link", "iframe"].contains(&node.tag_name().name())
            || node.has_attribute("src")
            || node.has_attribute("href")
    };
    assert!(!document.descendants().any(fetches));
    assert!(!["@import", "url(", "<b>", "\u{1}"].iter().any(|piece| html.contains(piece)));
    let outside = html.replace("http://www.w3.org/2000/svg", "");
    assert!(!outside.contains("http"), "nothing is fetched");
    let present =
        ["Pad &lt;b&gt; &amp; co", "<svg ", "class=\"cautions\"", env!("CARGO_PKG_VERSION"), "prefers-color-scheme"];
    assert!(present.iter().all(|piece| html.contains(piece)));
}

#[test]
fn a_page_that_cannot_be_written_says_where() {
    let error = Page::new("t").write("/nowhere/at/all.html").expect_err("no such folder");
    assert!(error.to_string().contains("/nowhere/at/all.html"), "{error}");
}

#[test]
fn a_summary_is_sorted_and_finite() {
    let mut summary = Summary::new("pad");
    let mut value = SummaryValue::new(49.25, "kPa");
    value.interval_95 = Some([f64::NEG_INFINITY, 60.0]);
    value.standard_error = Some(f64::NAN);
    value.status = Some("not identified by these records".to_owned());
    summary.put("z", Entry::Value(value));
    summary.put("run", Entry::Group(summarize_run(&run(40.0), DisplayUnits::Metric)));
    summary.put("a", Entry::List(vec![Entry::Flag(true), Entry::Count(3), Entry::Text("x".to_owned())]));
    let json: serde_json::Value = serde_json::from_str(&summary.to_json().expect("json")).expect("json");
    let entries = json["entries"].as_object().expect("entries");
    assert_eq!(json["risefit_version"], env!("CARGO_PKG_VERSION"));
    assert_eq!(entries["z"]["interval_95"], serde_json::json!([null, 60.0]));
    assert_eq!(entries["z"]["standard_error"], serde_json::Value::Null);
    assert_eq!(entries["a"], serde_json::json!([true, 3, "x"]));
    assert_eq!(entries["run"]["fill_time"], serde_json::Value::Null, "a short shot never fills");
    assert_eq!(entries["run"]["peak_pressure"]["unit"], "kPa");
    let text = summary.to_json().expect("json");
    assert!(text.find("\"a\"") < text.find("\"run\"") && text.find("\"run\"") < text.find("\"z\""));
}

#[test]
fn the_same_data_give_the_same_bytes() {
    let draw = || {
        let run = run(60.0);
        let svg = casting_chart(&run, None, "60 g", Sheet::default()).expect("chart");
        let mut page = Page::new("t");
        page.sections.push(Section::Chart { svg, caption: describe_run(&run, DisplayUnits::Metric) });
        (page.to_html(), rise_log_chart(&log(), Some(&model()), us()).expect("chart"))
    };
    assert_eq!(draw(), draw());
}

/// Any number, also those no one reads off a scale.
fn any_number() -> impl Strategy<Value = f64> {
    prop_oneof![4 => -50.0..500.0f64, 1 => any::<f64>()]
}

proptest! {
    #[test]
    fn any_numbers_make_a_chart_or_an_error(
        times in prop::collection::vec(any_number(), 0..6),
        values in prop::collection::vec(any_number(), 0..6),
        cream in any_number(),
    ) {
        let stopwatch = Stopwatch { cream: Some(cream), ..Stopwatch::default() };
        let temp = Some(values.clone());
        let log = RiseLog { time: times.clone(), height: None, volume: Some(values.clone()), temp, stopwatch, ..log() };
        let curve = ModelCurve { time: times.clone(), height_or_volume: values.clone(), sensed_temp: values.clone(), stopwatch };
        let mut trial = trial("a", true);
        trial.part_mass.iter_mut().for_each(|both| {
            both.predicted = cream;
            both.interval_95 = values.first_chunk().copied();
            both.measured_error = times.first().copied();
        });
        let mut run = run(60.0);
        run.result.peak_pressure = cream;
        run.trace.time.iter_mut().zip(&times).for_each(|(time, any)| *time = *any);
        let trace = Trace { file: None, time: times, pressure: Some(values.clone()), temp: Some(values) };
        let charts = [
            rise_log_chart(&log, Some(&curve), Sheet::default()),
            rise_curve_chart(&[(&log, Some(&curve))], "t", us()),
            weighed_chart(&[trial], us()),
            casting_chart(&run, Some(&trace), "t", Sheet::default()),
        ];
        charts.into_iter().flatten().for_each(|svg| drop(texts(&svg)));
    }
}
