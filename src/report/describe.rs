//! A casting in words and numbers, and the cautions that go with every result.

use super::display::DisplayUnits;
use super::number::{fixed, percent};
use super::table::{Align, Table};
use crate::model::{Outcome, Run, Verdict};
use crate::units::Quantity;

/// The safety text, one caution a line.
const CAUTIONS: &str = "\
Isocyanates are skin and respiratory sensitizers: avoid skin contact and vapor, and ventilate.
Check your national exposure limit; nothing here shows that it is kept.
Reacting foam is hot, and hottest in the core; it stays hot after demold.
A closed mold stores energy: keep clear of vents, seams and clamps until the pressure is gone.
A result is an estimate, not a pressure-safety calculation.
It is no reason to take off a clamp or to close a vent, nor to open early: wait, and open slowly.
Follow the supplier's safety data sheet, local codes and licensed practice.";

/// What the two parts of an error are; once in every report that names them.
pub(super) const DOUBT_AND_SCATTER: &str = "Doubt is what more records shrink; scatter, from casting to casting, is what \
                                            they do not.";

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
            format!("{}: the foam fills the mold at {fill} and gels at {gel}, {margin} later.", verdict.row().part)
        }
        (verdict, ..) => format!("{}.", verdict.row().part),
    };
    if result.verdict.has_flash() {
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

/// The quantities of a casting with their units, one a row.
pub fn run_table(run: &Run, units: DisplayUnits) -> Table {
    let mut table = Table::new(&[("quantity", Align::Left), ("predicted", Align::Right)]);
    table.push(["outcome", run.result.verdict.row().part]);
    for row in Outcome::reported(run) {
        table.push([row.words.to_owned(), outcome_text(row.outcome, run, units)]);
    }
    table
}

/// An outcome with its unit; `-` where the casting does not come to it.
pub(super) fn outcome_text(outcome: Outcome, run: &Run, units: DisplayUnits) -> String {
    let si = outcome.of_run(run);
    match outcome.quantity() {
        Quantity::Number => si.map_or_else(|| "-".to_owned(), |x| fixed(x, 2)),
        quantity => units.of(quantity).maybe(si),
    }
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
