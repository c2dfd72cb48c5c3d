//! A panel: a frame with two axes, courses and points, and a line of legend above it.

use plotters::style::RGBColor;

use super::axis::Axis;
use super::canvas::{Anchor, Canvas, Mark, Type};
use super::labels::{fitted, text_width};
use super::palette::{GRID, INK, QUIET};

/// Sizes of text, pixels.
pub(super) const TITLE: Type = Type { size: 16.0, bold: true, color: INK };
pub(super) const LABEL: Type = Type { size: 13.0, bold: false, color: INK };
pub(super) const TICK: Type = Type { size: 12.0, bold: false, color: QUIET };

/// More points than this get smaller marks.
const MANY: usize = 120;

/// Height of the line of legend above a panel, pixels.
pub(super) const HEADER: f64 = 20.0;
/// What an axis label and its numbers take at the left and below, pixels.
pub(super) const LEFT: f64 = 74.0;
pub(super) const BELOW: f64 = 46.0;
/// What the title takes, and what stays free at the right, pixels.
pub(super) const TOP: f64 = 36.0;
pub(super) const RIGHT: f64 = 18.0;

/// How many ticks fit along this many pixels at a side.
pub(super) fn upright_ticks(pixels: f64) -> usize {
    (pixels / 28.0) as usize
}

/// How many ticks fit along this many pixels below.
pub(super) fn level_ticks(pixels: f64) -> usize {
    (pixels / 70.0) as usize
}

/// The title at the left, and a remark at the right where both fit.
pub(super) fn headline(canvas: &mut Canvas, title: &str, remark: &str, width: f64) {
    let room = width - LEFT - RIGHT;
    let title = fitted(title, TITLE.size, room);
    canvas.text(&title, (LEFT, 20.0), Anchor::Left, TITLE);
    if text_width(&title, TITLE.size) + text_width(remark, TICK.size) + 20.0 < room {
        canvas.text(remark, (width - RIGHT, 20.0), Anchor::Right, TICK);
    }
}

/// What stands for a course in the legend.
#[derive(Clone, Copy, Debug)]
pub(super) enum Sample {
    Line(RGBColor),
    Dashes(RGBColor),
    Point(Mark, RGBColor),
    Band(RGBColor),
}

/// A frame in pixels with its two axes.
#[derive(Clone, Debug)]
pub(super) struct Panel {
    pub left: f64,
    pub top: f64,
    pub right: f64,
    pub bottom: f64,
    pub x: Axis,
    pub y: Axis,
}

impl Panel {
    /// The pixel of a point.
    pub fn at(&self, x: f64, y: f64) -> (f64, f64) {
        let (across, up) = (self.x.share(x), self.y.share(y));
        (self.left + across * (self.right - self.left), self.bottom - up * (self.bottom - self.top))
    }

    /// The pixels of a course.
    pub fn points(&self, xs: &[f64], ys: &[f64]) -> Vec<(f64, f64)> {
        xs.iter().zip(ys).map(|(x, y)| self.at(*x, *y)).collect()
    }

    /// Marks at all points that are finite.
    pub fn marks(&self, canvas: &mut Canvas, xs: &[f64], ys: &[f64], mark: Mark, color: RGBColor) {
        let size = if xs.len() > MANY { 2.0 } else { 3.0 };
        for point in self.points(xs, ys).into_iter().filter(|p| p.0.is_finite() && p.1.is_finite()) {
            canvas.mark(mark, point, color, size);
        }
    }

    /// Grid, numbers and frame; the x axis is labeled where `x_label` is given.
    pub fn frame(&self, canvas: &mut Canvas, x_label: Option<&str>, y_label: &str) {
        for tick in &self.x.ticks {
            let (x, _) = self.at(*tick, self.y.low);
            canvas.line((x, self.top), (x, self.bottom), GRID, 1.0);
            if x_label.is_some() {
                canvas.text(&self.x.label(*tick), (x, self.bottom + 13.0), Anchor::Center, TICK);
            }
        }
        for tick in &self.y.ticks {
            let (_, y) = self.at(self.x.low, *tick);
            canvas.line((self.left, y), (self.right, y), GRID, 1.0);
            canvas.text(&self.y.label(*tick), (self.left - 7.0, y), Anchor::Right, TICK);
        }
        let (low, high) = ((self.left, self.bottom), (self.right, self.bottom));
        canvas.line(low, high, INK, 1.0);
        canvas.line(low, (self.left, self.top), INK, 1.0);
        let numbers = text_width("0", TICK.size) * self.y.label_length() as f64;
        let beside = (self.left - numbers - 20.0).max(self.left - LEFT + 10.0);
        canvas.upright(y_label, (beside, 0.5 * (self.top + self.bottom)), LABEL);
        if let Some(label) = x_label {
            canvas.text(label, (0.5 * (self.left + self.right), self.bottom + 33.0), Anchor::Center, LABEL);
        }
    }

    /// A line of legend above the frame, from the left; what does not fit is left out.
    pub fn legend(&self, canvas: &mut Canvas, entries: &[(Sample, &str)]) {
        let y = self.top - 0.5 * HEADER;
        let mut x = self.left;
        for (sample, text) in entries {
            let width = 30.0 + text_width(text, TICK.size) + 16.0;
            if x + width > self.right + RIGHT {
                return;
            }
            draw_sample(canvas, *sample, (x, y));
            canvas.text(text, (x + 30.0, y), Anchor::Left, TICK);
            x += width;
        }
    }

    /// The same panel with its line of legend moved up.
    pub fn raised(&self, pixels: f64) -> Panel {
        Panel { top: self.top - pixels, ..self.clone() }
    }

    /// A vertical line over the whole panel.
    pub fn upright(&self, canvas: &mut Canvas, x: f64, color: RGBColor, dashed: bool) {
        let ends = [(self.at(x, self.y.low).0, self.bottom), (self.at(x, self.y.low).0, self.top)];
        if dashed { canvas.dashed(&ends, color, 1.2) } else { canvas.line(ends[0], ends[1], color, 1.2) }
    }
}

fn draw_sample(canvas: &mut Canvas, sample: Sample, (x, y): (f64, f64)) {
    match sample {
        Sample::Line(color) => canvas.line((x, y), (x + 24.0, y), color, 2.0),
        Sample::Dashes(color) => canvas.dashed(&[(x, y), (x + 24.0, y)], color, 2.0),
        Sample::Point(mark, color) => canvas.mark(mark, (x + 12.0, y), color, 3.5),
        Sample::Band(color) => {
            canvas.band(&[(x, y + 6.0), (x + 24.0, y + 6.0)], &[(x, y - 6.0), (x + 24.0, y - 6.0)], color)
        }
    }
}

/// Splits the height below `top` into panels with these weights, each under a line of legend: top and bottom of each.
pub(super) fn stacked(top: f64, bottom: f64, weights: &[f64]) -> Vec<(f64, f64)> {
    let free = bottom - top - HEADER * weights.len() as f64;
    let total: f64 = weights.iter().sum();
    let mut y = top;
    let place = |weight: &f64| {
        let from = y + HEADER;
        y = from + free * weight / total;
        (from, y)
    };
    weights.iter().map(place).collect()
}
