//! A casting in words and numbers, and the cautions that go with every result.

use super::display::DisplayUnits;
use super::number::{fixed, percent};
use super::table::{Align, Table};
use crate::model::{Run, Verdict};
use crate::units::Quantity;

/// The safety text, one caution a line.
const CAUTIONS: &str = "\
Isocyanates are skin and respiratory sensitizers: avoid skin contact and vapor, and ventilate.
Check your national exposure limit; nothing here shows that it is kept.
Reacting foam is hot, and hottest in the core; it stays hot after demold.
A closed mold under back pressure stores energy: keep clear of vents, seams and clamps until the pressure is gone.
A result is an estimate, not a pressure-safety calculation.
It is no reason to take off a clamp or to close a vent.
Follow the supplier's safety data sheet, local codes and licensed practice.";

/// Width of wrapped text, characters.
const WIDTH: usize = 100;

/// The cautions that belong wherever a result could hurt someone: one a line, without a line end at the end.
pub fn cautions() -> &'static str {
    CAUTIONS
}

/// A casting in words and numbers: what happens, a table of its quantities, the cautions.
pub fn describe_run(run: &Run, units: DisplayUnits) -> String {
    let listed: String = CAUTIONS.lines().map(|line| wrapped(line, "- ", "  ")).collect();
    let sentence = wrapped(&run_sentence(run, units), "", "");
    format!("{sentence}\n{}\nCautions\n{listed}", run_table(run, units).to_text())
}

/// What happens in a casting, in a sentence or a few.
pub fn run_sentence(run: &Run, units: DisplayUnits) -> String {
    let result = &run.result;
    let (time, mass) = (units.of(Quantity::Time), units.of(Quantity::Mass));
    let mut text = match (result.verdict, result.fill_time, result.gel_time) {
        (Verdict::Short, _, Some(gel)) => {
            let fill = percent(result.fill_fraction, 0);
            format!("Short shot: the foam gels at {} with {fill} of the cavity filled.", time.text(gel))
        }
        (Verdict::Short, ..) => format!("Short shot: {} of the cavity is filled.", percent(result.fill_fraction, 0)),
        (Verdict::Soft, ..) => "Soft: the foam still flows at demold.".to_owned(),
        (verdict, Some(fill), Some(gel)) => {
            let (fill, gel, margin) = (time.text(fill), time.text(gel), time.text(gel - fill));
            format!("{}: the foam fills the mold at {fill} and gels at {gel}, {margin} later.", verdict_words(verdict))
        }
        (verdict, ..) => format!("{}.", verdict_words(verdict)),
    };
    if result.verdict == Verdict::Flash {
        text += &format!(" {} leaves at the parting line or through a leak.", mass.text(result.flash));
    }
    if let Some(opened) = result.clamp_opened {
        text += &format!(" The pressure exceeds the clamp at {}.", time.text(opened));
    }
    if let Some(opened) = result.leak_opened {
        text += &format!(" The leak opens at {}.", time.text(opened));
    }
    text
}

pub(super) fn verdict_words(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Full => "Full part",
        Verdict::Short => "Short shot",
        Verdict::Flash => "Full part with flash",
        Verdict::Soft => "Soft part",
    }
}

/// The quantities of a casting with their units, one a row.
pub fn run_table(run: &Run, units: DisplayUnits) -> Table {
    let r = &run.result;
    let time = units.of(Quantity::Time);
    let pressure = units.of(Quantity::GaugePressure);
    let mass = units.of(Quantity::Mass);
    let density = units.of(Quantity::Density);
    let temp = units.of(Quantity::Temperature);
    let mut table = Table::new(&[("quantity", Align::Left), ("predicted", Align::Right)]);
    table.push(["outcome", verdict_words(r.verdict)]);
    let rows = [
        ("peak gauge pressure", pressure.text(r.peak_pressure)),
        ("time of the peak", time.text(r.peak_time)),
        ("gauge pressure at gel", pressure.maybe(r.pressure_at_gel)),
        ("fill time", time.maybe(r.fill_time)),
        ("gel time", time.maybe(r.gel_time)),
        ("margin from fill to gel", time.maybe(r.margin())),
        ("fill at demold", percent(r.fill_fraction, 1)),
        ("part mass", mass.text(r.part_mass)),
        ("vent loss", mass.text(r.vent_loss)),
        ("flash", mass.text(r.flash)),
        ("density (part over cavity)", density.text(run.result.density)),
        ("free-rise density", density.text(run.free_rise_density)),
        ("packing factor", fixed(run.packing_factor, 2)),
        ("clamp force to hold the peak", units.of(Quantity::Force).text(r.clamp_needed)),
        ("hottest core (upper bound)", temp.text(r.core_temp)),
    ];
    rows.into_iter().for_each(|(name, value)| table.push([name.to_owned(), value]));
    table
}

/// Text in lines of up to [`WIDTH`] characters; the first begins with `first`, the others with `rest`.
pub(super) fn wrapped(text: &str, first: &str, rest: &str) -> String {
    let mut lines = vec![first.to_owned()];
    let mut is_fresh = true;
    for word in text.split_whitespace() {
        let line = lines.last().map_or(0, |line| line.chars().count());
        if !is_fresh && line + 1 + word.chars().count() > WIDTH {
            lines.push(rest.to_owned());
            is_fresh = true;
        }
        if let Some(line) = lines.last_mut() {
            line.push_str(if is_fresh { "" } else { " " });
            line.push_str(word);
        }
        is_fresh = false;
    }
    lines.join("\n") + "\n"
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn long_text_is_wrapped_and_indented() {
        let text = wrapped(&"word ".repeat(30), "- ", "  ");
        assert!(text.lines().all(|line| line.chars().count() <= WIDTH));
        assert!(text.starts_with("- word") && text.lines().nth(1).is_some_and(|line| line.starts_with("  word")));
        assert_eq!(text.split_whitespace().filter(|word| *word == "word").count(), 30);
    }
}
