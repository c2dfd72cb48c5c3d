//! The table of fitted parameters: for each its name and unit, its prior with the source, what it belongs to, which
//! records determine it and what a shop does to learn it. Where it acts stands in `fit/setup.rs`.

use serde::{Deserialize, Serialize};

use crate::inference::{Estimand, Prior};

/// A quantity that a fit may adjust, in the order of the table.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[allow(missing_docs)] // each is a row of the table below
pub enum Parameter {
    Induction,
    GasYield,
    BlowRate,
    BlowActivation,
    Competition,
    GelRate,
    GelActivation,
    BlowHeat,
    GelHeat,
    Solubility,
    AirFraction,
    GelConversion,
    RiseEndConversion,
    Settling,
    Viscosity,
    CellOpeningTime,
    CupHeatTransfer,
    CoreHeatLossFactor,
    SensorLag,
    DomeFraction,
    GasRetention,
    MoldRateFactor,
    CavityVolume,
    HeatTransfer,
    VentSize,
    PartingGap,
    PartingOpening,
    ClampEffect,
    GasFactor,
    BlowFactor,
    GelFactor,
    FlowFactor,
    MixTempError,
    MoldTempError,
    ChargeError,
    CastingScatter,
    LotScatter,
}

/// How a parameter is written at the edge.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Label {
    /// Name with its unit, as in files and frames.
    pub name: &'static str,
    /// The unit in words; empty for a plain number.
    pub unit: &'static str,
    /// What an SI value is multiplied with to be in this unit.
    pub scale: f64,
}

/// What a parameter belongs to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Group {
    /// A constant of the grade.
    Grade,
    /// The cup test and its sensor.
    Cup,
    /// The mold.
    Mold,
    /// One record: by what it differs from the others.
    Record,
    /// The scatter that all castings share.
    Scatter,
}

/// Which fits adjust a parameter.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FittedTo {
    /// Cup tests only.
    Cups,
    /// Castings only.
    Castings,
    /// Cup tests; castings then start from what these determined.
    Both,
}

/// What a mold needs to have for a parameter to act at all.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Needs {
    /// Any mold has it.
    Nothing,
    /// Vents.
    Vents,
    /// A parting line.
    PartingLine,
    /// A parting line and a clamp force.
    Clamp,
}

/// What a parameter does to the place where it acts.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Action {
    /// It is the value there.
    Is,
    /// It multiplies what is there.
    Scales,
    /// It is added to what is there.
    Adds,
}

/// Everything that is to be known of a parameter before any record.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ParameterRow {
    /// The parameter.
    pub parameter: Parameter,
    /// Its name and unit.
    pub label: Label,
    /// What is expected of it where nothing else is known.
    pub prior: Prior,
    /// What it belongs to.
    pub group: Group,
    /// Which fits adjust it.
    pub fitted_to: FittedTo,
    /// What the mold needs to have.
    pub needs: Needs,
    /// What it does where it acts.
    pub action: Action,
    /// Whether the prior stands around what the grade or the mold was described with.
    pub described: bool,
    /// The constant of the grade that this factor of one record multiplies: only their product is simulated.
    pub multiplies: Option<Parameter>,
    /// Whether a grade may do without it (0), though a prior that counts in factors never comes there.
    pub can_be_none: bool,
    /// Whether a grade may have it infinite: cells that stay closed open after no time.
    pub can_be_infinite: bool,
    /// What a shop does to learn it. Common practice, no source.
    pub deed: &'static str,
}

const START_OF_RISE: &str = "log the height every second from the pour until the foam rises, and take the cream time; weigh \
                             the foam of one casting under high pressure";
const OTHER_TEMPERATURE: &str = "log a cup at another temperature, 5 K or more away";
const CORE: &str = "log the temperature in the middle of the cup until it falls";
const DENSITY: &str = "measure the free-rise density of the cup foam";
const END_OF_RISE: &str = "log the height until it stands, and take the end of rise";
const GEL_TIME: &str = "take the string gel time";
const COOLING: &str = "log the temperature every second, until the foam cools";
const REPEAT: &str = "repeat one trial with the same settings";
const TEMPERATURES: &str = "measure the temperatures of mix and mold wall";
const FLASH: &str = "weigh the flash of one casting with less clamp force";

/// The table. Priors of the grade's constants: published kinetic models and measurements disagree by a factor of two,
/// so these are wide (Baser and Khakhar, Polym. Eng. Sci. 34, 632 and 642, 1994; Geier, Winkler and Piesche, Chem. Eng.
/// Technol. 32, 1438, 2009; both from memory, not verified): their range is two standard deviations either way. Priors
/// of the mold and of one record: common practice, no source.
static ROWS: [ParameterRow; 37] = {
    use Parameter as P;
    [
        // Catalysts wake up, the last of the mixing; common practice, no source.
        grade(P::Induction, "induction_s", "s", 1.0, Prior::lognormal(2.0, 0.6, 0.02, 60.0), START_OF_RISE).or_none(),
        grade(P::GasYield, "gas_yield_mol_kg", "mol/kg", 1.0, Prior::lognormal(0.5, 0.7, 0.03, 3.0), DENSITY),
        grade(
            P::BlowRate,
            "blow_rate_per_s",
            "1/s at 40 °C",
            1.0,
            Prior::lognormal(1.0 / 30.0, 0.7, 1e-3, 1.0),
            END_OF_RISE,
        ),
        grade(
            P::BlowActivation,
            "blow_activation_kJ_mol",
            "kJ/mol",
            1e-3,
            Prior::lognormal(34e3, 0.13, 15e3, 80e3),
            OTHER_TEMPERATURE,
        ),
        // Stoichiometry: near an index of 100 as much is left to blowing as to gelling. Its spread: common practice, no
        // source.
        grade(P::Competition, "competition", "", 1.0, Prior::lognormal(1.0, 0.3, 0.02, 10.0), END_OF_RISE).or_none(),
        grade(
            P::GelRate,
            "gel_rate_per_s",
            "1/s at 40 °C",
            1.0,
            Prior::lognormal(1.0 / 45.0, 0.7, 5e-4, 1.0),
            GEL_TIME,
        ),
        grade(
            P::GelActivation,
            "gel_activation_kJ_mol",
            "kJ/mol",
            1e-3,
            Prior::lognormal(42e3, 0.165, 15e3, 90e3),
            OTHER_TEMPERATURE,
        ),
        // Per mole of CO2, so that a grade with more gas is expected to be hotter: 86 kJ/mol of water in Baser and
        // Khakhar, up to 125 elsewhere; both from memory, not verified.
        grade(P::BlowHeat, "blow_heat_kJ_mol", "kJ/mol", 1e-3, Prior::lognormal(86e3, 0.2, 10e3, 400e3), CORE),
        grade(P::GelHeat, "gel_heat_K", "K", 1.0, Prior::lognormal(85.0, 0.25, 15.0, 200.0), CORE),
        grade(
            P::Solubility,
            "solubility_kg_kgbar",
            "kg/(kg bar)",
            1e5,
            Prior::lognormal(1e-8, 0.58, 5e-10, 1.5e-7),
            START_OF_RISE,
        ),
        grade(P::AirFraction, "air_fraction", "", 1.0, Prior::lognormal(0.03, 0.68, 1e-3, 0.4), START_OF_RISE),
        grade(P::GelConversion, "gel_conversion", "", 1.0, Prior::lognormal(0.63, 0.075, 0.4, 0.9), GEL_TIME),
        grade(
            P::RiseEndConversion,
            "rise_end_conversion",
            "",
            1.0,
            Prior::lognormal(0.71, 0.09, 0.4, 0.95),
            END_OF_RISE,
        )
        .to(FittedTo::Cups),
        grade(
            P::Settling,
            "settling",
            "",
            1.0,
            Prior::lognormal(0.01, 1.0, 1e-5, 0.3),
            "log the height for a minute after the end of rise",
        )
        .to(FittedTo::Cups),
        // Mixes have 0.2 to 20 Pa s (from memory, not verified); lower here, for a foam thins under the shear in a
        // vent.
        grade(
            P::Viscosity,
            "viscosity_Pa_s",
            "Pa s at 40 °C",
            1.0,
            Prior::lognormal(1.2, 1.4, 2e-3, 2e3),
            "weigh what comes out of the vent, with a vent wide enough to lose a few grams",
        )
        .to(FittedTo::Castings),
        grade(
            P::CellOpeningTime,
            "cell_opening_time_s",
            "s",
            1.0,
            Prior::lognormal(200.0, 1.2, 5.0, 1e5),
            "log the pressure from gel to demold",
        )
        .to(FittedTo::Castings)
        .or_infinite()
        .described(),
        cup(P::CupHeatTransfer, "cup_heat_transfer_W_m2K", "W/(m2 K)", Prior::lognormal(8.0, 0.6, 0.2, 80.0), COOLING),
        // Foam insulates: in a test's time its core hardly feels the wall; common practice, no source.
        cup(
            P::CoreHeatLossFactor,
            "core_heat_loss_factor",
            "of the mean's",
            Prior::lognormal(0.1, 0.9, 1e-3, 1.0),
            COOLING,
        ),
        cup(P::SensorLag, "sensor_lag_s", "s", Prior::lognormal(2.0, 0.35, 0.1, 20.0), COOLING),
        cup(P::DomeFraction, "dome_fraction", "of the rise", Prior::normal(0.015, 0.01, -0.03, 0.1), DENSITY),
        // An open cup loses some gas through its surface that a closed mold keeps; common practice, no source.
        mold(
            P::GasRetention,
            "gas_retention",
            "of the cup's",
            Prior::lognormal(1.0, 0.04, 0.7, 1.5),
            "read the peak pressure of one casting",
        )
        .is_value()
        .described(),
        // A cup is not a mold: other masses, another pour; common practice, no source.
        mold(
            P::MoldRateFactor,
            "mold_rate_factor",
            "of the cup's",
            Prior::lognormal(1.0, 0.035, 0.7, 1.4),
            "log the pressure of one casting: it shows when the mold filled",
        )
        .is_value()
        .described(),
        mold(
            P::CavityVolume,
            "cavity_volume_factor",
            "of the given",
            Prior::lognormal(1.0, 0.005, 0.9, 1.1),
            "fill the mold with water and weigh the water",
        ),
        mold(
            P::HeatTransfer,
            "heat_transfer_factor",
            "of the given",
            Prior::lognormal(1.0, 0.5, 0.05, 20.0),
            "log the pressure of one casting until demold",
        ),
        mold(
            P::VentSize,
            "vent_size_factor",
            "of the given",
            Prior::lognormal(1.0, 0.05, 0.6, 1.5),
            "measure the vent with a drill shank, and weigh what comes out of it",
        )
        .needs(Needs::Vents),
        mold(P::PartingGap, "parting_gap_um", "um", Prior::lognormal(1e-5, 1.0, 1e-7, 1e-3), FLASH)
            .scaled(1e6)
            .needs(Needs::PartingLine)
            .is_value()
            .described(),
        mold(P::PartingOpening, "parting_opening_factor", "of the given", Prior::lognormal(1.0, 1.0, 1e-3, 1e3), FLASH)
            .needs(Needs::PartingLine),
        mold(
            P::ClampEffect,
            "clamp_effect_factor",
            "of the given",
            Prior::lognormal(1.0, 0.15, 0.3, 2.0),
            "measure the clamp force, and weigh the flash of one casting with less of it",
        )
        .needs(Needs::Clamp),
        record(P::GasFactor, "gas_factor", "", Prior::lognormal(1.0, 0.015, 0.8, 1.25), REPEAT).of(P::GasYield),
        record(P::BlowFactor, "blow_factor", "", Prior::lognormal(1.0, 0.03, 0.7, 1.4), REPEAT).of(P::BlowRate),
        record(P::GelFactor, "gel_factor", "", Prior::lognormal(1.0, 0.03, 0.7, 1.4), REPEAT).of(P::GelRate),
        // What a vent passes varies with cells, burrs and skins in it: a smooth tube's law is a rough guide. Common
        // practice, no source.
        record(P::FlowFactor, "flow_factor", "", Prior::lognormal(1.0, 0.4, 0.05, 20.0), REPEAT)
            .of(P::Viscosity)
            .to(FittedTo::Castings),
        record(P::MixTempError, "mix_temp_error_K", "K", Prior::normal(0.0, 0.5, -6.0, 6.0), TEMPERATURES),
        record(P::MoldTempError, "mold_temp_error_K", "K", Prior::normal(0.0, 1.0, -12.0, 12.0), TEMPERATURES)
            .to(FittedTo::Castings),
        record(
            P::ChargeError,
            "charge_error_g",
            "g",
            Prior::normal(0.0, 0.5e-3, -5e-3, 5e-3),
            "weigh the cup before and after the pour",
        )
        .scaled(1e3)
        .to(FittedTo::Castings),
        scatter(P::CastingScatter, "casting_scatter_factor"),
        scatter(P::LotScatter, "lot_scatter_factor"),
    ]
};

/// The rows stand in the order of the variants.
const _: () = {
    let mut i = 0;
    while i < ROWS.len() {
        assert!(ROWS[i].parameter as usize == i);
        i += 1;
    }
};

const fn row(parameter: Parameter, group: Group, label: Label, prior: Prior, deed: &'static str) -> ParameterRow {
    ParameterRow {
        parameter,
        label,
        prior,
        group,
        fitted_to: FittedTo::Both,
        needs: Needs::Nothing,
        action: Action::Is,
        described: false,
        multiplies: None,
        can_be_none: false,
        can_be_infinite: false,
        deed,
    }
}

const fn grade(
    parameter: Parameter,
    name: &'static str,
    unit: &'static str,
    scale: f64,
    prior: Prior,
    deed: &'static str,
) -> ParameterRow {
    row(parameter, Group::Grade, Label { name, unit, scale }, prior, deed)
}

const fn cup(p: Parameter, name: &'static str, unit: &'static str, prior: Prior, deed: &'static str) -> ParameterRow {
    row(p, Group::Cup, Label { name, unit, scale: 1.0 }, prior, deed).to(FittedTo::Cups)
}

/// A factor on what the mold was described with, unless the row says otherwise.
const fn mold(p: Parameter, name: &'static str, unit: &'static str, prior: Prior, deed: &'static str) -> ParameterRow {
    ParameterRow {
        action: Action::Scales,
        ..row(p, Group::Mold, Label { name, unit, scale: 1.0 }, prior, deed).to(FittedTo::Castings)
    }
}

/// An error added to a setting, unless the row says that it multiplies a constant of the grade.
const fn record(
    p: Parameter,
    name: &'static str,
    unit: &'static str,
    prior: Prior,
    deed: &'static str,
) -> ParameterRow {
    ParameterRow { action: Action::Adds, ..row(p, Group::Record, Label { name, unit, scale: 1.0 }, prior, deed) }
}

const fn scatter(parameter: Parameter, name: &'static str) -> ParameterRow {
    let label = Label { name, unit: "of the believed", scale: 1.0 };
    row(parameter, Group::Scatter, label, Prior::lognormal(1.0, 0.3, 0.1, 10.0), REPEAT).to(FittedTo::Castings)
}

impl ParameterRow {
    const fn to(self, fitted_to: FittedTo) -> Self {
        ParameterRow { fitted_to, ..self }
    }

    const fn needs(self, needs: Needs) -> Self {
        ParameterRow { needs, ..self }
    }

    const fn scaled(self, scale: f64) -> Self {
        ParameterRow { label: Label { scale, ..self.label }, ..self }
    }

    const fn is_value(self) -> Self {
        ParameterRow { action: Action::Is, ..self }
    }

    const fn described(self) -> Self {
        ParameterRow { described: true, ..self }
    }

    /// A factor that one record has on this constant of the grade; set, it is the factor there.
    const fn of(self, constant: Parameter) -> Self {
        ParameterRow { multiplies: Some(constant), ..self.is_value() }
    }

    const fn or_none(self) -> Self {
        ParameterRow { can_be_none: true, ..self }
    }

    const fn or_infinite(self) -> Self {
        ParameterRow { can_be_infinite: true, ..self }
    }
}

impl Estimand for Parameter {
    const READING_SCATTER: Self = Parameter::CastingScatter;
    const RECORD_SCATTER: Self = Parameter::LotScatter;

    fn name(self) -> &'static str {
        self.row().label.name
    }
}

impl Parameter {
    /// Every parameter, in the order of the table.
    pub fn all() -> impl Iterator<Item = Parameter> {
        ROWS.iter().map(|row| row.parameter)
    }

    /// Everything that is to be known of it before any record.
    pub fn row(self) -> &'static ParameterRow {
        &ROWS[self as usize]
    }

    /// What is expected of it where nothing else is known.
    pub fn prior(self) -> Prior {
        self.row().prior
    }

    /// How it is written at the edge.
    pub fn label(self) -> Label {
        self.row().label
    }

    /// Those that cup tests share: of the grade and of the test itself.
    pub fn shared_by_cups() -> impl Iterator<Item = Parameter> {
        Self::all().filter(|p| !p.is_of_record() && p.row().fitted_to != FittedTo::Castings)
    }

    /// What makes one cup test differ from another of the same grade.
    pub fn of_each_cup() -> impl Iterator<Item = Parameter> {
        Self::all().filter(|p| p.is_of_record() && p.row().fitted_to != FittedTo::Castings)
    }

    /// What makes one casting differ from another with the same settings.
    pub fn of_each_casting() -> impl Iterator<Item = Parameter> {
        Self::all().filter(|p| p.is_of_record() && p.row().fitted_to != FittedTo::Cups)
    }

    /// Constants of the grade that cup tests determine and a confined foam depends on.
    pub fn carried_to_castings() -> impl Iterator<Item = Parameter> {
        Self::all().filter(|p| p.is_of_grade() && p.row().fitted_to == FittedTo::Both)
    }

    /// Those that castings share and cup tests know nothing of: of the grade and of the mold.
    pub fn of_castings_only() -> impl Iterator<Item = Parameter> {
        let of = |p: &Parameter| matches!(p.row().group, Group::Grade | Group::Mold);
        Self::all().filter(move |p| of(p) && p.row().fitted_to == FittedTo::Castings)
    }

    /// Constants of the grade with the factor of one record on each: only their product is simulated.
    pub fn products() -> impl Iterator<Item = (Parameter, Parameter)> {
        Self::all().filter_map(|factor| Some((factor.row().multiplies?, factor)))
    }

    /// Whether it is a constant of the grade.
    pub fn is_of_grade(self) -> bool {
        self.row().group == Group::Grade
    }

    /// Whether it belongs to one record.
    pub fn is_of_record(self) -> bool {
        self.row().group == Group::Record
    }
}
