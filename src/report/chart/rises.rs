//! The chart of several rise logs with their fits, one color and mark for each.

use plotters::style::RGBColor;

use super::axis::Axis;
use super::canvas::{Canvas, MARKS, Mark, Sheet, drawn};
use super::curves::{Course, ModelCurve, rise_of, specific, specific_label};
use super::labels::{fitted, text_width};
use super::palette::SERIES;
use super::panel::{
    BELOW, HEADER, LEFT, Panel, RIGHT, Sample, TICK, TOP, headline, level_ticks, stacked, upright_ticks,
};
use crate::error::{Error, Result};
use crate::records::RiseLog;
use crate::units::Quantity;

/// Longest name of a log in the legend, pixels.
const LONGEST: f64 = 160.0;

/// One log's courses: rise and temperature, measured and fitted.
struct Curves {
    name: String,
    rise: [Course; 2],
    temp: [Course; 2],
}

/// Which courses of a log a panel shows.
type Pick = fn(&Curves) -> &[Course; 2];

/// Draws several rise logs with their fits: volume per mass, so that cups of different mass compare, and temperature.
/// The legend names each log with the temperature of its mix. Returns an SVG document.
///
/// # Errors
/// [`Error::TooFewRecords`] if no log has a series to draw; [`Error::Argument`] for a log with heights but no cup, or a
/// sheet too small.
pub fn rise_curve_chart(logs: &[(&RiseLog, Option<&ModelCurve>)], title: &str, sheet: Sheet) -> Result<String> {
    let curves = logs.iter().map(|(log, model)| curves(log, *model, sheet)).collect::<Result<Vec<_>>>()?;
    let filled = |pick: Pick| curves.iter().any(|c| pick(c).iter().any(|one| !one.is_empty()));
    let label = sheet.units.of(Quantity::Temperature).named("temperature");
    let parts: Vec<(String, Pick)> =
        [(specific_label(sheet.units), (|c: &Curves| &c.rise) as Pick), (label, |c: &Curves| &c.temp)]
            .into_iter()
            .filter(|(_, pick)| filled(*pick))
            .collect();
    if parts.is_empty() {
        return Err(Error::TooFewRecords {
            wanted: "a chart of rise curves".to_owned(),
            found: format!("{} logs without height, volume or temperature readings", logs.len()),
            advice: "add logs with readings over time".to_owned(),
        });
    }
    drawn(sheet, title, |canvas, sheet| draw(canvas, title, sheet, &curves, &parts))
}

fn curves(log: &RiseLog, model: Option<&ModelCurve>, sheet: Sheet) -> Result<Curves> {
    let temp = sheet.units.of(Quantity::Temperature);
    let none = ModelCurve::default();
    let model = model.unwrap_or(&none);
    let measured = log.temp.as_deref().unwrap_or_default();
    Ok(Curves {
        name: format!("{}, mix at {}", fitted(&log.name, TICK.size, LONGEST), temp.text(log.mix_temp)),
        rise: [
            specific(log, &log.time, rise_of(log).2, sheet.units)?,
            specific(log, &model.time, &model.height_or_volume, sheet.units)?,
        ],
        temp: [Course::shown(&log.time, measured, &temp), Course::shown(&model.time, &model.sensed_temp, &temp)],
    })
}

fn look(i: usize) -> (Mark, RGBColor) {
    (MARKS[i % MARKS.len()], SERIES[i % SERIES.len()])
}

fn draw(canvas: &mut Canvas, title: &str, sheet: Sheet, curves: &[Curves], parts: &[(String, Pick)]) {
    let (width, height) = (f64::from(sheet.width), f64::from(sheet.height));
    headline(canvas, title, "points: measured; lines: fitted", width);
    let rows = legend_rows(curves, width);
    let places = stacked(TOP + HEADER * (rows.len() as f64 - 1.0), height - BELOW, &vec![1.0; parts.len()]);
    let times = curves.iter().flat_map(|c| c.rise.iter().chain(&c.temp)).flat_map(|course| course.time.iter().copied());
    let x = Axis::from_zero(times, level_ticks(width - LEFT));
    for (i, ((label, pick), &(top, bottom))) in parts.iter().zip(&places).enumerate() {
        let values = curves.iter().flat_map(pick).flat_map(|course| course.value.iter().copied());
        let y = Axis::over(values, upright_ticks(bottom - top));
        let panel = Panel { left: LEFT, top, right: width - RIGHT, bottom, x: x.clone(), y };
        panel.frame(canvas, (i + 1 == parts.len()).then_some("time since the end of mixing (s)"), label);
        for (k, one) in curves.iter().enumerate() {
            let ((mark, color), [measured, model]) = (look(k), pick(one));
            panel.marks(canvas, &measured.time, &measured.value, mark, color);
            canvas.path(&panel.points(&model.time, &model.value), color, 2.0);
        }
        if i == 0 {
            draw_legend(canvas, &panel, curves, &rows);
        }
    }
}

/// Which logs stand in which row of the legend.
fn legend_rows(curves: &[Curves], width: f64) -> Vec<Vec<usize>> {
    let mut rows: Vec<Vec<usize>> = vec![Vec::new()];
    let mut x = LEFT;
    for (i, one) in curves.iter().enumerate() {
        let wide = 40.0 + text_width(&one.name, TICK.size);
        if x + wide > width && x > LEFT {
            rows.push(Vec::new());
            x = LEFT;
        }
        x += wide;
        rows.last_mut().into_iter().for_each(|row| row.push(i));
    }
    rows
}

fn draw_legend(canvas: &mut Canvas, panel: &Panel, curves: &[Curves], rows: &[Vec<usize>]) {
    for (row, above) in rows.iter().zip((0..rows.len()).rev()) {
        let entries: Vec<(Sample, &str)> = row
            .iter()
            .map(|&i| {
                let (mark, color) = look(i);
                (Sample::Point(mark, color), curves[i].name.as_str())
            })
            .collect();
        let line = Panel { top: panel.top - HEADER * above as f64, ..panel.clone() };
        line.legend(canvas, &entries);
    }
}
