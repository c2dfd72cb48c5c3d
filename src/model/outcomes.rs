//! What a casting comes to: one row for each quantity, from which sweeps, predictions, attributes and reports read.

use serde::{Deserialize, Serialize};
use std::ops::{Div, Sub};

use super::result::{CastingResult, Run};
use crate::units::Quantity;

/// A quantity that a casting comes to; [`Outcome::row`] has what is known of it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[allow(missing_docs)] // each name's sentence stands in its row
pub enum Outcome {
    PeakPressure,
    Density,
    PartMass,
    ScaleReading,
    VentLoss,
    Flash,
    FillFraction,
    FillTime,
    GelTime,
    Margin,
    PeakTime,
    PressureAtGel,
    PressureAtDemold,
    LowPressureTime,
    RiseStart,
    ClampNeeded,
    ClampOpened,
    LeakOpened,
    FreeRiseDensity,
    PackingFactor,
    PeakCoreTemp,
    TempAtDemold,
    GelledAtDemold,
    BlownAtDemold,
    SkinThickness,
    CoreDensity,
    SkinSetTime,
    SkinSetPressure,
    SkinSetTemp,
}

/// What is known of an outcome.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OutcomeRow {
    /// The outcome.
    pub outcome: Outcome,
    /// Its name at the edge, without the unit.
    pub name: &'static str,
    /// What it measures; pressures are gauge.
    pub quantity: Quantity,
    /// Its name in reports.
    pub words: &'static str,
    /// What it is, in a sentence.
    pub sentence: &'static str,
    /// Whether draws of a casting are summed up in it.
    pub drawn: bool,
    /// Whether the linear model predicts it with an interval: what cannot be below zero, and is smooth.
    pub predicted: bool,
    /// Whether reports of single castings show it.
    pub reported: bool,
    /// Whether only foam in layers comes to it: reports of a lump leave it out.
    pub of_layers: bool,
}

const fn row(
    outcome: Outcome,
    name: &'static str,
    quantity: Quantity,
    words: &'static str,
    sentence: &'static str,
) -> OutcomeRow {
    OutcomeRow {
        outcome,
        name,
        quantity,
        words,
        sentence,
        drawn: false,
        predicted: false,
        reported: true,
        of_layers: false,
    }
}

const fn predicted(row: OutcomeRow) -> OutcomeRow {
    OutcomeRow { drawn: true, predicted: true, ..row }
}

const fn drawn(row: OutcomeRow) -> OutcomeRow {
    OutcomeRow { drawn: true, ..row }
}

const fn of_layers(row: OutcomeRow) -> OutcomeRow {
    OutcomeRow { of_layers: true, ..row }
}

const fn unreported(row: OutcomeRow) -> OutcomeRow {
    OutcomeRow { reported: false, ..row }
}

/// The outcomes, in the order of [`Outcome`].
static ROWS: [OutcomeRow; Outcome::COUNT] = [
    predicted(row(
        Outcome::PeakPressure,
        "peak_pressure",
        Quantity::GaugePressure,
        "peak gauge pressure",
        "Highest gauge pressure in the cavity.",
    )),
    predicted(row(
        Outcome::Density,
        "density",
        Quantity::Density,
        "density (part over cavity)",
        "Overall density in the sense of ISO 845: mass of the part over volume of the cavity.",
    )),
    predicted(row(
        Outcome::PartMass,
        "part_mass",
        Quantity::Mass,
        "part mass",
        "Mass of the mix that stayed in the cavity.",
    )),
    predicted(row(
        Outcome::ScaleReading,
        "scale_reading",
        Quantity::Mass,
        "reading of a scale in air",
        "What a scale in air shows of the part when it is weighed (`weighed_after`): less by gas that left and by buoyancy.",
    )),
    predicted(row(Outcome::VentLoss, "vent_loss", Quantity::Mass, "vent loss", "Mass of foam lost through vents.")),
    predicted(row(
        Outcome::Flash,
        "flash",
        Quantity::Mass,
        "flash",
        "Mass of foam lost through the parting line or a leak.",
    )),
    drawn(row(
        Outcome::FillFraction,
        "fill_fraction",
        Quantity::Fraction,
        "fill at demold",
        "Share of the cavity that foam fills at demold.",
    )),
    predicted(row(
        Outcome::FillTime,
        "fill_time",
        Quantity::Time,
        "fill time",
        "When the foam reaches the last opening.",
    )),
    predicted(row(Outcome::GelTime, "gel_time", Quantity::Time, "gel time", "When the foam stops flowing.")),
    drawn(row(
        Outcome::Margin,
        "margin",
        Quantity::Time,
        "margin from fill to gel",
        "Gel time less fill time: how much later the foam could have filled the cavity.",
    )),
    row(Outcome::PeakTime, "peak_time", Quantity::Time, "time of the peak", "When the pressure is highest."),
    row(
        Outcome::PressureAtGel,
        "pressure_at_gel",
        Quantity::GaugePressure,
        "gauge pressure at gel",
        "Gauge pressure when the foam gels.",
    ),
    drawn(row(
        Outcome::PressureAtDemold,
        "pressure_at_demold",
        Quantity::GaugePressure,
        "gauge pressure at demold",
        "Gauge pressure at demold; below zero where the foam has cooled under ambient pressure.",
    )),
    drawn(row(
        Outcome::LowPressureTime,
        "low_pressure_time",
        Quantity::Time,
        "pressure low from (estimate)",
        "When the gauge pressure of set foam falls below `opening_limit` for good: an estimate, no permission to open.",
    )),
    unreported(row(
        Outcome::RiseStart,
        "rise_start",
        Quantity::Time,
        "start of the rise",
        "When CO2 has saturated the liquid and the foam begins to rise.",
    )),
    OutcomeRow {
        predicted: true,
        ..row(
            Outcome::ClampNeeded,
            "clamp_needed",
            Quantity::Force,
            "clamp force to hold the peak",
            "Clamp force that would hold the peak pressure; an estimate, no safety calculation.",
        )
    },
    unreported(row(
        Outcome::ClampOpened,
        "clamp_opened",
        Quantity::Time,
        "clamp exceeded",
        "When the pressure first exceeds the clamp.",
    )),
    unreported(row(Outcome::LeakOpened, "leak_opened", Quantity::Time, "leak opens", "When the leak opens.")),
    row(
        Outcome::FreeRiseDensity,
        "free_rise_density",
        Quantity::Density,
        "free-rise density",
        "Density of the same mix in a free rise without heat loss, at the same ambient pressure.",
    ),
    row(
        Outcome::PackingFactor,
        "packing_factor",
        Quantity::Number,
        "packing factor",
        "Density of the part over free-rise density.",
    ),
    row(
        Outcome::PeakCoreTemp,
        "peak_core_temp",
        Quantity::Temperature,
        "hottest core (lump: at most)",
        "Hottest that the core gets: of a lump an upper bound, without heat loss; of foam in layers that of the middle.",
    ),
    drawn(row(
        Outcome::TempAtDemold,
        "temp_at_demold",
        Quantity::Temperature,
        "mean temperature at demold",
        "Mean temperature of the foam at demold.",
    )),
    drawn(row(
        Outcome::GelledAtDemold,
        "gelled_at_demold",
        Quantity::Fraction,
        "gelled at demold",
        "Mean gelling conversion of the foam at demold.",
    )),
    unreported(row(
        Outcome::BlownAtDemold,
        "blown_at_demold",
        Quantity::Fraction,
        "blown at demold",
        "Mean blowing conversion of the foam at demold.",
    )),
    of_layers(drawn(row(
        Outcome::SkinThickness,
        "skin_thickness",
        Quantity::Length,
        "thickness of the skin",
        "How deep the foam, as it gels, is more than 1.2 times as dense as in the middle; of foam in layers only.",
    ))),
    of_layers(drawn(row(
        Outcome::CoreDensity,
        "core_density",
        Quantity::Density,
        "density of the core",
        "Density of what lies within the skin, as it gels, in the sense of ISO 845; of foam in layers only.",
    ))),
    of_layers(row(
        Outcome::SkinSetTime,
        "skin_set_time",
        Quantity::Time,
        "skin sets",
        "When the outer twentieth of the foam gels; of foam in layers only.",
    )),
    of_layers(row(
        Outcome::SkinSetPressure,
        "skin_set_pressure",
        Quantity::GaugePressure,
        "gauge pressure as the skin sets",
        "Gauge pressure when the outer twentieth of the foam gels; of foam in layers only.",
    )),
    of_layers(unreported(row(
        Outcome::SkinSetTemp,
        "skin_set_temp",
        Quantity::Temperature,
        "temperature of the skin as it sets",
        "Temperature of the outer twentieth of the foam when it gels; of foam in layers only.",
    ))),
];

impl Outcome {
    /// How many there are.
    pub const COUNT: usize = 29;

    /// All of them, in the order in which they are shown.
    pub fn all() -> impl ExactSizeIterator<Item = Outcome> {
        ROWS.iter().map(|row| row.outcome)
    }

    /// Those that reports of this casting show.
    pub(crate) fn reported(run: &Run) -> impl Iterator<Item = &'static OutcomeRow> {
        let there = |row: &&OutcomeRow| !row.of_layers || row.outcome.of_run(run).is_some();
        ROWS.iter().filter(|row| row.reported).filter(there)
    }

    /// Those in which draws of a casting are summed up.
    pub fn drawn() -> impl Iterator<Item = Outcome> {
        ROWS.iter().filter(|row| row.drawn).map(|row| row.outcome)
    }

    /// Those that the linear model predicts with an interval.
    pub fn predicted() -> impl Iterator<Item = Outcome> {
        ROWS.iter().filter(|row| row.predicted).map(|row| row.outcome)
    }

    /// What is known of it.
    pub const fn row(self) -> &'static OutcomeRow {
        &ROWS[self as usize]
    }

    /// Its name at the edge, without the unit.
    pub fn name(self) -> &'static str {
        self.row().name
    }

    /// What it measures.
    pub fn quantity(self) -> Quantity {
        self.row().quantity
    }

    /// Whether some castings do not come to it, such as to a fill time.
    pub fn may_be_absent(self) -> bool {
        self.of_result(&CastingResult::before(1.0, 0.0)).is_none()
    }

    /// Its value in the result of a casting whose mix has this free-rise density (kg/m3), SI, if the casting came to
    /// it;
    /// `constant` makes a number of the result's kind.
    pub(crate) fn of<S>(self, r: &CastingResult<S>, free_rise_density: S, constant: fn(f64) -> S) -> Option<S>
    where
        S: Copy + Sub<Output = S> + Div<Output = S>,
    {
        Some(match self {
            Outcome::PeakPressure => r.peak_pressure,
            Outcome::PeakTime => constant(r.peak_time),
            Outcome::PressureAtGel => return r.pressure_at_gel,
            Outcome::PressureAtDemold => r.pressure_at_demold,
            Outcome::LowPressureTime => return r.low_pressure_time,
            Outcome::RiseStart => return r.rise_start,
            Outcome::FillTime => return r.fill_time,
            Outcome::GelTime => return r.gel_time,
            Outcome::Margin => r.gel_time? - r.fill_time?,
            Outcome::ClampOpened => return r.clamp_opened,
            Outcome::LeakOpened => return r.leak_opened,
            Outcome::ClampNeeded => r.clamp_needed,
            Outcome::PartMass => r.part_mass,
            Outcome::ScaleReading => r.scale_reading,
            Outcome::VentLoss => r.vent_loss,
            Outcome::Flash => r.flash,
            Outcome::FillFraction => r.fill_fraction,
            Outcome::Density => r.density,
            Outcome::FreeRiseDensity => free_rise_density,
            Outcome::PackingFactor => r.density / free_rise_density,
            Outcome::PeakCoreTemp => r.core_temp,
            Outcome::TempAtDemold => r.temp_at_demold,
            Outcome::GelledAtDemold => r.gelled_at_demold,
            Outcome::BlownAtDemold => r.blown_at_demold,
            Outcome::SkinThickness => return r.skin_thickness,
            Outcome::CoreDensity => return r.core_density,
            Outcome::SkinSetTime => return r.skin_set_time,
            Outcome::SkinSetPressure => return r.skin_set_pressure,
            Outcome::SkinSetTemp => return r.skin_set_temp,
        })
    }

    /// Its value in a run, SI, if the casting came to it.
    pub fn of_run(self, run: &Run) -> Option<f64> {
        self.of(&run.result, run.free_rise_density, |x| x)
    }

    /// Its value in a result alone, SI; not a number for what takes the free-rise density.
    pub fn of_result(self, result: &CastingResult) -> Option<f64> {
        self.of(result, f64::NAN, |x| x)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::{SKIN_RATIO, SKIN_SHARE};

    #[test]
    fn rows_stand_in_the_order_of_the_outcomes() {
        for (i, row) in ROWS.iter().enumerate() {
            assert_eq!(row.outcome as usize, i, "{}", row.name);
            assert!(row.sentence.ends_with('.'), "{}", row.name);
        }
    }

    /// Sentences that quote a number say that of the code.
    #[test]
    fn a_skin_is_what_its_sentences_say() {
        assert!(Outcome::SkinThickness.row().sentence.contains(&format!("{SKIN_RATIO} times")));
        assert!(Outcome::SkinSetTime.row().sentence.contains("twentieth") && SKIN_SHARE == 1.0 / 20.0);
    }
}
