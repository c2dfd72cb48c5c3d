//! The report of a predicted casting: settings, quantities with intervals, what is doubt and what is scatter, the chart.

use super::words::{casting_title, chart_section, vent_text};
use crate::Result;
use crate::fit::{Predicted, Prediction};
use crate::model::Casting;
use crate::records::Trace;
use crate::report::chart::{Beside, Sheet, doubted_chart};
use crate::report::describe::run_sentence;
use crate::report::display::{DisplayUnits, Shown};
use crate::report::number::fixed;
use crate::report::page::{KeyNumber, Section, sections_text};
use crate::report::table::{Align, Table};
use crate::units::Quantity;

/// What the chart shows.
const CHARTED: &str =
    "The casting at the best estimates. The bar at the peak is its 95 % interval, for one more casting.";

/// The prediction of a casting, in sections: key numbers, verdict, settings, quantities with intervals, chart, cautions.
pub fn describe_prediction(prediction: &Prediction, casting: &Casting, units: DisplayUnits) -> Vec<Section> {
    let mut out = vec![
        Section::Heading(format!("Predicted: {}", casting_title(casting, units))),
        Section::KeyNumbers(key_numbers(prediction, units)),
    ];
    out.extend(details(prediction, casting, units));
    out.push(Section::Cautions);
    out
}

/// The same as plain text.
pub fn describe_prediction_text(prediction: &Prediction, casting: &Casting, units: DisplayUnits) -> String {
    sections_text(&describe_prediction(prediction, casting, units))
}

/// All but heading, key numbers and cautions.
pub(super) fn details(prediction: &Prediction, casting: &Casting, units: DisplayUnits) -> Vec<Section> {
    vec![
        Section::Paragraph(run_sentence(&prediction.run, units)),
        chart_section(chart(prediction, casting, units), CHARTED),
        Section::Table(quantity_table(prediction, units)),
        Section::Paragraph(
            "Doubt is what the records so far leave open: more trials make it smaller. Scatter is how one casting differs from \
             the next with the same settings: more trials do not. The interval holds both, for one more casting."
                .to_owned(),
        ),
        Section::Table(settings_table(casting, units)),
    ]
}

pub(super) fn chart(prediction: &Prediction, casting: &Casting, units: DisplayUnits) -> Result<String> {
    let sheet = Sheet { units, height: 680, ..Sheet::default() };
    prediction_chart(prediction, None, &casting_title(casting, units), sheet)
}

/// Draws a predicted casting as [`casting_chart`](crate::report::casting_chart) does its run, with the 95 % interval of the peak
/// as a bar and in numbers. Returns an SVG document.
///
/// # Errors
/// As [`casting_chart`](crate::report::casting_chart).
pub fn prediction_chart(
    prediction: &Prediction,
    observed: Option<&Trace>,
    title: &str,
    sheet: Sheet,
) -> Result<String> {
    let beside = Beside { observed, peak_95: Some(prediction.peak_pressure.interval_95) };
    doubted_chart(&prediction.run, beside, title, sheet)
}

/// Peak pressure, density, fill against gel.
pub(super) fn key_numbers(prediction: &Prediction, units: DisplayUnits) -> Vec<KeyNumber> {
    let key = |label: &str, unit: Shown, p: &Predicted| {
        let is_nothing = unit.text(p.value) == unit.text(0.0);
        let note = format!("95 %: {}", unit.interval(p.interval_95));
        let note = if is_nothing { "none builds up at the best estimates".to_owned() } else { note };
        KeyNumber::new(label, unit.text(p.value), note)
    };
    vec![
        key("Peak back pressure, gauge", units.of(Quantity::GaugePressure), &prediction.peak_pressure),
        key("Density of the part", units.of(Quantity::Density), &prediction.density),
        fill_against_gel(prediction, units),
    ]
}

/// How much earlier it fills than it gels, and whether that is safe.
fn fill_against_gel(prediction: &Prediction, units: DisplayUnits) -> KeyNumber {
    let time = units.of(Quantity::Time);
    let label = "Fills before it gels by";
    match (&prediction.fill_time, &prediction.gel_time) {
        (Some(fill), Some(gel)) => {
            let close = if fill.interval_95.1 < gel.interval_95.0 { "" } else { "; their intervals meet" };
            let note = format!("fills at {}, gels at {}{close}", time.text(fill.value), time.text(gel.value));
            KeyNumber::new(label, time.text(gel.value - fill.value), note)
        }
        (None, Some(gel)) => {
            let filled = fixed(100.0 * prediction.run.result.fill_fraction, 0);
            KeyNumber::new(label, "Does not fill", format!("gels at {} with {filled} % filled", time.text(gel.value)))
        }
        (Some(fill), None) => {
            KeyNumber::new(label, "Does not gel", format!("fills at {}, still flows at demold", time.text(fill.value)))
        }
        (None, None) => KeyNumber::new(label, "Neither", "neither fills nor gels before demold"),
    }
}

fn quantity_table(prediction: &Prediction, units: DisplayUnits) -> Table {
    let mut table = Table::new(&[
        ("quantity", Align::Left),
        ("predicted", Align::Right),
        ("95 % interval", Align::Right),
        ("doubt", Align::Right),
        ("scatter", Align::Right),
    ])
    .titled("What comes out, for one more casting");
    for (name, quantity, predicted) in quantities(prediction) {
        let unit = units.of(quantity);
        let row = match predicted {
            Some(p) => interval_row(&unit, &p),
            None => [(); 4].map(|()| "-".to_owned()),
        };
        table.push([name.to_owned()].into_iter().chain(row));
    }
    for (name, value) in plain_rows(prediction, units) {
        table.push([name.to_owned(), value]);
    }
    table
}

/// The quantities with intervals; the clamp force follows from the peak.
pub(super) fn quantities(prediction: &Prediction) -> [(&'static str, Quantity, Option<Predicted>); 8] {
    [
        ("peak gauge pressure", Quantity::GaugePressure, Some(prediction.peak_pressure)),
        ("clamp force to hold the peak", Quantity::Force, Some(clamp(prediction))),
        ("density (part over cavity)", Quantity::Density, Some(prediction.density)),
        ("part mass", Quantity::Mass, Some(prediction.part_mass)),
        ("vent loss", Quantity::Mass, Some(prediction.vent_loss)),
        ("flash", Quantity::Mass, Some(prediction.flash)),
        ("fill time", Quantity::Time, prediction.fill_time),
        ("gel time", Quantity::Time, prediction.gel_time),
    ]
}

fn clamp(prediction: &Prediction) -> Predicted {
    let peak = &prediction.peak_pressure;
    let area = if peak.value > 0.0 { prediction.run.result.clamp_needed / peak.value } else { 0.0 };
    Predicted {
        value: area * peak.value,
        doubt: area * peak.doubt,
        scatter: area * peak.scatter,
        interval_95: (area * peak.interval_95.0, area * peak.interval_95.1),
    }
}

fn interval_row(unit: &Shown, p: &Predicted) -> [String; 4] {
    let spread = |si: f64| format!("± {}", fixed(unit.difference(si), unit.decimals + 1));
    // At nothing lost the slopes say nothing of how soon something would be.
    if unit.text(p.value) == unit.text(0.0) {
        return [unit.text(p.value), String::new(), String::new(), String::new()];
    }
    [unit.text(p.value), unit.interval(p.interval_95), spread(p.doubt), spread(p.scatter)]
}

fn plain_rows(prediction: &Prediction, units: DisplayUnits) -> Vec<(&'static str, String)> {
    let (run, r) = (&prediction.run, &prediction.run.result);
    let (time, temp) = (units.of(Quantity::Time), units.of(Quantity::Temperature));
    vec![
        ("margin from fill to gel", time.maybe(r.margin())),
        ("time of the peak", time.text(r.peak_time)),
        ("free-rise density of this mix (no heat lost)", units.of(Quantity::Density).text(run.free_rise_density)),
        ("packing factor (density over free-rise density)", fixed(run.packing_factor, 2)),
        ("hottest core (upper bound)", temp.text(r.core_temp)),
    ]
}

fn settings_table(casting: &Casting, units: DisplayUnits) -> Table {
    let (mass, temp, time) = (units.of(Quantity::Mass), units.of(Quantity::Temperature), units.of(Quantity::Time));
    let mut table = Table::new(&[("setting", Align::Left), ("value", Align::Right)]).titled("Settings");
    let clamp = casting.clamp_force.map(|f| units.of(Quantity::Force).text(f));
    let rows = [
        ("charge", mass.text(casting.charge)),
        ("left in the cup", mass.text(casting.left_in_cup)),
        ("vent", vent_text(casting, units)),
        ("mix temperature", temp.text(casting.mix_temp)),
        ("mold temperature", temp.text(casting.mold_temp)),
        ("ambient pressure (absolute)", units.of(Quantity::AbsolutePressure).text(casting.ambient_pressure)),
        ("closing time", time.text(casting.closing_time)),
        ("clamp force", clamp.unwrap_or_else(|| "the mold's own".to_owned())),
        ("demold time", time.text(casting.demold_time)),
    ];
    rows.into_iter().for_each(|(name, value)| table.push([name.to_owned(), value]));
    table
}
