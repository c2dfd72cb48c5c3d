//! Reports of fits to the shipped demo data: they name what was fitted with units and intervals, in text, HTML and JSON.

use std::sync::OnceLock;

use risefit::Outcome;
use risefit::fit::{Calibration, FitOptions, FreeRiseFit, GradeKnowledge, Prediction, calibrate, fit_free_rise};
use risefit::model::{Casting, FoamConstants};
use risefit::records::{Grade, Mold, read_rise_logs, read_trials};
use risefit::report::*;
use roxmltree::{Document, ParsingOptions};
use serde_json::Value;

struct Job {
    fit: FreeRiseFit,
    calibration: Calibration,
    predictions: Vec<(Casting, Prediction)>,
}

/// One fit for all tests: a casting within what was cast, one beyond it, one that stays short.
fn job() -> &'static Job {
    static JOB: OnceLock<Job> = OnceLock::new();
    JOB.get_or_init(|| {
        let options = FitOptions { starts: 1, ..FitOptions::default() };
        let logs = read_rise_logs(&["data/logs/*.csv"]).expect("logs");
        let start = Grade { name: "K".to_owned(), note: String::new(), constants: FoamConstants::default() };
        let fit = fit_free_rise(&logs, &start, &options).expect("fit");
        let trials = read_trials("data/trials/armrest.csv").expect("trials");
        let mold = Mold::load("data/molds/armrest.toml").expect("mold");
        let known = GradeKnowledge::from_cup_tests(&fit);
        let calibration = calibrate(&known, &mold, &trials, &options).expect("calibration");
        let near = Casting { charge: 62e-3, ..trials[3].casting.clone() };
        let far = Casting { charge: 72e-3, vent_diameters: vec![10e-3], ..near.clone() };
        let short = Casting { charge: 40e-3, ..near.clone() };
        let predict = |c: Casting| (c.clone(), calibration.predict(&c).expect("prediction"));
        let predictions = [near, far, short].into_iter().map(predict).collect();
        Job { fit, calibration, predictions }
    })
}

fn page(units: DisplayUnits) -> String {
    let Job { fit, calibration, predictions } = job();
    main_job_page(fit, calibration, predictions, units).to_html()
}

fn summary(units: DisplayUnits) -> Value {
    let Job { fit, calibration, predictions } = job();
    let json = main_job_summary(fit, calibration, predictions, units).to_json().expect("JSON");
    serde_json::from_str(&json).expect("valid JSON")
}

fn assert_says(text: &str, expected: &[&str]) {
    for one in expected {
        assert!(text.contains(one), "`{one}` is not in\n{text}");
    }
}

/// The page without its document type and with XML's way of writing what HTML leaves open.
fn as_xml(html: &str) -> String {
    let html = html.replace("<!DOCTYPE html>\n", "");
    html.lines()
        .map(|line| if line.starts_with("<meta") { line.replace('>', "/>") } else { line.to_owned() } + "\n")
        .collect()
}

#[test]
fn the_fit_of_a_grade_names_constants_units_intervals_and_scatter() {
    let text = describe_free_rise_text(&job().fit, DisplayUnits::Metric);
    assert_says(&text, &["Grade K: fitted to 3 cup tests", "K at 19 C", "gas_yield_mol_kg", "gel_activation_kJ_mol"]);
    assert_says(
        &text,
        &["value ± error", "95 % interval", "expected before (prior)", "cream (s)", "free-rise density (kg/m3)"],
    );
    assert_says(&text, &["361", " mm ", " K ", "mix warmer by (K)", "independent"]);
    for estimate in job().fit.estimates.iter().filter(|e| e.record.is_none()) {
        let scale = estimate.parameter.label().scale;
        let (low, high) = estimate.interval_95;
        let interval =
            |digits| format!("{} to {}", significant(scale * low, digits), significant(scale * high, digits));
        assert!(text.contains(&interval(3)) || text.contains(&interval(4)), "{} in\n{text}", interval(4));
        assert_says(&text, &[estimate.parameter.label().name]);
    }
}

#[test]
fn the_calibration_shows_each_casting_and_what_it_teaches() {
    let text = describe_calibration_text(&job().calibration, DisplayUnits::Metric);
    assert_says(&text, &["calibrated to 8 castings", "misfit ratio", "part (g)", "peak (kPa)", "at least 60.0 / "]);
    assert_says(&text, &["A1 ", "A8 ", "44.4 / ", "short / short", "vent_size_factor", "gas_retention"]);
    assert!(text.contains("fill the mold with water"), "{text}");
    let charts = describe_calibration(&job().calibration, DisplayUnits::Metric);
    let charts = charts.iter().filter(|s| matches!(s, Section::Chart { .. })).count();
    assert_eq!(charts, 3, "predicted against weighed, and two traces");
    let text: String = describe_calibration(&job().calibration, DisplayUnits::Metric)
        .iter()
        .filter_map(|s| if let Section::Chart { svg, caption } = s { Some(format!("{svg}{caption}")) } else { None })
        .collect();
    assert_says(
        &text,
        &["what the model may miss (± 5.3 kPa)", "what the model is expected to miss of a trace", "(95 %: "],
    );
}

#[test]
fn a_prediction_gives_its_settings_intervals_and_cautions() {
    let (casting, prediction) = &job().predictions[0];
    let text = describe_prediction_text(prediction, casting, DisplayUnits::Metric);
    let (low, high) = prediction.at(Outcome::PeakPressure).interval_95;
    let interval = format!("{} to {} kPa", fixed(1e-3 * low, 1), fixed(1e-3 * high, 1));
    assert_says(&text, &["62.0 g, vent 3.0 mm", &interval, "doubt", "scatter", "packing factor", "hottest core"]);
    assert_says(&text, &["Fills before it gels by", "clamp force to hold the peak", "Cautions"]);
    cautions().lines().for_each(|line| assert!(prediction_html().contains(line.split(':').next().unwrap_or(line))));
    let (casting, prediction) = &job().predictions[2];
    let text = describe_prediction_text(prediction, casting, DisplayUnits::Metric);
    assert_says(&text, &["Does not fill", "Short shot"]);
}

fn prediction_html() -> String {
    let (casting, prediction) = &job().predictions[0];
    let sections = describe_prediction(prediction, casting, DisplayUnits::Metric);
    sections.iter().map(Section::to_html).collect::<String>().replace("&#39;", "'")
}

#[test]
fn text_and_html_hold_the_same_cells() {
    let sections = describe_free_rise(&job().fit, DisplayUnits::Metric);
    let text = sections_text(&sections);
    let html: String = sections.iter().filter(|s| matches!(s, Section::Table(_))).map(Section::to_html).collect();
    let document = format!("<all>{html}</all>");
    let document = Document::parse(&document).expect("well-formed");
    let cells: Vec<&str> = document.descendants().filter(|n| n.has_tag_name("td")).filter_map(|n| n.text()).collect();
    assert!(cells.len() > 100);
    cells.iter().for_each(|cell| assert_says(&text, &[cell]));
}

#[test]
fn the_page_is_well_formed_and_needs_nothing_else() {
    let html = page(DisplayUnits::Metric);
    let xml = as_xml(&html);
    Document::parse_with_options(&xml, ParsingOptions { nodes_limit: 1_000_000, ..Default::default() })
        .expect("well-formed");
    assert!(
        !html.contains("<script") && !html.contains("<link") && !html.contains("src=") && !html.contains("@import")
    );
    let links = html.replace("xmlns=\"http://www.w3.org/2000/svg\"", "");
    assert!(!links.contains("http"), "a link leaves the page");
    let first = &html[..html.find("<figure").expect("a chart")];
    assert_says(first, &["In short", "Peak back pressure", "Density of the part", "95 %", "Trust it?"]);
    assert_says(first, &["charge 72.0 g is beyond what was cast", "vent 10.0 mm is beyond what was cast"]);
    assert_eq!(html.matches("class=\"cautions\"").count(), 1);
    assert!(!html.contains("NaN"));
}

#[test]
fn us_units_show_up_everywhere() {
    let html = page(DisplayUnits::UsCustomary);
    assert_says(&html, &[" psi", " lb/ft3", " oz", "°F", " lbf", "part (oz)", "peak (psi)", "mix warmer by (°F)"]);
    for metric in [" kPa<", " g<", " kg/m3<", "°C<", " mm<"] {
        assert!(!html.contains(metric), "{metric}");
    }
    let peak = &summary(DisplayUnits::UsCustomary)["entries"]["predictions"][0]["peak_pressure"];
    assert_eq!(peak["unit"], "psi");
    let psi = peak["value"].as_f64().expect("a number");
    assert!((psi * 6894.757 - job().predictions[0].1.at(Outcome::PeakPressure).value).abs() < 1.0);
}

#[test]
fn the_summary_holds_finite_numbers_with_units_errors_and_status() {
    let summary = summary(DisplayUnits::Metric);
    let entries = &summary["entries"];
    let yields = &entries["grade"]["parameters"]["gas_yield_mol_kg"];
    assert_eq!(yields["unit"], "mol/kg");
    assert!(yields["standard_error"].as_f64().is_some_and(|e| e > 0.0) && yields["status"].is_string());
    let activation = entries["grade"]["parameters"]["gel_activation_kJ_mol"]["value"].as_f64().expect("a number");
    assert!((20.0..90.0).contains(&activation), "{activation} kJ/mol");
    assert_eq!(entries["mold"]["castings"].as_array().map(Vec::len), Some(8));
    assert!(entries["grade"]["logs"][0]["rise_scatter"]["independent_readings"]["value"].as_f64().is_some());
    assert_eq!(entries["predictions"][0]["density"]["unit"], "kg/m3");
    assert_eq!(entries["predictions"][1]["trust"], "With care");
    assert_finite(&summary);
}

/// `value`, errors and intervals are numbers, never null.
fn assert_finite(value: &Value) {
    match value {
        Value::Object(fields) => {
            for name in ["value", "standard_error", "interval_95"] {
                let found = fields.get(name);
                assert!(found.is_none_or(|v| v.is_number() || v.is_array()), "{name} of {value}");
            }
            let is_number = fields.contains_key("unit");
            assert!(!is_number || fields.values().all(|v| !v.is_null()), "{value}");
            fields.values().for_each(assert_finite);
        }
        Value::Array(items) => items.iter().for_each(assert_finite),
        _ => {}
    }
}

#[test]
fn the_chart_of_a_prediction_has_the_interval_of_its_peak() {
    let predictions = &job().predictions;
    let chart = |(_, p): &(Casting, Prediction), units| {
        prediction_chart(p, None, "next", Sheet { units, ..Sheet::default() }).expect("a chart")
    };
    let (us, near) = (DisplayUnits::UsCustomary, &predictions[0]);
    for (units, label, by, decimals) in [(DisplayUnits::Metric, "kPa", 1e-3, 1), (us, "psi", 1.0 / 6894.757, 2)] {
        let svg = chart(near, units);
        assert!(Document::parse(&svg).is_ok());
        let (low, high) = near.1.at(Outcome::PeakPressure).interval_95;
        let words = format!("(95 %: {:.decimals$} to {:.decimals$} {label})", by * low, by * high);
        assert_says(&svg, &[&words]);
    }
    // The run alone has none, and about no pressure at all there is none to show.
    let run = &near.1.run;
    let bare = casting_chart(run, None, "next", Sheet::default()).expect("a chart");
    assert!(!bare.contains("95 %") && bare.contains("peak "));
    assert_eq!(predictions[2].1.run.result.fill_time, None);
    let short = chart(&predictions[2], DisplayUnits::Metric);
    assert!(!short.contains("95 %") && short.contains("peak 0.0 kPa"), "{short}");
    // The axis has room for the bar and its words, however wide.
    let mut wide = near.1.clone();
    let set = |prediction: &mut Prediction, interval: (f64, f64)| {
        let peak = prediction.predicted.iter_mut().find(|(of, _)| *of == Outcome::PeakPressure);
        peak.and_then(|(_, p)| p.as_mut()).expect("a peak").interval_95 = interval;
    };
    set(&mut wide, (0.0, 900e3));
    let svg = prediction_chart(&wide, None, "next", Sheet::default()).expect("a chart");
    assert_says(&svg, &["(95 %: 0.0 to 900.0 kPa)", ">\n1000\n<"]);
    set(&mut wide, (f64::NAN, f64::INFINITY));
    let undrawable = prediction_chart(&wide, None, "next", Sheet::default()).expect("a chart");
    assert_eq!(undrawable, bare);
}

#[test]
fn charts_have_names_of_their_own_and_the_same_bytes_twice() {
    let Job { fit, calibration, predictions } = job();
    let charts = main_job_charts(fit, calibration, predictions, DisplayUnits::Metric);
    let names: Vec<&str> = charts.iter().map(|(name, _)| name.as_str()).collect();
    assert_eq!(
        names,
        [
            "predicted_1.svg",
            "predicted_2.svg",
            "predicted_3.svg",
            "weighed.svg",
            "casting_A4.svg",
            "casting_A7.svg",
            "rise_curves.svg",
            "rise_K_at_19_C.svg",
            "rise_K_at_23_C.svg",
            "rise_K_at_28_C.svg",
        ]
    );
    charts.iter().for_each(|(name, svg)| assert!(Document::parse(svg).is_ok(), "{name}"));
    assert_eq!(charts, main_job_charts(fit, calibration, predictions, DisplayUnits::Metric));
    assert_eq!(page(DisplayUnits::Metric), page(DisplayUnits::Metric));
    assert_eq!(summary(DisplayUnits::Metric), summary(DisplayUnits::Metric));
}

#[test]
fn a_curve_at_a_logs_times_is_the_fitted_one() {
    let fit = &job().fit;
    for (i, fitted) in fit.logs.iter().enumerate() {
        let curve = fit.curve(i, &fitted.log.time).expect("curve");
        let pairs = curve.rise.sensed.iter().zip(&fitted.rise.sensed);
        assert!(pairs.clone().all(|(a, b)| (a - b).abs() < 0.01), "log {i}");
        let heights = fitted.log.height.as_ref().expect("heights");
        let squares: f64 = curve.height_or_volume.iter().zip(heights).map(|(a, b)| (a - b).powi(2)).sum();
        let scatter = fitted.rise_noise.expect("noise").scatter;
        assert!(((squares / heights.len() as f64).sqrt() / scatter - 1.0).abs() < 0.05, "log {i}");
    }
    assert!(fit.curve(fit.logs.len(), &[0.0]).is_err());
}
