//! A trial: one casting as it was run and what came out of it.

use serde::{Deserialize, Serialize};
use std::path::PathBuf;

use crate::model::{Casting, Field, Outcome, Range, Verdict};
use crate::units::Quantity;

/// One logged casting, in SI units. Any observation may be absent.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Trial {
    /// The trial's name in its ledger.
    pub name: String,
    /// The ledger it came from, and its line there.
    pub file: Option<PathBuf>,
    /// Line in the ledger, counted from 1.
    pub line: Option<u64>,
    /// How it was run.
    pub casting: Casting,
    /// Ambient temperature, K; kept for the record, the model does not use it.
    pub ambient_temp: Option<f64>,
    /// What the scale showed of the demolded, trimmed part, kg.
    pub part_mass: Option<f64>,
    /// Mass that came out of the vents, kg.
    pub vent_loss: Option<f64>,
    /// Mass that came out of the parting line, kg.
    pub flash: Option<f64>,
    /// What the part looked like.
    pub outcome: Option<Verdict>,
    /// Peak gauge pressure, Pa.
    pub peak_pressure: Option<f64>,
    /// Whether the gauge stood at its stop: the true peak is at least `peak_pressure`.
    pub gauge_at_stop: bool,
    /// Hottest temperature measured in the part's core, K.
    pub core_temp: Option<f64>,
    /// A pressure or temperature trace.
    pub trace: Option<Trace>,
    /// Remarks, as written.
    pub remarks: String,
    /// What the ledger left out and was assumed, in words.
    pub assumed: Vec<String>,
}

impl Trial {
    /// A casting of which nothing was weighed or read.
    pub fn blank(name: impl Into<String>, casting: Casting) -> Self {
        Trial {
            name: name.into(),
            file: None,
            line: None,
            casting,
            ambient_temp: None,
            part_mass: None,
            vent_loss: None,
            flash: None,
            outcome: None,
            peak_pressure: None,
            gauge_at_stop: false,
            core_temp: None,
            trace: None,
            remarks: String::new(),
            assumed: Vec::new(),
        }
    }
}

/// A logged trace of one casting; NaN where a value is absent.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Trace {
    /// The file it came from.
    pub file: Option<PathBuf>,
    /// Time since the end of mixing, s, rising; shape (n,).
    pub time: Vec<f64>,
    /// Gauge pressure in the cavity, Pa; shape (n,).
    pub pressure: Option<Vec<f64>>,
    /// Temperature in the part, K; shape (n,).
    pub temp: Option<Vec<f64>>,
}

/// A number that is weighed or read of a casting, if it is.
pub struct Observation {
    pub(crate) field: Field,
    sentence: &'static str,
    outcome: Option<Outcome>,
    get: fn(&Trial) -> Option<f64>,
    set: fn(&mut Trial, Option<f64>),
}

const fn observation(
    base: &'static str,
    (quantity, range): (Quantity, Range),
    sentence: &'static str,
    get: fn(&Trial) -> Option<f64>,
    set: fn(&mut Trial, Option<f64>),
) -> Observation {
    Observation { field: Field::new(base, quantity, range), sentence, outcome: None, get, set }
}

const fn modeled(outcome: Outcome, observation: Observation) -> Observation {
    Observation { outcome: Some(outcome), ..observation }
}

const MASS: (Quantity, Range) = (Quantity::Mass, Range::NotNegative);
const PRESSURE: (Quantity, Range) = (Quantity::GaugePressure, Range::NotNegative);
const TEMPERATURE: (Quantity, Range) = (Quantity::Temperature, Range::Any);

/// What is weighed and read of castings, in the order of the ledger's columns.
pub static OBSERVATIONS: [Observation; 6] = [
    modeled(
        Outcome::ScaleReading,
        observation(
            "part_mass",
            MASS,
            "Reading of the scale for the trimmed part.",
            |t| t.part_mass,
            |t, x| t.part_mass = x,
        ),
    ),
    modeled(
        Outcome::VentLoss,
        observation("vent_loss", MASS, "Mass that came out of the vents.", |t| t.vent_loss, |t, x| t.vent_loss = x),
    ),
    modeled(
        Outcome::Flash,
        observation("flash", MASS, "Mass that came out at the parting line.", |t| t.flash, |t, x| t.flash = x),
    ),
    modeled(
        Outcome::PeakPressure,
        observation(
            "peak_pressure",
            PRESSURE,
            "Highest gauge pressure that a gauge showed.",
            |t| t.peak_pressure,
            |t, x| t.peak_pressure = x,
        ),
    ),
    modeled(
        Outcome::PeakCoreTemp,
        observation("core_temp", TEMPERATURE, "Hottest core that was read.", |t| t.core_temp, |t, x| t.core_temp = x),
    ),
    observation("ambient_temp", TEMPERATURE, "Temperature of the shop.", |t| t.ambient_temp, |t, x| t.ambient_temp = x),
];

impl Observation {
    /// Its name at the edge, without the unit.
    pub fn name(&self) -> &'static str {
        self.field.base
    }

    /// What it measures; pressures are gauge.
    pub fn quantity(&self) -> Quantity {
        self.field.quantity
    }

    /// What it is, in a sentence.
    pub fn sentence(&self) -> &'static str {
        self.sentence
    }

    /// The outcome of the model that stands beside it, if there is one.
    pub fn outcome(&self) -> Option<Outcome> {
        self.outcome
    }

    /// Its value in a trial, SI, if it was taken.
    pub fn of(&self, trial: &Trial) -> Option<f64> {
        (self.get)(trial)
    }

    /// Writes it into a trial, SI.
    pub(super) fn set(&self, trial: &mut Trial, value: Option<f64>) {
        (self.set)(trial, value);
    }
}
