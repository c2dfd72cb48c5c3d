//! The chart of a diagnosis: how far each reading of each casting is from what the others predict, in standard deviations.

use super::axis::Axis;
use super::canvas::{Anchor, Canvas, MARKS, Sheet, drawn};
use super::labels::fitted;
use super::palette::{ACCENT, GRID, INK, PHASES, QUIET, SERIES};
use super::panel::{BELOW, HEADER, LABEL, Panel, RIGHT, Sample, TICK, TOP, headline, level_ticks};
use crate::error::{Error, Result};

/// A casting's readings: what each belongs to, and its deviation in standard deviations.
#[derive(Clone, Debug, PartialEq)]
pub struct Deviating {
    /// The trial's name.
    pub name: String,
    /// Readings: the series it belongs to, standard deviations above what the others predict.
    pub readings: Vec<(&'static str, f64)>,
    /// Whether it does not fit the others.
    pub is_odd: bool,
}

/// What names of trials take at the left, pixels.
const NAMES: f64 = 120.0;
/// Further out than this, points stand at the edge.
const FURTHEST: f64 = 12.0;
/// Bands that are shaded: where two thirds, and where 95 % of readings lie.
const BANDS: [f64; 2] = [2.0, 1.0];

/// Draws a line a casting, a point a reading; castings that do not fit have their names in another color. Readings further out
/// than 12 standard deviations stand at the edge. Returns an SVG document.
///
/// # Errors
/// [`Error::TooFewRecords`] without a reading; [`Error::Argument`] for a sheet too small.
pub fn deviation_chart(rows: &[Deviating], sheet: Sheet) -> Result<String> {
    let series = series(rows);
    if series.is_empty() {
        return Err(Error::TooFewRecords {
            wanted: "a chart of how castings fit".to_owned(),
            found: format!("{} castings without a reading", rows.len()),
            advice: "weigh the parts".to_owned(),
        });
    }
    let title = "How each casting fits the others";
    drawn(sheet, title, |canvas, sheet| {
        let (width, height) = (f64::from(sheet.width), f64::from(sheet.height));
        headline(canvas, title, "bands: 1 and 2 standard deviations", width);
        let reach = rows.iter().flat_map(|row| &row.readings).map(|(_, x)| shown(*x).abs()).fold(3.5, f64::max);
        let (left, right) = (NAMES, width - RIGHT);
        let x = Axis::between(-1.05 * reach, 1.05 * reach, level_ticks(right - left));
        let y = Axis::between(0.0, rows.len() as f64, 2);
        let panel = Panel { left, top: TOP + HEADER, right, bottom: height - BELOW, x, y };
        draw(canvas, &panel, rows, &series);
    })
}

/// The series in the order in which they first appear.
fn series(rows: &[Deviating]) -> Vec<&'static str> {
    let mut out = Vec::new();
    for (name, _) in rows.iter().flat_map(|row| &row.readings) {
        if !out.contains(name) {
            out.push(*name);
        }
    }
    out
}

fn shown(deviations: f64) -> f64 {
    deviations.clamp(-FURTHEST, FURTHEST)
}

fn draw(canvas: &mut Canvas, panel: &Panel, rows: &[Deviating], series: &[&'static str]) {
    for (band, color) in BANDS.iter().zip([PHASES[0], PHASES[1]]) {
        canvas.fill(panel.at(-band, panel.y.high), panel.at(*band, panel.y.low), color);
    }
    for tick in &panel.x.ticks {
        let (at, bottom) = panel.at(*tick, panel.y.low);
        canvas.line((at, panel.top), (at, bottom), GRID, 1.0);
        canvas.text(&panel.x.label(*tick), (at, bottom + 14.0), Anchor::Center, TICK);
    }
    let middle = 0.5 * (panel.left + panel.right);
    let label = "measured less predicted by the others (standard deviations)";
    canvas.text(label, (middle, panel.bottom + 33.0), Anchor::Center, LABEL);
    panel.upright(canvas, 0.0, QUIET, false);
    for (place, row) in rows.iter().rev().enumerate() {
        draw_row(canvas, panel, row, place as f64 + 0.5, series);
    }
    let legend: Vec<(Sample, &str)> =
        series.iter().enumerate().map(|(i, name)| (Sample::Point(mark(i), SERIES[i % SERIES.len()]), *name)).collect();
    panel.legend(canvas, &legend);
}

fn mark(series: usize) -> super::canvas::Mark {
    MARKS[series % MARKS.len()]
}

fn draw_row(canvas: &mut Canvas, panel: &Panel, row: &Deviating, y: f64, series: &[&'static str]) {
    let (left, level) = panel.at(panel.x.low, y);
    canvas.line((left, level), (panel.right, level), GRID, 1.0);
    let color = if row.is_odd { ACCENT } else { INK };
    let name = if row.is_odd { format!("{} (!)", row.name) } else { row.name.clone() };
    let name = fitted(&name, LABEL.size, NAMES - 16.0);
    let set = super::canvas::Type { bold: row.is_odd, color, ..LABEL };
    canvas.text(&name, (left - 8.0, level), Anchor::Right, set);
    for (name, deviations) in row.readings.iter().filter(|(_, x)| x.is_finite()) {
        let i = series.iter().position(|s| s == name).unwrap_or_default();
        canvas.mark(mark(i), panel.at(shown(*deviations), y), SERIES[i % SERIES.len()], 4.5);
    }
}
