//! What is known of a mold: its cavity, vents, parting line and clamp.

use serde::{Deserialize, Serialize};
use std::path::Path;

use super::entries::Entries;
use super::section::{Document, Section, Writer, write_text};
use super::text::read_text;
use super::vocabulary::Vocabulary;
use crate::error::Result;
use crate::model::{AT_FILL, COUNT, Cavity, Field, LAYER_COUNTS, Number, PartingLine, Range, VENT_KINDS, Vent};
use crate::units::Quantity;

/// A mold: a name and its cavity.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Mold {
    /// The mold's name.
    pub name: String,
    /// A remark, in words.
    pub note: String,
    /// The cavity and its openings.
    pub cavity: Cavity,
}

/// Density of water at 20 °C, kg/m3 (common practice, no source).
const WATER_DENSITY: f64 = 998.2;

const VOLUME: Field = Field::new("volume", Quantity::Volume, Range::Positive);
const WATER_FILL: Field = Field::new("water_fill", Quantity::Mass, Range::Positive);
const PROJECTED_AREA: Field = Field::new("projected_area", Quantity::Area, Range::Positive);
const WALL_AREA: Field = Field::new("wall_area", Quantity::Area, Range::Positive);
const HEAT_TRANSFER: Field = Field::new("heat_transfer", Quantity::HeatTransfer, Range::NotNegative);
const CONTACT_TRANSFER: Field = Field::new("contact_transfer", Quantity::HeatTransfer, Range::Positive);
const CONDUCTION_FACTOR: Field = Field::new("conduction_factor", Quantity::Number, Range::Positive);
const LAYERS: Field = Field::new("layers", Quantity::Number, Range::Positive);
const STRETCH: Field = Field::new("stretch", Quantity::Stretch, Range::NotNegative);
const CLAMP_FORCE: Field = Field::new("clamp_force", Quantity::Force, Range::NotNegative);
const DISCHARGE: Field = Field::new("discharge", Quantity::Fraction, Range::Fraction);
const GAS_RETENTION: Field = Field::new("gas_retention", Quantity::Number, Range::Positive);
const RATE_FACTOR: Field = Field::new("rate_factor", Quantity::Number, Range::Positive);
const CAVITY: Vocabulary = Vocabulary {
    words: &[],
    fields: &[
        VOLUME,
        WATER_FILL,
        PROJECTED_AREA,
        WALL_AREA,
        HEAT_TRANSFER,
        LAYERS,
        CONTACT_TRANSFER,
        CONDUCTION_FACTOR,
        STRETCH,
        CLAMP_FORCE,
        GAS_RETENTION,
        RATE_FACTOR,
        DISCHARGE,
    ],
};

/// What a vent says beside its numbers.
const KIND: &str = "kind";

const LENGTH: Field = Field::new("length", Quantity::Length, Range::Positive);
const LAND: Field = Field::new("land", Quantity::Length, Range::Positive);
const GAP: Field = Field::new("gap", Quantity::Length, Range::NotNegative);
const OPENING: Field = Field::new("opening", Quantity::Opening, Range::NotNegative);
const PARTING_LINE: Vocabulary = Vocabulary { words: &[], fields: &[LENGTH, LAND, GAP, OPENING, AT_FILL] };

const AT_FILL_HINT: &str = "the fill fraction at which the foam reaches it; 1 for the last place to fill";

const fn of_cavity(
    field: Field,
    sentence: &'static str,
    get: fn(&Cavity) -> Option<f64>,
    place: fn(&mut Cavity) -> Option<&mut f64>,
) -> Number<Cavity> {
    Number::new(field.base, (field.quantity, field.range), sentence, get, place)
}

const fn of_line(
    base: &'static str,
    field: Field,
    sentence: &'static str,
    get: fn(&Cavity) -> Option<f64>,
    place: fn(&mut Cavity) -> Option<&mut f64>,
) -> Number<Cavity> {
    Number::new(base, (field.quantity, field.range), sentence, get, place).of_part()
}

/// The numbers of a cavity and its parting line, by their names outside of files.
pub static CAVITY_NUMBERS: [Number<Cavity>; 16] = [
    of_cavity(VOLUME, "Volume of the closed cavity.", |c| Some(c.volume), |c| Some(&mut c.volume)),
    of_cavity(
        PROJECTED_AREA,
        "Area projected on the parting plane.",
        |c| Some(c.projected_area),
        |c| Some(&mut c.projected_area),
    ),
    of_cavity(WALL_AREA, "Area of the wall that the foam touches.", |c| Some(c.wall_area), |c| Some(&mut c.wall_area)),
    of_cavity(
        HEAT_TRANSFER,
        "Of foam as one lump: heat transfer from its mean temperature to the wall.",
        |c| Some(c.heat_transfer),
        |c| Some(&mut c.heat_transfer),
    ),
    of_cavity(
        CONTACT_TRANSFER,
        "Of foam in layers: heat transfer from its surface to the wall.",
        |c| Some(c.contact_transfer),
        |c| Some(&mut c.contact_transfer),
    )
    .or_absent(|c| c.contact_transfer = Cavity::CONTACT_TRANSFER),
    of_cavity(
        CONDUCTION_FACTOR,
        "Of foam in layers: how well heat passes, as a multiple of what conductivity and contact say.",
        |c| Some(c.conduction_factor),
        |c| Some(&mut c.conduction_factor),
    )
    .or_absent(|c| c.conduction_factor = 1.0),
    of_cavity(
        STRETCH,
        "Relative growth of the cavity per gauge pressure; 0: rigid.",
        |c| Some(c.stretch),
        |c| Some(&mut c.stretch),
    ),
    of_cavity(
        GAS_RETENTION,
        "CO2 that the foam keeps in this mold, as a multiple of what it keeps in an open cup.",
        |c| Some(c.gas_retention),
        |c| Some(&mut c.gas_retention),
    ),
    of_cavity(
        RATE_FACTOR,
        "How fast the mix reacts in this mold, as a multiple of how fast it does in a cup.",
        |c| Some(c.rate_factor),
        |c| Some(&mut c.rate_factor),
    ),
    of_cavity(DISCHARGE, "Discharge coefficient of vents.", |c| Some(c.discharge), |c| Some(&mut c.discharge)),
    of_line(
        "parting_length",
        LENGTH,
        "Length of the parting line along the cavity.",
        |c| c.parting_line.as_ref().map(|line| line.length),
        |c| c.parting_line.as_mut().map(|line| &mut line.length),
    ),
    of_line(
        "parting_land",
        LAND,
        "Width of the parting line that the flow has to cross.",
        |c| c.parting_line.as_ref().map(|line| line.land),
        |c| c.parting_line.as_mut().map(|line| &mut line.land),
    ),
    of_line(
        "parting_gap",
        GAP,
        "Gap of the parting line while the clamp holds.",
        |c| c.parting_line.as_ref().map(|line| line.gap),
        |c| c.parting_line.as_mut().map(|line| &mut line.gap),
    ),
    of_line(
        "parting_opening",
        OPENING,
        "Gap that opens per force beyond the clamp.",
        |c| c.parting_line.as_ref().map(|line| line.opening),
        |c| c.parting_line.as_mut().map(|line| &mut line.opening),
    ),
    of_line(
        "parting_at_fill",
        AT_FILL,
        "Fill fraction at which the foam reaches the parting line.",
        |c| c.parting_line.as_ref().map(|line| line.at_fill),
        |c| c.parting_line.as_mut().map(|line| &mut line.at_fill),
    ),
    of_cavity(
        CLAMP_FORCE,
        "Force that holds the mold closed; none: bolted, never opens.",
        |c| c.clamp_force,
        |c| Some(c.clamp_force.get_or_insert(0.0)),
    )
    .or_absent(|c| c.clamp_force = None),
];

impl Mold {
    /// Reads a mold from a TOML file; the form is that of [`Mold::to_toml`], in any units. In place of `volume_mL`,
    /// `water_fill_g` gives the mass of water at 20 °C that fills the cavity. Left out: no `clamp_force` is bolted, no
    /// `gas_retention` and `rate_factor` are 1, as in an open cup.
    ///
    /// Errors name the file, line and key: unknown or missing keys, units that do not fit, values that make no sense.
    pub fn load(path: impl AsRef<Path>) -> Result<Mold> {
        let path = path.as_ref();
        Mold::from_text(&read_text(path, "a mold: `name`, `note`, `[cavity]`, `[[vents]]`, `[parting_line]`")?, path)
    }

    /// As [`Mold::load`], from the text itself.
    pub fn from_toml(text: &str) -> Result<Mold> {
        Mold::from_text(text, Path::new("mold (TOML text)"))
    }

    fn from_text(text: &str, file: &Path) -> Result<Mold> {
        let document = Document::parse(text, file)?;
        let root = document.root();
        root.only(&["name", "note", "cavity", "vents", "parting_line"])?;
        let vents = root.tables("vents")?.iter().map(Vent::from_section).collect::<Result<_>>()?;
        let parting_line = root.table("parting_line")?.as_ref().map(PartingLine::from_section).transpose()?;
        Ok(Mold {
            name: root.needed_text("name")?,
            note: root.text("note")?.unwrap_or_default(),
            cavity: Cavity::from_section(&root.needed_table("cavity")?, vents, parting_line)?,
        })
    }

    /// The mold in TOML: `name`, `note`, `[cavity]`, `[[vents]]` and `[parting_line]`, with a unit at the end of every
    /// key.
    pub fn to_toml(&self) -> String {
        let mut writer = Writer::new(&self.name, &self.note);
        self.cavity.write(&mut writer);
        self.cavity.vents.iter().for_each(|vent| vent.write(&mut writer));
        self.cavity.parting_line.iter().for_each(|line| line.write(&mut writer));
        writer.finish()
    }

    /// Writes the mold to a TOML file.
    pub fn save(&self, path: impl AsRef<Path>) -> Result<()> {
        write_text(path.as_ref(), &self.to_toml())
    }
}

impl Cavity {
    fn from_section(section: &Section<'_, '_>, vents: Vec<Vent>, line: Option<PartingLine>) -> Result<Self> {
        let entries = section.numbers(CAVITY)?;
        let projected = "the shadow of the cavity on the parting plane; length times width of a box around it is an upper \
                         bound";
        let wall = "the surface that foam touches; from CAD, or 2 (ab + bc + ca) of a box of the cavity's size";
        Ok(Cavity {
            volume: read_volume(&entries)?,
            projected_area: entries.needed("projected_area", projected)?,
            wall_area: entries.needed("wall_area", wall)?,
            heat_transfer: entries.needed("heat_transfer", "if it is not known, start from 12")?,
            layers: read_layers(&entries)?,
            contact_transfer: entries.number("contact_transfer")?.unwrap_or(Cavity::CONTACT_TRANSFER),
            conduction_factor: entries.number("conduction_factor")?.unwrap_or(1.0),
            stretch: entries.needed("stretch", "0 for a rigid mold")?,
            clamp_force: entries.number("clamp_force")?,
            gas_retention: entries.number("gas_retention")?.unwrap_or(1.0),
            rate_factor: entries.number("rate_factor")?.unwrap_or(1.0),
            discharge: entries.needed("discharge", "0.82 for a drilled vent, 0.6 for a sharp-edged hole")?,
            vents,
            parting_line: line,
        })
    }

    fn write(&self, writer: &mut Writer) {
        writer.head("[cavity]");
        writer.number(&VOLUME, self.volume);
        writer.number(&PROJECTED_AREA, self.projected_area);
        writer.number(&WALL_AREA, self.wall_area);
        writer.number(&HEAT_TRANSFER, self.heat_transfer);
        if self.layers != 1 {
            writer.number(&LAYERS, self.layers as f64);
        }
        if self.contact_transfer != Cavity::CONTACT_TRANSFER {
            writer.number(&CONTACT_TRANSFER, self.contact_transfer);
        }
        if self.conduction_factor != 1.0 {
            writer.number(&CONDUCTION_FACTOR, self.conduction_factor);
        }
        writer.number(&STRETCH, self.stretch);
        self.clamp_force.iter().for_each(|force| writer.number(&CLAMP_FORCE, *force));
        if self.gas_retention != 1.0 {
            writer.number(&GAS_RETENTION, self.gas_retention);
        }
        if self.rate_factor != 1.0 {
            writer.number(&RATE_FACTOR, self.rate_factor);
        }
        writer.number(&DISCHARGE, self.discharge);
    }
}

/// How many layers the foam has: one of the numbers that there are.
fn read_layers(entries: &Entries) -> Result<usize> {
    let Some(given) = entries.number("layers")? else { return Ok(1) };
    let known = LAYER_COUNTS.into_iter().find(|count| *count as f64 == given);
    known.ok_or_else(|| {
        let found = entries.word("layers").unwrap_or_default();
        let expected = LAYER_COUNTS.map(|count| count.to_string()).join(", ");
        entries.contradiction("layers", found, &expected, "1 is one lump; 4 tell of a skin")
    })
}

/// The cavity's volume, m3: as given, or from the water that fills it.
fn read_volume(entries: &Entries) -> Result<f64> {
    match (entries.number("volume")?, entries.number("water_fill")?) {
        (Some(_), Some(_)) => Err(entries.contradiction(
            "water_fill",
            "a volume and a water fill",
            "one of the two",
            "keep the water fill if it was weighed",
        )),
        (Some(volume), None) => Ok(volume),
        (None, Some(water)) => Ok(water / WATER_DENSITY),
        (None, None) => Err(entries.missing("volume", "from CAD, or `water_fill_g`: the mass of water that fills it")),
    }
}

impl Vent {
    fn from_section(section: &Section<'_, '_>) -> Result<Self> {
        let kind = VENT_KINDS[section.choice(KIND, &VENT_KINDS.map(|row| row.name))?.unwrap_or(0)];
        let entries = section.numbers(Vocabulary { words: &[KIND], fields: kind.fields })?;
        let count = entries.needed("count", "how many vents of this kind")?;
        if count.fract() != 0.0 || count > f64::from(u32::MAX) {
            let found = entries.word("count").unwrap_or_default();
            return Err(entries.contradiction(
                "count",
                found,
                "a whole number",
                "one `[[vents]]` for each kind of vent",
            ));
        }
        let needed = kind.dimensions.iter().map(|dimension| entries.needed(dimension.field.base, dimension.hint));
        let values = needed.collect::<Result<Vec<f64>>>()?;
        let at_fill = entries.needed("at_fill", AT_FILL_HINT)?;
        Ok(Vent { count: count as u32, kind: (kind.make)(&values), at_fill })
    }

    fn write(&self, writer: &mut Writer) {
        let row = self.kind.row();
        writer.head("[[vents]]");
        if row.name != VENT_KINDS[0].name {
            writer.word(KIND, row.name);
        }
        writer.number(&COUNT, f64::from(self.count));
        row.dimensions.iter().zip(self.kind.values()).for_each(|(of, value)| writer.number(&of.field, value));
        writer.number(&AT_FILL, self.at_fill);
    }
}

impl PartingLine {
    fn from_section(section: &Section<'_, '_>) -> Result<Self> {
        let entries = section.numbers(PARTING_LINE)?;
        Ok(PartingLine {
            length: entries.needed("length", "along the cavity, all around")?,
            land: entries.needed("land", "the width that the flow has to cross")?,
            gap: entries.needed("gap", "0 for a line that is tight while the clamp holds")?,
            opening: entries.needed("opening", "0 for a line that never opens")?,
            at_fill: entries.needed("at_fill", AT_FILL_HINT)?,
        })
    }

    fn write(&self, writer: &mut Writer) {
        writer.head("[parting_line]");
        writer.number(&LENGTH, self.length);
        writer.number(&LAND, self.land);
        writer.number(&GAP, self.gap);
        writer.number(&OPENING, self.opening);
        writer.number(&AT_FILL, self.at_fill);
    }
}
