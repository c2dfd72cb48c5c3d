//! The chart of the process window: the chance of a good part over charge and vent, a cell each, with its number.

use plotters::style::RGBColor;

use super::canvas::{Anchor, Canvas, Sheet, Type, drawn};
use super::palette::{ACCENT, INK, MODEL, PAPER};
use super::panel::{BELOW, LABEL, LEFT, RIGHT, TICK, TOP, headline};
use crate::decide::{Candidate, ChanceMap};
use crate::error::{Error, Result};
use crate::report::number::fixed;
use crate::units::Quantity;

/// The recommended setting's frame, pixels.
const FRAME: f64 = 3.0;
/// From this chance on a cell is dark, and its number is written in the paper's color.
const DARK: f64 = 0.55;

/// Draws the chances as cells, charges across, vents upward by size; `best` is framed. Returns an SVG document.
///
/// # Errors
/// [`Error::TooFewRecords`] for a map without cells; [`Error::Argument`] for a sheet too small.
pub fn chance_chart(map: &ChanceMap, best: &Candidate, title: &str, sheet: Sheet) -> Result<String> {
    if map.charges.is_empty() || map.drills.is_empty() {
        return Err(Error::TooFewRecords {
            wanted: "a chart of chances".to_owned(),
            found: "no charge or no vent".to_owned(),
            advice: "ask for at least one of each".to_owned(),
        });
    }
    drawn(sheet, title, |canvas, sheet| draw(canvas, map, best, title, sheet))
}

fn draw(canvas: &mut Canvas, map: &ChanceMap, best: &Candidate, title: &str, sheet: Sheet) {
    let (right, bottom) = (f64::from(sheet.width) - RIGHT, f64::from(sheet.height) - BELOW);
    headline(canvas, title, "chance of a good part, %", f64::from(sheet.width));
    let (wide, high) = ((right - LEFT) / map.charges.len() as f64, (bottom - TOP) / map.drills.len() as f64);
    let corner = |row: usize, column: usize| (LEFT + wide * column as f64, bottom - high * (row + 1) as f64);
    let mut framed = None;
    for (row, settings) in map.settings.iter().enumerate() {
        for (column, setting) in settings.iter().enumerate() {
            let (x, y) = corner(row, column);
            cell(canvas, setting.as_ref(), (x, y), (x + wide, y + high));
            if setting.as_ref().is_some_and(|s| s.casting == best.casting) {
                framed = Some((x, y));
            }
        }
        let name = map.drills[row].as_ref().map_or("as it is", |d| d.name.as_str());
        canvas.text(name, (LEFT - 7.0, corner(row, 0).1 + 0.5 * high), Anchor::Right, TICK);
    }
    if let Some((x, y)) = framed {
        frame(canvas, (x, y), (x + wide, y + high));
    }
    let mass = sheet.units.of(Quantity::Mass);
    for (column, charge) in map.charges.iter().enumerate() {
        let label = fixed(mass.value(*charge), mass.decimals);
        canvas.text(&label, (corner(0, column).0 + 0.5 * wide, bottom + 13.0), Anchor::Center, TICK);
    }
    canvas.text(&mass.named("charge"), (0.5 * (LEFT + right), bottom + 33.0), Anchor::Center, LABEL);
    canvas.upright("vent", (14.0, 0.5 * (TOP + bottom)), LABEL);
}

fn cell(canvas: &mut Canvas, setting: Option<&Candidate>, (left, top): (f64, f64), (right, bottom): (f64, f64)) {
    let Some(chance) = setting.map(|s| s.chances.good) else { return };
    canvas.fill((left + 0.5, top + 0.5), (right - 0.5, bottom - 0.5), shade(chance));
    let color = if chance >= DARK { PAPER } else { INK };
    let set = Type { size: 12.0, bold: chance >= DARK, color };
    canvas.text(&fixed(100.0 * chance, 0), (0.5 * (left + right), 0.5 * (top + bottom)), Anchor::Center, set);
}

/// From paper to the model's color.
fn shade(chance: f64) -> RGBColor {
    let mix = |from: u8, to: u8| (f64::from(from) + chance * (f64::from(to) - f64::from(from))).round() as u8;
    RGBColor(mix(PAPER.0, MODEL.0), mix(PAPER.1, MODEL.1), mix(PAPER.2, MODEL.2))
}

fn frame(canvas: &mut Canvas, (left, top): (f64, f64), (right, bottom): (f64, f64)) {
    canvas.path(&[(left, top), (right, top), (right, bottom), (left, bottom), (left, top)], ACCENT, FRAME);
}
