//! The chart of one casting: gauge pressure, fill and temperature over time, with its phases.

use super::axis::{Axis, is_drawable};
use super::canvas::{Anchor, Canvas, Mark, Sheet, drawn};
use super::curves::Course;
use super::labels::{spread, text_width};
use super::palette::{ACCENT, INK, MEASURED, MODEL, PHASES};
use super::panel::{
    BELOW, LABEL, LEFT, Panel, RIGHT, Sample, TICK, TOP, headline, level_ticks, stacked, upright_ticks,
};
use crate::error::{Error, Result};
use crate::fit::missed_of_trace;
use crate::model::{Phase, Run};
use crate::records::Trace;
use crate::report::display::{DisplayUnits, Shown};
use crate::units::Quantity;

/// The pressure axis reaches at least this far, Pa, so that a vented, unfilled mold does not look pressurized.
const LEAST_PRESSURE: f64 = 5e3;
/// Height of the row with the names of the phases, pixels.
const NAMES: f64 = 18.0;

/// What stands beside the model's courses; pressures gauge, SI.
#[derive(Clone, Copy, Default)]
pub(in crate::report) struct Beside<'a> {
    /// What was measured.
    pub observed: Option<&'a Trace>,
    /// The 95 % interval of the peak.
    pub peak_95: Option<(f64, f64)>,
}

/// Draws a casting: gauge pressure with its peak, fill, mean temperature and the core's without heat loss, over shaded
/// phases; a measured trace as points, and about the pressure what the model is believed to miss of it. Returns an SVG document.
///
/// # Errors
/// [`Error::TooFewRecords`] for a run without courses; [`Error::Argument`] for a sheet too small.
pub fn casting_chart(run: &Run, observed: Option<&Trace>, title: &str, sheet: Sheet) -> Result<String> {
    doubted_chart(run, Beside { observed, peak_95: None }, title, sheet)
}

/// As [`casting_chart`], with the interval of the peak where there is one.
pub(in crate::report) fn doubted_chart(run: &Run, beside: Beside, title: &str, sheet: Sheet) -> Result<String> {
    if run.trace.time.len() < 2 {
        return Err(Error::TooFewRecords {
            wanted: "a chart of the casting".to_owned(),
            found: format!("{} points in time", run.trace.time.len()),
            advice: "simulate it with 200 points or so".to_owned(),
        });
    }
    drawn(sheet, title, |canvas, sheet| draw(canvas, run, beside, title, sheet))
}

fn draw(canvas: &mut Canvas, run: &Run, beside: Beside, title: &str, sheet: Sheet) {
    let (width, height) = (f64::from(sheet.width), f64::from(sheet.height));
    headline(canvas, title, "", width);
    let times = run.trace.time.iter().copied().filter(|t| is_drawable(*t));
    let (start, end) = times.fold((0.0, 0.0), |(low, high): (f64, f64), t| (low.min(t), high.max(t)));
    let x = Axis::between(start, end, level_ticks(width - LEFT));
    let places = stacked(TOP + NAMES, height - BELOW, &[3.0, 1.6, 2.4]);
    let panel = |i: usize, y: fn(&Run, Beside, DisplayUnits, usize) -> Axis| {
        let (top, bottom) = places[i];
        let y = y(run, beside, sheet.units, upright_ticks(bottom - top));
        Panel { left: LEFT, top, right: width - RIGHT, bottom, x: x.clone(), y }
    };
    let panels = [panel(0, pressure_axis), panel(1, |_, _, _, ticks| fill_axis(ticks)), panel(2, temp_axis)];
    let bands = bands(run, end);
    panels.iter().for_each(|panel| shade(canvas, panel, &bands));
    name_bands(canvas, &panels[0], &bands);
    draw_pressure(canvas, &panels[0], run, beside, sheet.units);
    draw_fill(canvas, &panels[1], run);
    draw_temp(canvas, &panels[2], run, beside.observed, sheet.units);
}

/// The phases with their beginnings and ends, s.
fn bands(run: &Run, end: f64) -> Vec<(Phase, f64, f64)> {
    let ends = run.phases.iter().skip(1).map(|(_, start)| *start).chain([end]);
    run.phases.iter().zip(ends).map(|((phase, start), end)| (*phase, *start, end)).filter(|b| b.2 > b.1).collect()
}

fn shade(canvas: &mut Canvas, panel: &Panel, bands: &[(Phase, f64, f64)]) {
    for (phase, start, end) in bands {
        let (left, right) = (panel.at(*start, panel.y.low).0, panel.at(*end, panel.y.low).0);
        canvas.fill((left, panel.top), (right.min(panel.right), panel.bottom), PHASES[*phase as usize]);
    }
}

fn name_bands(canvas: &mut Canvas, panel: &Panel, bands: &[(Phase, f64, f64)]) {
    let name = |phase: Phase| match phase {
        Phase::Open => "open",
        Phase::Rising => "rising",
        Phase::Filled => "filled",
        Phase::Set => "set",
    };
    let texts: Vec<String> =
        bands.iter().map(|(phase, start, _)| format!("{} from {start:.0} s", name(*phase))).collect();
    let widths: Vec<f64> = texts.iter().map(|text| text_width(text, TICK.size) + 30.0).collect();
    let centers: Vec<f64> = bands.iter().map(|(_, start, end)| panel.at(0.5 * (start + end), panel.y.low).0).collect();
    let y = panel.top - 0.5 * NAMES;
    let places = spread(&centers, &widths, panel.left, panel.right);
    for (((text, x), width), (phase, ..)) in texts.iter().zip(places).zip(&widths).zip(bands) {
        let left = x - 0.5 * width;
        canvas.fill((left + 4.0, y - 6.0), (left + 18.0, y + 6.0), PHASES[*phase as usize]);
        canvas.text(text, (left + 22.0, y), Anchor::Left, TICK);
    }
}

fn seen(observed: Option<&Trace>, pick: fn(&Trace) -> &Option<Vec<f64>>, unit: &Shown) -> Course {
    let series = observed.and_then(|trace| Some((trace, pick(trace).as_ref()?)));
    series.map(|(trace, values)| Course::shown(&trace.time, values, unit)).unwrap_or_default()
}

fn pressure_axis(run: &Run, beside: Beside, units: DisplayUnits, ticks: usize) -> Axis {
    let unit = units.of(Quantity::GaugePressure);
    let seen = seen(beside.observed, |trace| &trace.pressure, &unit);
    let model = Course::shown(&run.trace.time, &run.trace.pressure, &unit);
    let room = [1.18 * unit.value(summit(run, beside, &unit)), unit.value(LEAST_PRESSURE)];
    Axis::from_zero(model.value.into_iter().chain(seen.value).chain(room), ticks)
}

/// What the model is believed to miss of the pressure that was measured, Pa: of what a fit looks at, from closing to demold.
fn missed(run: &Run, beside: Beside) -> Option<f64> {
    let trace = beside.observed?;
    let (from, to) = (closed(run)?, *run.trace.time.last()?);
    let readings = trace.time.iter().zip(trace.pressure.as_ref()?);
    let looked_at = readings.filter(|(time, p)| (from..=to).contains(*time) && is_drawable(**p));
    let read: Vec<f64> = looked_at.map(|(_, p)| *p).collect();
    Some(missed_of_trace(&read)).filter(|missed| *missed > 0.0)
}

/// When the mold is closed, s.
fn closed(run: &Run) -> Option<f64> {
    run.phases.iter().find(|(phase, _)| *phase != Phase::Open).map(|(_, time)| *time)
}

/// The interval of the peak, where one can be shown: about no pressure at all there is none.
fn peak_bar(run: &Run, beside: Beside, unit: &Shown) -> Option<(f64, f64)> {
    let is_shown = unit.text(run.result.peak_pressure) != unit.text(0.0);
    beside.peak_95.filter(|(low, high)| is_shown && is_drawable(*low) && is_drawable(*high))
}

fn fill_axis(ticks: usize) -> Axis {
    Axis::between(0.0, 108.0, ticks)
}

fn temp_axis(run: &Run, beside: Beside, units: DisplayUnits, ticks: usize) -> Axis {
    let unit = units.of(Quantity::Temperature);
    let seen = seen(beside.observed, |trace| &trace.temp, &unit);
    let model = run.trace.temp.iter().chain(&run.trace.core_temp).map(|t| unit.value(*t));
    Axis::over(model.chain(seen.value), ticks)
}

fn draw_pressure(canvas: &mut Canvas, panel: &Panel, run: &Run, beside: Beside, units: DisplayUnits) {
    let unit = units.of(Quantity::GaugePressure);
    panel.frame(canvas, None, &unit.named("gauge pressure"));
    let seen = seen(beside.observed, |trace| &trace.pressure, &unit);
    let model = Course::shown(&run.trace.time, &run.trace.pressure, &unit);
    let missed = missed(run, beside);
    let words = missed.map(|missed| format!("what the model may miss (± {})", unit.text(missed)));
    let mut entries = vec![(Sample::Line(MODEL), "predicted")];
    entries.extend(measured(&seen));
    entries.extend(words.as_deref().map(|words| (Sample::Band(MODEL), words)));
    panel.raised(NAMES).legend(canvas, &entries);
    missed.into_iter().for_each(|missed| draw_missed(canvas, panel, run, unit.difference(missed), &model));
    draw_seen(canvas, panel, &seen);
    canvas.path(&panel.points(&model.time, &model.value), MODEL, 2.0);
    draw_peak(canvas, panel, run, beside, &unit);
}

/// The highest of the peak, its bar and the band over it, Pa.
fn summit(run: &Run, beside: Beside, unit: &Shown) -> f64 {
    let peak = run.result.peak_pressure;
    let band = peak + missed(run, beside).unwrap_or(0.0);
    peak_bar(run, beside, unit).map_or(band, |(_, high)| band.max(high))
}

/// The band about the pressure, from when the mold is closed.
fn draw_missed(canvas: &mut Canvas, panel: &Panel, run: &Run, missed: f64, model: &Course) {
    let from = closed(run).map_or(model.time.len(), |closed| model.time.partition_point(|time| *time < closed));
    let edge = |by: f64| -> Vec<(f64, f64)> {
        let within = |value: f64| (value + by).clamp(panel.y.low, panel.y.high);
        model.time[from..]
            .iter()
            .zip(&model.value[from..])
            .map(|(time, value)| panel.at(*time, within(*value)))
            .collect()
    };
    canvas.band(&edge(-missed), &edge(missed), MODEL);
}

fn draw_peak(canvas: &mut Canvas, panel: &Panel, run: &Run, beside: Beside, unit: &Shown) {
    let (time, peak) = (run.result.peak_time, run.result.peak_pressure);
    if !((panel.x.low..=panel.x.high).contains(&time) && is_drawable(peak)) {
        return;
    }
    let point = panel.at(time, unit.value(peak));
    let mut text = format!("peak {} at {time:.0} s", unit.text(peak));
    if let Some(interval) = peak_bar(run, beside, unit) {
        let [low, high] = [interval.0, interval.1].map(|end| panel.at(time, unit.value(end)).1);
        canvas.line((point.0, low), (point.0, high), ACCENT, 1.4);
        [low, high].into_iter().for_each(|y| canvas.line((point.0 - 4.0, y), (point.0 + 4.0, y), ACCENT, 1.4));
        text += &format!(" (95 %: {})", unit.interval(interval));
    }
    canvas.mark(Mark::Diamond, point, ACCENT, 4.0);
    let (_, top) = panel.at(time, unit.value(summit(run, beside, unit)));
    let half = 0.5 * text_width(&text, LABEL.size) + 4.0;
    let x = point.0.clamp(panel.left + half, (panel.right - half).max(panel.left + half));
    canvas.text(&text, (x, top - 15.0), Anchor::Center, LABEL);
}

fn draw_fill(canvas: &mut Canvas, panel: &Panel, run: &Run) {
    panel.frame(canvas, None, "fill (%)");
    panel.legend(canvas, &[(Sample::Line(MODEL), "share of the cavity that foam fills")]);
    let fill = Course::shown(&run.trace.time, &run.trace.fill, &DisplayUnits::Metric.of(Quantity::Fraction));
    let full = [panel.at(panel.x.low, 100.0), panel.at(panel.x.high, 100.0)];
    canvas.line(full[0], full[1], INK, 0.8);
    canvas.path(&panel.points(&fill.time, &fill.value), MODEL, 2.0);
}

fn draw_temp(canvas: &mut Canvas, panel: &Panel, run: &Run, observed: Option<&Trace>, units: DisplayUnits) {
    let unit = units.of(Quantity::Temperature);
    panel.frame(canvas, Some("time since the end of mixing (s)"), &unit.named("temperature"));
    let seen = seen(observed, |trace| &trace.temp, &unit);
    let (mean, core) = (
        Course::shown(&run.trace.time, &run.trace.temp, &unit),
        Course::shown(&run.trace.time, &run.trace.core_temp, &unit),
    );
    // Only foam in layers has a profile, and a core that loses heat.
    let of_core = if run.profile.is_some() { "middle of the foam" } else { "core, if it lost no heat" };
    let mut entries = vec![(Sample::Line(MODEL), "mean of the foam"), (Sample::Dashes(ACCENT), of_core)];
    entries.extend(measured(&seen));
    panel.legend(canvas, &entries);
    draw_seen(canvas, panel, &seen);
    canvas.path(&panel.points(&mean.time, &mean.value), MODEL, 2.0);
    canvas.dashed(&panel.points(&core.time, &core.value), ACCENT, 2.0);
}

/// What stands for measured points in a legend, if there are any.
fn measured(seen: &Course) -> Option<(Sample, &'static str)> {
    (!seen.is_empty()).then_some((Sample::Point(Mark::Dot, MEASURED), "measured"))
}

/// Measured points from pour to demold.
fn draw_seen(canvas: &mut Canvas, panel: &Panel, seen: &Course) {
    let points = seen.time.iter().zip(&seen.value).filter(|(time, _)| (panel.x.low..=panel.x.high).contains(*time));
    let (times, values): (Vec<f64>, Vec<f64>) = points.unzip();
    panel.marks(canvas, &times, &values, Mark::Dot, MEASURED);
}
