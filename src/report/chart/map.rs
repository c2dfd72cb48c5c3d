//! A map of a sweep: one quantity over two settings in bands of color, with the regions of short, flashed and refused parts
//! outlined and named.

use plotters::style::RGBColor;

use super::axis::{Axis, is_drawable};
use super::canvas::{Anchor, Canvas, Sheet, drawn};
use super::labels::text_width;
use super::palette::{GRID, INK, PAPER, band};
use super::panel::{BELOW, HEADER, LABEL, LEFT, Panel, RIGHT, TICK, TOP, headline, level_ticks, upright_ticks};
use crate::error::{Error, Result};
use crate::model::Outcome;
use crate::report::display::DisplayUnits;
use crate::sweep::{Block, Judgment, Sweep};

/// Bands of color between the lowest and the highest value.
const BANDS: usize = 12;
/// What the scale takes at the right, pixels.
const SCALE: f64 = 104.0;
/// How far a cell reaches under its neighbors, pixels.
const UNDER: f64 = 0.6;

/// Which slice of a sweep a map shows.
#[derive(Clone, Debug, PartialEq)]
pub struct MapSlice {
    /// The quantity.
    pub outcome: Outcome,
    /// The axis across, a place in [`Sweep::axes`].
    pub across: usize,
    /// The axis upward, a place in [`Sweep::axes`].
    pub up: usize,
    /// Where it stands on every axis of [`Sweep::shape`]; its places on the two axes shown do not matter.
    pub places: Vec<usize>,
}

/// Draws one quantity of a whole sweep over two of its settings.
///
/// # Errors
/// [`Error::Argument`] for a block of a part of the sweep, an axis shown twice or with a single value, a place that the sweep
/// does not have, or a bad sheet.
pub fn sweep_chart(sweep: &Sweep, block: &Block, slice: &MapSlice, title: &str, sheet: Sheet) -> Result<String> {
    check(sweep, block, slice)?;
    let map = Map::of(sweep, block, slice, sheet.units);
    drawn(sheet, title, |canvas, sheet| draw(canvas, sheet, &map, title))
}

fn check(sweep: &Sweep, block: &Block, slice: &MapSlice) -> Result<()> {
    let refuse =
        |name: &str, found: String, expected: &str, advice: &str| Err(Error::argument(name, found, expected, advice));
    if block.range() != (0..sweep.points()) {
        let found = format!("points {:?} of {}", block.range(), sweep.points());
        return refuse("sweep", found, "all points", "join the blocks first");
    }
    for place in [slice.across, slice.up] {
        let Some(axis) = sweep.axes().get(place) else {
            return refuse("axis", place.to_string(), "an axis of the sweep", "count them from 0");
        };
        if axis.values.len() < 2 {
            return refuse(axis.setting.name(), "one value".into(), "two values or more", "sweep it over more values");
        }
    }
    if slice.across == slice.up {
        return refuse("axis", "the same axis twice".into(), "two axes", "show one setting across, another upward");
    }
    let shape = sweep.shape();
    let outside = slice.places.len() != shape.len() || slice.places.iter().zip(&shape).any(|(i, n)| i >= n);
    if outside {
        let found = format!("{:?}", slice.places);
        return refuse("slice", found, "places within the sweep", "give one place for each axis, counted from 0");
    }
    Ok(())
}

/// A side of the map: values in rising order in display units, and their places on the sweep's axis.
struct Side {
    label: String,
    places: Vec<usize>,
    /// Where cells begin and end; one more than values.
    edges: Vec<f64>,
}

impl Side {
    fn of(sweep: &Sweep, index: usize, units: DisplayUnits) -> Side {
        let axis = &sweep.axes()[index];
        let unit = units.of(axis.setting.quantity());
        let mut places: Vec<usize> = (0..axis.values.len()).collect();
        places.sort_by(|a, b| axis.values[*a].total_cmp(&axis.values[*b]));
        let values: Vec<f64> = places.iter().map(|i| unit.value(axis.values[*i])).collect();
        let between = values.windows(2).map(|w| 0.5 * (w[0] + w[1]));
        let (first, last) = (values[0], values[values.len() - 1]);
        let (second, before) = (values[1], values[values.len() - 2]);
        let begin = [first - 0.5 * (second - first)];
        let edges = begin.into_iter().chain(between).chain([last + 0.5 * (last - before)]).collect();
        Side { label: unit.named(axis.setting.row().words), places, edges }
    }
}

struct Map {
    x: Side,
    y: Side,
    label: String,
    /// Values in display units, rows from below; shape (y, x).
    values: Vec<f64>,
    judgments: Vec<Judgment>,
    low: f64,
    high: f64,
}

impl Map {
    fn of(sweep: &Sweep, block: &Block, slice: &MapSlice, units: DisplayUnits) -> Map {
        let (x, y) = (Side::of(sweep, slice.across, units), Side::of(sweep, slice.up, units));
        let shape = sweep.shape();
        let first = shape.len() - sweep.axes().len();
        let row = |i: usize, j: usize| {
            let mut places = slice.places.clone();
            (places[first + slice.across], places[first + slice.up]) = (i, j);
            &block.rows[places.iter().zip(&shape).fold(0, |point, (place, n)| point * n + place)]
        };
        let rows: Vec<_> = y.places.iter().flat_map(|j| x.places.iter().map(move |i| (*i, *j))).collect();
        let rows: Vec<_> = rows.into_iter().map(|(i, j)| row(i, j)).collect();
        let unit = units.of(slice.outcome.quantity());
        let values: Vec<f64> = rows.iter().map(|row| unit.value(row.of(slice.outcome))).collect();
        let shown = values.iter().filter(|v| is_drawable(**v));
        let (low, high) = shown.fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), v| (l.min(*v), h.max(*v)));
        let label = unit.named(slice.outcome.row().words);
        Map { x, y, label, values, judgments: rows.iter().map(|row| row.judgment).collect(), low, high }
    }

    fn width(&self) -> usize {
        self.x.places.len()
    }

    /// The band of a cell's value; `None` without a value.
    fn band(&self, cell: usize) -> Option<usize> {
        let value = self.values[cell];
        let share = (value - self.low) / (self.high - self.low).max(f64::MIN_POSITIVE);
        is_drawable(value).then(|| ((share * BANDS as f64) as usize).min(BANDS - 1))
    }
}

fn color(band_number: Option<usize>) -> RGBColor {
    band_number.map_or(GRID, |number| band(number as f64 / (BANDS - 1) as f64))
}

fn draw(canvas: &mut Canvas, sheet: Sheet, map: &Map, title: &str) {
    let (width, height) = (f64::from(sheet.width), f64::from(sheet.height));
    let (left, top, right, bottom) = (LEFT, TOP + HEADER, width - SCALE - RIGHT, height - BELOW);
    let ends = |side: &Side| (side.edges[0], side.edges[side.edges.len() - 1]);
    let ((x0, x1), (y0, y1)) = (ends(&map.x), ends(&map.y));
    let mut panel = Panel {
        left,
        top,
        right,
        bottom,
        x: Axis::between(x0, x1, level_ticks(right - left)),
        y: Axis::between(y0, y1, upright_ticks(bottom - top)),
    };
    (panel.x.low, panel.x.high, panel.y.low, panel.y.high) = (x0, x1, y0, y1);
    headline(canvas, title, "", width);
    draw_cells(canvas, &panel, map);
    panel.frame(canvas, Some(&map.x.label), &map.y.label);
    draw_outlines(canvas, &panel, map);
    draw_names(canvas, &panel, map);
    draw_scale(canvas, &panel, map);
}

/// Neighbors of one band make one rectangle; it reaches a little under what is drawn next, so that no seam shows.
fn draw_cells(canvas: &mut Canvas, panel: &Panel, map: &Map) {
    let (n, rows) = (map.width(), map.y.places.len());
    let under = |more: bool| if more { UNDER } else { 0.0 };
    for row in 0..rows {
        let mut begin = 0;
        for end in 1..=n {
            if end < n && map.band(row * n + end) == map.band(row * n + begin) {
                continue;
            }
            let (left, top) = panel.at(map.x.edges[begin], map.y.edges[row + 1]);
            let (right, bottom) = panel.at(map.x.edges[end], map.y.edges[row]);
            let (top, right) = (top - under(row + 1 < rows), right + under(end < n));
            canvas.fill((left, top), (right, bottom), color(map.band(row * n + begin)));
            begin = end;
        }
    }
}

/// Lines where the verdict changes.
fn draw_outlines(canvas: &mut Canvas, panel: &Panel, map: &Map) {
    let n = map.width();
    let (xs, ys) = (&map.x.edges, &map.y.edges);
    for (cell, judgment) in map.judgments.iter().enumerate() {
        let (row, column) = (cell / n, cell % n);
        if column + 1 < n && map.judgments[cell + 1] != *judgment {
            let x = xs[column + 1];
            canvas.line(panel.at(x, ys[row]), panel.at(x, ys[row + 1]), INK, 1.5);
        }
        if map.judgments.get(cell + n).is_some_and(|above| above != judgment) {
            let y = ys[row + 1];
            canvas.line(panel.at(xs[column], y), panel.at(xs[column + 1], y), INK, 1.5);
        }
    }
}

/// Each region's verdict at the cell nearest to its center.
fn draw_names(canvas: &mut Canvas, panel: &Panel, map: &Map) {
    let n = map.width();
    let center = |cell: usize| {
        let middle = |edges: &[f64], i: usize| 0.5 * (edges[i] + edges[i + 1]);
        panel.at(middle(&map.x.edges, cell % n), middle(&map.y.edges, cell / n))
    };
    for judgment in Judgment::all() {
        let cells: Vec<_> = (0..map.values.len()).filter(|cell| map.judgments[*cell] == judgment).map(center).collect();
        let count = cells.len().max(1) as f64;
        let mean = cells.iter().fold((0.0, 0.0), |sum, at| (sum.0 + at.0 / count, sum.1 + at.1 / count));
        let away = |at: &(f64, f64)| (at.0 - mean.0).hypot(at.1 - mean.1);
        let Some((x, y)) = cells.into_iter().min_by(|a, b| away(a).total_cmp(&away(b))) else { continue };
        let half = 0.5 * text_width(judgment.name(), TICK.size) + 4.0;
        let x = x.clamp(panel.left + half, panel.right - half);
        canvas.fill((x - half, y - 9.0), (x + half, y + 9.0), PAPER);
        canvas.text(judgment.name(), (x, y), Anchor::Center, LABEL);
    }
}

fn draw_scale(canvas: &mut Canvas, panel: &Panel, map: &Map) {
    let (left, right) = (panel.right + 22.0, panel.right + 36.0);
    canvas.text(&map.label, (right + SCALE - 36.0, panel.top - 0.5 * HEADER), Anchor::Right, TICK);
    if map.low > map.high {
        return;
    }
    let height = panel.bottom - panel.top;
    let level = |share: f64| panel.bottom - share * height;
    for number in 0..BANDS {
        let (low, high) = (number as f64 / BANDS as f64, (number + 1) as f64 / BANDS as f64);
        canvas.fill((left, level(high)), (right, level(low)), color(Some(number)));
    }
    let axis = Axis::between(map.low, map.high, upright_ticks(height));
    for tick in axis.ticks.iter().filter(|tick| (map.low..=map.high).contains(tick)) {
        let share = (tick - map.low) / (map.high - map.low).max(f64::MIN_POSITIVE);
        canvas.text(&axis.label(*tick), (right + 6.0, level(share)), Anchor::Left, TICK);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::{Setting, Verdict};
    use crate::sweep::{Axis as Swept, Case, Row, Slips};

    /// Rows that hold their own number, over a grid of three settings in no order.
    fn numbered() -> (Sweep, Block) {
        let cavity = crate::records::Mold::load("data/molds/armrest.toml").expect("the demo's mold").cavity;
        let axes = vec![
            Swept::list(Setting::ClosingTime, [5.0, 0.0]),
            Swept::list(Setting::Charge, [60e-3, 50e-3, 70e-3]),
            Swept::list(Setting::Vent, [8e-3, 3e-3, 5e-3, 4e-3]),
        ];
        let cases = vec![Case::new(Default::default(), cavity); 2];
        let sweep = Sweep::new(cases, Slips::probe(), axes, Default::default()).expect("a sweep");
        let row = |i: usize| Row { judgment: Judgment::Cast(Verdict::Full), numbers: [1e3 * i as f64; Outcome::COUNT] };
        let rows = (0..sweep.points()).map(row).collect();
        (sweep, Block { start: 0, rows })
    }

    #[test]
    fn cells_hold_their_points_in_rising_order_of_the_settings() {
        let (sweep, block) = numbered();
        let slice = MapSlice { outcome: Outcome::PeakPressure, across: 1, up: 2, places: vec![1, 1, 0, 0] };
        let map = Map::of(&sweep, &block, &slice, DisplayUnits::Metric);
        let mut expected = Vec::new();
        for vent in [1, 3, 2, 0] {
            expected.extend([1, 0, 2].map(|charge| (((2 + 1) * 3 + charge) * 4 + vent) as f64));
        }
        assert_eq!(map.values, expected);
        let close = |edges: &[f64], to: &[f64]| edges.iter().zip(to).all(|(a, b)| (a - b).abs() < 1e-9);
        assert!(close(&map.x.edges, &[45.0, 55.0, 65.0, 75.0]), "{:?}", map.x.edges);
        assert!(close(&map.y.edges, &[2.5, 3.5, 4.5, 6.5, 9.5]), "{:?}", map.y.edges);
    }
}
