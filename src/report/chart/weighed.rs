//! The chart of predicted against weighed: part mass and, where a gauge was read, peak pressure, one point a trial.

use super::axis::{Axis, is_drawable};
use super::canvas::{Anchor, Canvas, Mark, Sheet, Type, drawn};
use super::labels::{Area, beside, fitted, text_width};
use super::palette::{ACCENT, MODEL, QUIET};
use super::panel::{BELOW, HEADER, LEFT, Panel, RIGHT, Sample, TICK, TOP, headline, level_ticks};
use crate::error::{Error, Result};
use crate::report::display::Shown;
use crate::units::Quantity;

/// One trial's predicted and measured values, in SI units; the pressure is gauge.
#[derive(Clone, Debug, PartialEq)]
pub struct PredictedWeighed {
    /// The trial's name.
    pub name: String,
    /// Mass of the part, kg, if it was weighed.
    pub part_mass: Option<Compared>,
    /// Peak gauge pressure, Pa, if there was a gauge.
    pub peak_pressure: Option<Compared>,
    /// Whether the trial does not fit the others.
    pub is_outlier: bool,
}

/// One quantity, predicted and measured, in SI units.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Compared {
    /// What the model says.
    pub predicted: f64,
    /// Its 95 % interval, lower and upper end.
    pub interval_95: Option<[f64; 2]>,
    /// What was weighed or read.
    pub measured: f64,
    /// Standard error of what was weighed or read.
    pub measured_error: Option<f64>,
    /// Whether the gauge stood at its stop: the true value is at least `measured`.
    pub is_at_stop: bool,
}

/// Longest name of a trial beside its point, and the arrow of a gauge at its stop, pixels.
const LONGEST: f64 = 150.0;
const ARROW: f64 = 22.0;
/// Steps along the line on which both values agree, for keeping names off it.
const STEPS: u32 = 100;
/// How much wider bold text is.
const BOLDER: f64 = 1.15;

/// One point in display units.
struct Point<'a> {
    name: &'a str,
    measured: f64,
    predicted: f64,
    low: f64,
    high: f64,
    spread: f64,
    is_outlier: bool,
    is_at_stop: bool,
}

/// Draws predicted against weighed part mass and, where any was measured, peak gauge pressure: points with their 95 %
/// intervals, labeled with the trials' names, and the line on which both agree. Outliers are diamonds of another color; a
/// reading at the gauge's stop has an arrow to the right. Returns an SVG document.
///
/// # Errors
/// [`Error::TooFewRecords`] if no trial has both values; [`Error::Argument`] for a sheet too small.
pub fn weighed_chart(rows: &[PredictedWeighed], sheet: Sheet) -> Result<String> {
    let mass = (sheet.units.of(Quantity::Mass), "part mass");
    let pressure = (sheet.units.of(Quantity::GaugePressure), "peak gauge pressure");
    let masses = points(rows, |row| row.part_mass, &mass.0);
    let pressures = points(rows, |row| row.peak_pressure, &pressure.0);
    let parts: Vec<_> = [(masses, mass), (pressures, pressure)].into_iter().filter(|(p, _)| !p.is_empty()).collect();
    if parts.is_empty() {
        return Err(Error::TooFewRecords {
            wanted: "a chart of predicted against weighed".to_owned(),
            found: format!("{} trials without a weighed part or a pressure", rows.len()),
            advice: "weigh the parts".to_owned(),
        });
    }
    let title = "Predicted against measured";
    drawn(sheet, title, |canvas, sheet| {
        headline(canvas, title, "bars: 95 % intervals; line: predicted as measured", f64::from(sheet.width));
        let wide = f64::from(sheet.width) / parts.len() as f64;
        for (i, (points, (unit, name))) in parts.iter().enumerate() {
            let (left, right) = (wide * i as f64 + LEFT, wide * (i + 1) as f64 - RIGHT);
            draw(canvas, points, unit, name, (left, right, f64::from(sheet.height) - BELOW));
        }
    })
}

fn points<'a>(
    rows: &'a [PredictedWeighed],
    pick: fn(&PredictedWeighed) -> Option<Compared>,
    unit: &Shown,
) -> Vec<Point<'a>> {
    let point = |row: &'a PredictedWeighed| {
        let both = pick(row).filter(|both| is_drawable(both.predicted) && is_drawable(both.measured))?;
        let [low, high] = both.interval_95.filter(|i| i.iter().all(|x| is_drawable(*x))).unwrap_or([both.predicted; 2]);
        let error = both.measured_error.filter(|e| is_drawable(*e) && *e > 0.0).unwrap_or(0.0);
        Some(Point {
            name: &row.name,
            measured: unit.value(both.measured),
            predicted: unit.value(both.predicted),
            low: unit.value(low),
            high: unit.value(high),
            spread: 1.96 * unit.difference(error),
            is_outlier: row.is_outlier,
            is_at_stop: both.is_at_stop,
        })
    };
    rows.iter().filter_map(point).collect()
}

fn draw(canvas: &mut Canvas, points: &[Point], unit: &Shown, name: &str, (left, right, bottom): (f64, f64, f64)) {
    let values = points
        .iter()
        .flat_map(|p| [p.measured - p.spread, p.measured + p.spread, p.predicted, p.low, p.high])
        .collect::<Vec<_>>();
    let ticks = level_ticks(right - left);
    let axis = Axis::over(values, ticks);
    let panel = Panel { left, top: TOP + HEADER, right, bottom, x: axis.clone(), y: axis };
    let labels = (unit.named(&format!("measured {name}")), unit.named(&format!("predicted {name}")));
    panel.frame(canvas, Some(&labels.0), &labels.1);
    let agree = [panel.at(panel.x.low, panel.y.low), panel.at(panel.x.high, panel.y.high)];
    canvas.line(agree[0], agree[1], QUIET, 1.2);
    points.iter().for_each(|point| draw_bars(canvas, &panel, point));
    for point in points {
        let (mark, color) = look(point);
        canvas.mark(mark, panel.at(point.measured, point.predicted), color, 4.0);
    }
    draw_names(canvas, &panel, points);
    draw_legend(canvas, &panel, points);
}

fn look(point: &Point) -> (Mark, plotters::style::RGBColor) {
    if point.is_outlier { (Mark::Diamond, ACCENT) } else { (Mark::Dot, MODEL) }
}

fn draw_bars(canvas: &mut Canvas, panel: &Panel, point: &Point) {
    let (_, color) = look(point);
    if point.high > point.low {
        let (x, top) = panel.at(point.measured, point.high);
        let (_, bottom) = panel.at(point.measured, point.low);
        canvas.line((x, top), (x, bottom), color, 1.4);
        [top, bottom].into_iter().for_each(|y| canvas.line((x - 4.0, y), (x + 4.0, y), color, 1.4));
    }
    if point.spread > 0.0 {
        let (left, y) = panel.at(point.measured - point.spread, point.predicted);
        let (right, _) = panel.at(point.measured + point.spread, point.predicted);
        canvas.line((left, y), (right, y), color, 1.4);
    }
    if point.is_at_stop {
        let (x, y) = panel.at(point.measured, point.predicted);
        canvas.line((x, y), (x + ARROW, y), color, 1.4);
        canvas.path(&[(x + ARROW - 6.0, y - 4.0), (x + ARROW, y), (x + ARROW - 6.0, y + 4.0)], color, 1.4);
    }
}

fn draw_names(canvas: &mut Canvas, panel: &Panel, points: &[Point]) {
    let within = Area { left: panel.left, top: panel.top, right: panel.right, bottom: panel.bottom };
    let mut taken: Vec<Area> = along_diagonal(&within).collect();
    for point in points {
        let at = panel.at(point.measured, point.predicted);
        taken.push(Area::around(at, 6.0));
        let (top, bottom) = (panel.at(0.0, point.high).1, panel.at(0.0, point.low).1);
        taken.push(Area { left: at.0 - 3.0, top, right: at.0 + 3.0, bottom });
        let (left, right) =
            (panel.at(point.measured - point.spread, 0.0).0, panel.at(point.measured + point.spread, 0.0).0);
        let right = if point.is_at_stop { right.max(at.0 + ARROW) } else { right };
        taken.push(Area { left, top: at.1 - 3.0, right, bottom: at.1 + 3.0 });
    }
    for point in points {
        let set = Type { bold: point.is_outlier, ..TICK };
        let name = fitted(point.name, set.size, LONGEST);
        let width = text_width(&name, if point.is_outlier { BOLDER * set.size } else { set.size });
        let place = beside(panel.at(point.measured, point.predicted), width, set.size + 2.0, &within, &taken);
        canvas.text(&name, (place.left, 0.5 * (place.top + place.bottom)), Anchor::Left, set);
        taken.push(place);
    }
}

/// Small areas along the line on which both values agree.
fn along_diagonal(within: &Area) -> impl Iterator<Item = Area> {
    let (width, height) = (within.right - within.left, within.bottom - within.top);
    let at = move |i: u32| f64::from(i) / f64::from(STEPS);
    let (left, bottom) = (within.left, within.bottom);
    (0..=STEPS).map(move |i| Area::around((left + at(i) * width, bottom - at(i) * height), 3.0))
}

fn draw_legend(canvas: &mut Canvas, panel: &Panel, points: &[Point]) {
    let mut entries = vec![(Sample::Point(Mark::Dot, MODEL), "trial")];
    if points.iter().any(|p| p.is_outlier) {
        entries.push((Sample::Point(Mark::Diamond, ACCENT), "does not fit"));
    }
    panel.legend(canvas, &entries);
}
