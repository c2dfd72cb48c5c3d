//! Charts of doubt: the prior of each parameter beside what is known now, and the profile of one parameter.

use super::axis::Axis;
use super::canvas::{Anchor, Canvas, Mark, Sheet, drawn};
use super::labels::fitted;
use super::palette::{ACCENT, GRID, MODEL, QUIET};
use super::panel::{BELOW, HEADER, LABEL, LEFT, Panel, RIGHT, Sample, TICK, TOP, headline, level_ticks, upright_ticks};
use crate::error::{Error, Result};

/// A parameter as believed and as known, in any one unit.
#[derive(Clone, Debug, PartialEq)]
pub struct BelievedKnown {
    /// Its name with the unit.
    pub name: String,
    /// Limits of the prior.
    pub believed: (f64, f64),
    /// Limits of what is known now.
    pub known: (f64, f64),
    /// The middle of what is known.
    pub median: f64,
}

/// Width kept for names, pixels, and width of the bars.
const NAMES: f64 = 200.0;
const BELIEF_BAR: f64 = 11.0;
const KNOWN_BAR: f64 = 4.0;

/// Draws a row for each parameter: a broad pale bar for its prior, a narrow dark one for what is known, a dot for its
/// middle. All in spreads of the belief from its center, so that rows compare. Returns an SVG document.
///
/// # Errors
/// [`Error::TooFewRecords`] without parameters; [`Error::Argument`] for a sheet too small.
pub fn belief_chart(rows: &[BelievedKnown], title: &str, remark: &str, sheet: Sheet) -> Result<String> {
    if rows.is_empty() {
        return Err(Error::TooFewRecords {
            wanted: "a chart of prior and posterior".to_owned(),
            found: "no parameter".to_owned(),
            advice: "fit at least one".to_owned(),
        });
    }
    drawn(sheet, title, |canvas, sheet| {
        let (width, height) = (f64::from(sheet.width), f64::from(sheet.height));
        headline(canvas, title, remark, width);
        let ends = rows.iter().flat_map(|r| [r.believed.0, r.believed.1, r.known.0, r.known.1]);
        let (left, right) = (NAMES, width - RIGHT);
        let y = Axis::bare(0.0, rows.len() as f64);
        let x = Axis::over(ends, level_ticks(right - left));
        let panel = Panel { left, top: TOP + HEADER, right, bottom: height - BELOW, x, y };
        panel.frame(canvas, Some("standard deviations of the prior, from its center"), "");
        let entries = [(Sample::Line(GRID), "expected before (prior)"), (Sample::Line(MODEL), "known now")];
        panel.legend(canvas, &entries);
        for (i, row) in rows.iter().enumerate() {
            draw_row(canvas, &panel, row, (rows.len() - i) as f64 - 0.5);
        }
    })
}

fn draw_row(canvas: &mut Canvas, panel: &Panel, row: &BelievedKnown, y: f64) {
    let bar = |canvas: &mut Canvas, (low, high): (f64, f64), color, width| {
        canvas.line(panel.at(low, y), panel.at(high, y), color, width);
    };
    bar(canvas, row.believed, GRID, BELIEF_BAR);
    bar(canvas, row.known, MODEL, KNOWN_BAR);
    canvas.mark(Mark::Dot, panel.at(row.median, y), MODEL, 4.0);
    let name = fitted(&row.name, TICK.size, NAMES - 16.0);
    canvas.text(&name, (panel.left - 8.0, panel.at(0.0, y).1), Anchor::Right, LABEL);
}

/// The profile of one parameter in the unit of its name.
#[derive(Clone, Debug, PartialEq)]
pub struct ProfileCurve {
    /// Its name with the unit.
    pub name: String,
    /// Values tried, rising, and by how much half the sum of squares is above the best fit's.
    pub points: Vec<(f64, f64)>,
    /// The best value.
    pub best: f64,
    /// Limits of the interval.
    pub interval: (f64, f64),
    /// The rise at which it ends.
    pub limit: f64,
}

/// Draws by how much the fit gets worse as a parameter is moved, and where its interval ends. Returns an SVG document.
///
/// # Errors
/// [`Error::Argument`] for a sheet too small.
pub fn profile_curve_chart(curve: &ProfileCurve, sheet: Sheet) -> Result<String> {
    let title = format!("Profile of {}", curve.name);
    drawn(sheet, &title, |canvas, sheet| {
        let (width, height) = (f64::from(sheet.width), f64::from(sheet.height));
        headline(canvas, &title, "upright: best value and 95 % interval", width);
        let (xs, ys): (Vec<f64>, Vec<f64>) = curve.points.iter().copied().unzip();
        let (left, right, top, bottom) = (LEFT, width - RIGHT, TOP + HEADER, height - BELOW);
        let x = Axis::over(xs.iter().copied().chain([curve.interval.0, curve.interval.1]), level_ticks(right - left));
        let y = Axis::from_zero(ys.iter().copied().chain([curve.limit]), upright_ticks(bottom - top));
        let panel = Panel { left, top, right, bottom, x, y };
        panel.frame(canvas, Some(&curve.name), "rise of half the sum of squares");
        canvas.dashed(&[panel.at(panel.x.low, curve.limit), panel.at(panel.x.high, curve.limit)], QUIET, 1.2);
        canvas.path(&panel.points(&xs, &ys), MODEL, 2.0);
        panel.marks(canvas, &xs, &ys, Mark::Dot, MODEL);
        panel.upright(canvas, curve.best, QUIET, false);
        [curve.interval.0, curve.interval.1].into_iter().for_each(|end| panel.upright(canvas, end, ACCENT, true));
        let entries = [(Sample::Line(MODEL), "all others fitted anew"), (Sample::Dashes(QUIET), "limit of 95 %")];
        panel.legend(canvas, &entries);
    })
}
