//! The canvas a chart is drawn on: lines, marks and text in pixels, turned into one SVG document.

use plotters::backend::{DrawingBackend, SVGBackend};
use plotters::style::text_anchor::{HPos, Pos, VPos};
use plotters::style::{Color, FontStyle, FontTransform, IntoFont, RGBColor, ShapeStyle, TextStyle};

use super::palette::{DOUBT, PAPER};
use crate::error::{Error, Result};
use crate::report::display::DisplayUnits;
use crate::report::html::{escape, is_allowed};

/// The drawing library places points on whole units: this many of them make a pixel, so that curves stay smooth.
const FINENESS: f64 = 10.0;
/// The drawing library writes font sizes divided by this.
const FONT_FACTOR: f64 = 1.24;
/// Labels have room on a sheet of this width and height, pixels.
const LEAST_ROOM: (f64, f64) = (800.0, 560.0);
/// Sizes a chart can be read at, pixels.
const SMALLEST: u32 = 300;
const LARGEST: u32 = 6000;

/// Size of a chart in pixels, and the units of its axes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Sheet {
    /// Width, pixels: 300 to 6000.
    pub width: u32,
    /// Height, pixels: 300 to 6000.
    pub height: u32,
    /// Units of the axes.
    pub units: DisplayUnits,
}

impl Default for Sheet {
    fn default() -> Self {
        Sheet { width: 900, height: 600, units: DisplayUnits::Metric }
    }
}

impl Sheet {
    /// A sheet of the same shape on which labels of full size have room.
    fn with_room(self) -> Sheet {
        let (width, height) = (f64::from(self.width), f64::from(self.height));
        let factor = (LEAST_ROOM.0 / width).max(LEAST_ROOM.1 / height).max(1.0);
        Sheet { width: (width * factor).round() as u32, height: (height * factor).round() as u32, ..self }
    }

    fn check(self) -> Result<()> {
        for (name, side) in [("width", self.width), ("height", self.height)] {
            if !(SMALLEST..=LARGEST).contains(&side) {
                let expected = format!("{SMALLEST} to {LARGEST} pixels");
                return Err(Error::argument(name, side, expected, "900 by 600 fits a page"));
            }
        }
        Ok(())
    }
}

/// What a point looks like.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Mark {
    Dot,
    Square,
    Triangle,
    Diamond,
}

/// Marks of several courses, in this order.
pub(super) const MARKS: [Mark; 4] = [Mark::Dot, Mark::Square, Mark::Triangle, Mark::Diamond];

/// Which point of a text stands at the place given.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Anchor {
    Left,
    Center,
    Right,
}

/// How a text is set.
#[derive(Clone, Copy, Debug)]
pub(super) struct Type {
    pub size: f64,
    pub bold: bool,
    pub color: RGBColor,
}

/// A drawing under way. All places are pixels from the upper left corner.
pub(super) struct Canvas<'a> {
    backend: SVGBackend<'a>,
    failure: Option<String>,
}

/// Draws on an empty sheet and returns the SVG document; `title` is its accessible name. The sheet that is drawn on has
/// room for all labels; a smaller one shows it reduced.
pub(super) fn drawn(sheet: Sheet, title: &str, draw: impl FnOnce(&mut Canvas, Sheet)) -> Result<String> {
    sheet.check()?;
    let roomy = sheet.with_room();
    let fine = |side: u32| (f64::from(side) * FINENESS) as u32;
    let mut svg = String::new();
    let mut canvas =
        Canvas { backend: SVGBackend::with_string(&mut svg, (fine(roomy.width), fine(roomy.height))), failure: None };
    canvas.fill((0.0, 0.0), (f64::from(roomy.width), f64::from(roomy.height)), PAPER);
    draw(&mut canvas, roomy);
    let end = canvas.backend.present();
    canvas.note(end);
    let failure = canvas.failure.take();
    drop(canvas);
    match failure {
        Some(reason) => Err(Error::argument("chart", reason, "a drawing", "draw it at another size")),
        None => Ok(with_head(&svg, sheet, title, (fine(roomy.width), fine(roomy.height)))),
    }
}

/// The document with a head of our own: size in pixels, finer units inside, a title.
fn with_head(svg: &str, sheet: Sheet, title: &str, fine: (u32, u32)) -> String {
    let body = svg.split_once('>').map_or(svg, |(_, body)| body);
    let title = escape(title);
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{}\" height=\"{}\" viewBox=\"0 0 {} {}\" role=\"img\" \
         aria-label=\"{title}\">\n<title>{title}</title>{body}",
        sheet.width, sheet.height, fine.0, fine.1
    )
}

impl Canvas<'_> {
    /// A filled rectangle between two corners.
    pub fn fill(&mut self, from: (f64, f64), to: (f64, f64), color: RGBColor) {
        let drawn = self.backend.draw_rect(fine(from), fine(to), &style(color, 0.0), true);
        self.note(drawn);
    }

    /// A straight line.
    pub fn line(&mut self, from: (f64, f64), to: (f64, f64), color: RGBColor, width: f64) {
        let drawn = self.backend.draw_line(fine(from), fine(to), &style(color, width));
        self.note(drawn);
    }

    /// A line through all points; it breaks where a point is not finite.
    pub fn path(&mut self, points: &[(f64, f64)], color: RGBColor, width: f64) {
        for piece in points.split(|p| !(p.0.is_finite() && p.1.is_finite())).filter(|piece| piece.len() > 1) {
            let drawn = self.backend.draw_path(piece.iter().map(|p| fine(*p)), &style(color, width));
            self.note(drawn);
        }
    }

    /// The band between two lines over the same places, pale enough for what lies below it to show; thin edges tell it from the
    /// bands of phases.
    pub fn band(&mut self, lower: &[(f64, f64)], upper: &[(f64, f64)], color: RGBColor) {
        let outline = lower.iter().chain(upper.iter().rev()).map(|p| fine(*p)).collect::<Vec<_>>();
        let drawn = self.backend.fill_polygon(outline, &color.mix(DOUBT).filled());
        self.note(drawn);
        [lower, upper].into_iter().for_each(|edge| self.path(edge, color, 0.7));
    }

    /// As [`Canvas::path`], dashed.
    pub fn dashed(&mut self, points: &[(f64, f64)], color: RGBColor, width: f64) {
        for dash in dashes(points, 6.0, 4.0) {
            self.path(&dash, color, width);
        }
    }

    /// A mark of a point, on a rim of paper so that neighbors stay apart.
    pub fn mark(&mut self, mark: Mark, at: (f64, f64), color: RGBColor, size: f64) {
        self.shape(mark, at, PAPER, size + 1.0);
        self.shape(mark, at, color, size);
    }

    fn shape(&mut self, mark: Mark, (x, y): (f64, f64), color: RGBColor, r: f64) {
        let corners = match mark {
            Mark::Dot => {
                let radius = (r * FINENESS).round() as u32;
                let drawn = self.backend.draw_circle(fine((x, y)), radius, &style(color, 0.0), true);
                return self.note(drawn);
            }
            Mark::Square => vec![(x - r, y - r), (x + r, y - r), (x + r, y + r), (x - r, y + r)],
            Mark::Triangle => vec![(x, y - 1.3 * r), (x + 1.2 * r, y + r), (x - 1.2 * r, y + r)],
            Mark::Diamond => vec![(x, y - 1.4 * r), (x + 1.4 * r, y), (x, y + 1.4 * r), (x - 1.4 * r, y)],
        };
        let drawn = self.backend.fill_polygon(corners.into_iter().map(fine), &style(color, 0.0));
        self.note(drawn);
    }

    /// A level line of text, centered on `at` in height.
    pub fn text(&mut self, text: &str, at: (f64, f64), anchor: Anchor, set: Type) {
        self.write(text, at, anchor, set, FontTransform::None);
    }

    /// A text that reads upward, centered on `at`.
    pub fn upright(&mut self, text: &str, at: (f64, f64), set: Type) {
        self.write(text, at, Anchor::Center, set, FontTransform::Rotate270);
    }

    fn write(&mut self, text: &str, at: (f64, f64), anchor: Anchor, set: Type, turn: FontTransform) {
        let text: String = text.chars().map(|c| if is_allowed(c) { c } else { ' ' }).collect();
        let horizontal = match anchor {
            Anchor::Left => HPos::Left,
            Anchor::Center => HPos::Center,
            Anchor::Right => HPos::Right,
        };
        let weight = if set.bold { FontStyle::Bold } else { FontStyle::Normal };
        let font = ("sans-serif", set.size * FINENESS * FONT_FACTOR).into_font().style(weight).transform(turn);
        let style = TextStyle::from(font).color(&set.color).pos(Pos::new(horizontal, VPos::Center));
        let drawn = self.backend.draw_text(&text, &style, fine(at));
        self.note(drawn);
    }

    /// Keeps the first failure.
    fn note<T, E: std::fmt::Display>(&mut self, outcome: std::result::Result<T, E>) {
        if let Err(reason) = outcome {
            self.failure.get_or_insert_with(|| reason.to_string());
        }
    }
}

fn fine((x, y): (f64, f64)) -> (i32, i32) {
    ((x * FINENESS).round() as i32, (y * FINENESS).round() as i32)
}

fn style(color: RGBColor, width: f64) -> ShapeStyle {
    ShapeStyle { color: color.to_rgba(), filled: true, stroke_width: (width * FINENESS).round() as u32 }
}

/// Cuts a line into dashes of a length `on` with gaps `off`, pixels.
fn dashes(points: &[(f64, f64)], on: f64, off: f64) -> Vec<Vec<(f64, f64)>> {
    let mut found: Vec<Vec<(f64, f64)>> = Vec::new();
    let mut walked = 0.0;
    for pair in points.windows(2) {
        let (from, to) = (pair[0], pair[1]);
        let length = (to.0 - from.0).hypot(to.1 - from.1);
        if !(length.is_finite() && length > 0.0) {
            continue;
        }
        let at = |s: f64| (from.0 + (to.0 - from.0) * s / length, from.1 + (to.1 - from.1) * s / length);
        let mut here = 0.0;
        while here < length {
            let phase = walked % (on + off);
            let step = (if phase < on { on - phase } else { on + off - phase }).max(1e-6).min(length - here);
            if phase < on {
                extend(&mut found, phase == 0.0 || here > 0.0, at(here), at(here + step));
            }
            here += step;
            walked += step;
        }
    }
    found
}

/// Adds a stretch to the last dash, or begins a new one.
fn extend(found: &mut Vec<Vec<(f64, f64)>>, new: bool, from: (f64, f64), to: (f64, f64)) {
    match found.last_mut().filter(|last| !new && last.last() == Some(&from)) {
        Some(dash) => dash.push(to),
        None => found.push(vec![from, to]),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn dashes_cover_their_share_and_pass_corners() {
        let found = dashes(&[(0.0, 0.0), (8.0, 0.0), (12.0, 0.0), (12.0, 8.0)], 6.0, 4.0);
        assert_eq!(found, vec![vec![(0.0, 0.0), (6.0, 0.0)], vec![(10.0, 0.0), (12.0, 0.0), (12.0, 4.0)]]);
    }

    #[test]
    fn a_path_breaks_where_a_point_is_missing() {
        let points = [(0.0, 0.0), (1.0, 1.0), (f64::NAN, 2.0), (3.0, 3.0), (4.0, 4.0)];
        let svg = drawn(Sheet::default(), "t", |canvas, _| canvas.path(&points, PAPER, 1.0)).expect("drawn");
        assert_eq!(svg.matches("<polyline").count(), 2);
        assert!(!svg.contains("NaN"));
    }
}
