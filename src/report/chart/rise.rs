//! The chart of one rise log: rise, temperature and residuals over time, with the stopwatch times.

use super::axis::Axis;
use super::canvas::{Anchor, Canvas, Mark, Sheet, drawn};
use super::curves::{Course, ModelCurve, named_times, rise_of};
use super::labels::{spread, text_width};
use super::palette::{ACCENT, INK, MEASURED, MODEL, QUIET};
use super::panel::{BELOW, LEFT, Panel, RIGHT, Sample, TICK, TOP, headline, level_ticks, stacked, upright_ticks};
use crate::error::{Error, Result};
use crate::records::{RiseLog, Stopwatch};
use crate::units::Quantity;

/// Height of the row with the names of the stopwatch times, pixels.
const NAMES: f64 = 24.0;

/// Where an axis of values begins.
#[derive(Clone, Copy, PartialEq)]
enum Base {
    Data,
    Zero,
    /// Residuals, about zero.
    AroundZero,
}

/// One panel to draw: measured points and the model's curve.
struct Part {
    label: String,
    /// What its points are, where they are no readings.
    legend: String,
    weight: f64,
    measured: Course,
    model: Course,
    base: Base,
}

/// Draws a rise log: height (or volume) and temperature with the fitted curves, the residuals underneath, and the
/// stopwatch times: measured ones as solid lines, fitted ones dashed. Returns an SVG document.
///
/// Readings that are absent or not finite are left out, and so are panels without any; `model` may be absent.
///
/// # Errors
/// [`Error::TooFewRecords`] if neither log nor model has anything to draw; [`Error::Argument`] for a sheet too small.
pub fn rise_log_chart(log: &RiseLog, model: Option<&ModelCurve>, sheet: Sheet) -> Result<String> {
    let none = ModelCurve::default();
    let model = model.unwrap_or(&none);
    let parts = parts(log, model, sheet);
    let watches = (&log.stopwatch, &model.stopwatch);
    if parts.is_empty() && named_times(watches.0).is_empty() {
        return Err(Error::TooFewRecords {
            wanted: format!("a chart of rise log {}", log.name),
            found: "no height, volume, temperature or stopwatch time".to_owned(),
            advice: "log at least one of them".to_owned(),
        });
    }
    let title = format!("Rise of {}", log.name);
    drawn(sheet, &title, |canvas, sheet| draw(canvas, &title, sheet, &parts, watches))
}

fn parts(log: &RiseLog, model: &ModelCurve, sheet: Sheet) -> Vec<Part> {
    let (name, quantity, rise) = rise_of(log);
    let temps = log.temp.as_deref().unwrap_or_default();
    let part = |name: &str, weight, base, quantity, measured: &[f64], fitted: &[f64]| {
        let unit = sheet.units.of(quantity);
        let courses = (Course::shown(&log.time, measured, &unit), Course::shown(&model.time, fitted, &unit));
        Part { label: unit.named(name), legend: String::new(), weight, measured: courses.0, model: courses.1, base }
    };
    let rise = part(name, 3.0, Base::Zero, quantity, rise, &model.height_or_volume);
    let temp = part("temperature", 2.4, Base::Data, Quantity::Temperature, temps, &model.sensed_temp);
    let residuals =
        [residual(&rise, name, sheet, quantity), residual(&temp, "temperature", sheet, Quantity::TemperatureRise)];
    let filled = |part: &Part| !(part.measured.is_empty() && part.model.is_empty());
    [rise, temp].into_iter().chain(residuals).filter(filled).collect()
}

fn residual(of: &Part, name: &str, sheet: Sheet, quantity: Quantity) -> Part {
    Part {
        label: sheet.units.of(quantity).label.to_owned(),
        legend: format!("{name}: measured less fitted"),
        weight: 1.5,
        measured: of.measured.above(&of.model),
        model: Course::default(),
        base: Base::AroundZero,
    }
}

fn draw(canvas: &mut Canvas, title: &str, sheet: Sheet, parts: &[Part], watches: (&Stopwatch, &Stopwatch)) {
    let (width, height) = (f64::from(sheet.width), f64::from(sheet.height));
    headline(canvas, title, remark(watches), width);
    let times = [named_times(watches.0), named_times(watches.1)].concat();
    let all_times = parts.iter().flat_map(|part| part.measured.time.iter().chain(&part.model.time)).copied();
    let x = Axis::from_zero(all_times.chain(times.iter().map(|(_, time)| *time)), level_ticks(width - LEFT));
    let weights: Vec<f64> = if parts.is_empty() { vec![1.0] } else { parts.iter().map(|part| part.weight).collect() };
    let places = stacked(TOP + NAMES, height - BELOW, &weights);
    let panels: Vec<Panel> = places
        .iter()
        .enumerate()
        .map(|(i, &(top, bottom))| Panel {
            left: LEFT,
            top,
            right: width - RIGHT,
            bottom,
            x: x.clone(),
            y: y_axis(parts.get(i), upright_ticks(bottom - top)),
        })
        .collect();
    for (i, panel) in panels.iter().enumerate() {
        let label = (i + 1 == panels.len()).then_some("time since the end of mixing (s)");
        panel.frame(canvas, label, parts.get(i).map_or("", |part| &part.label));
        draw_times(canvas, panel, watches);
        if let Some(part) = parts.get(i) {
            draw_part(canvas, panel, part, if i == 0 { NAMES } else { 0.0 });
        }
    }
    draw_names(canvas, &panels[0], watches);
}

fn remark((measured, fitted): (&Stopwatch, &Stopwatch)) -> &'static str {
    match (named_times(measured).is_empty(), named_times(fitted).is_empty()) {
        (true, true) => "",
        (false, true) => "upright lines: stopwatch times",
        (true, false) => "upright lines: fitted stopwatch times",
        (false, false) => "upright lines: stopwatch times, taken (solid) and fitted (dashed)",
    }
}

fn y_axis(part: Option<&Part>, ticks: usize) -> Axis {
    let Some(part) = part else { return Axis::between(0.0, 1.0, 2) };
    let values = part.measured.value.iter().chain(&part.model.value).copied();
    match part.base {
        Base::Data => Axis::over(values, ticks),
        Base::Zero => Axis::from_zero(values, ticks),
        Base::AroundZero => Axis::over(values.chain([0.0]), ticks),
    }
}

fn draw_part(canvas: &mut Canvas, panel: &Panel, part: &Part, names: f64) {
    if part.base == Base::AroundZero {
        let zero = [panel.at(panel.x.low, 0.0), panel.at(panel.x.high, 0.0)];
        canvas.line(zero[0], zero[1], QUIET, 1.2);
        panel.raised(names).legend(canvas, &[(Sample::Point(Mark::Dot, ACCENT), &part.legend)]);
        return panel.marks(canvas, &part.measured.time, &part.measured.value, Mark::Dot, ACCENT);
    }
    let mut legend = Vec::new();
    if !part.measured.is_empty() {
        legend.push((Sample::Point(Mark::Dot, MEASURED), "measured"));
    }
    if !part.model.is_empty() {
        legend.push((Sample::Line(MODEL), "fitted"));
    }
    panel.raised(names).legend(canvas, &legend);
    panel.marks(canvas, &part.measured.time, &part.measured.value, Mark::Dot, MEASURED);
    canvas.path(&panel.points(&part.model.time, &part.model.value), MODEL, 2.0);
}

fn draw_times(canvas: &mut Canvas, panel: &Panel, (measured, fitted): (&Stopwatch, &Stopwatch)) {
    named_times(measured).into_iter().for_each(|(_, time)| panel.upright(canvas, time, INK, false));
    named_times(fitted).into_iter().for_each(|(_, time)| panel.upright(canvas, time, MODEL, true));
}

/// Names above the lines, each with a leader: at the measured time, or the fitted one where none was taken.
fn draw_names(canvas: &mut Canvas, panel: &Panel, (measured, fitted): (&Stopwatch, &Stopwatch)) {
    let mut times = named_times(measured);
    for (name, time) in named_times(fitted) {
        if !times.iter().any(|(known, _)| *known == name) {
            times.push((name, time));
        }
    }
    times.sort_by(|a, b| a.1.total_cmp(&b.1));
    let texts: Vec<String> = times.iter().map(|(name, time)| format!("{name} {time:.0} s")).collect();
    let widths: Vec<f64> = texts.iter().map(|text| text_width(text, TICK.size) + 8.0).collect();
    let ends: Vec<f64> = times.iter().map(|(_, time)| panel.at(*time, panel.y.low).0).collect();
    for ((text, x), end) in texts.iter().zip(spread(&ends, &widths, panel.left, panel.right)).zip(&ends) {
        canvas.text(text, (x, panel.top - NAMES + 4.0), Anchor::Center, TICK);
        canvas.line((x, panel.top - NAMES + 11.0), (*end, panel.top), QUIET, 0.8);
    }
}
