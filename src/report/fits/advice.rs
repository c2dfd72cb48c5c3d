//! What a shop can do to learn a parameter that its records did not tell. Common practice, no source.

use crate::fit::{Estimate, Parameter, Status};

/// What would teach the parameters that stayed at their beliefs, each once, in the order of the estimates.
pub(super) fn advice(estimates: &[Estimate]) -> Vec<String> {
    let mut out: Vec<(&'static str, Vec<&'static str>)> = Vec::new();
    let untaught =
        |e: &&Estimate| e.record.is_none() && matches!(e.status, Status::NoInfluence | Status::NotIdentified { .. });
    for estimate in estimates.iter().filter(untaught) {
        let (deed, name) = (deed(estimate.parameter), estimate.parameter.label().name);
        match out.iter_mut().find(|(known, _)| *known == deed) {
            Some((_, names)) => names.push(name),
            None => out.push((deed, vec![name])),
        }
    }
    let mut lines: Vec<String> = out.iter().map(|(deed, names)| format!("{}: {deed}.", names.join(", "))).collect();
    for estimate in estimates.iter().filter(|e| e.status == Status::AtBound) {
        lines.push(format!(
            "{} stands at the end of what is allowed: look for a wrong unit or a slip in the records first.",
            estimate.name()
        ));
    }
    lines
}

fn deed(parameter: Parameter) -> &'static str {
    match parameter {
        Parameter::BlowActivation | Parameter::GelActivation => "log a cup at another temperature, 5 K or more away",
        Parameter::BlowHeat | Parameter::GelHeat => "log the temperature in the middle of the cup until it falls",
        Parameter::Induction | Parameter::Solubility | Parameter::AirFraction => {
            "log the height every second from the pour until the foam rises, and take the cream time; weigh the foam of one \
             casting under high pressure"
        }
        Parameter::GasYield | Parameter::DomeFraction => "measure the free-rise density of the cup foam",
        Parameter::BlowRate | Parameter::Competition | Parameter::RiseEndConversion => {
            "log the height until it stands, and take the end of rise"
        }
        Parameter::GelRate | Parameter::GelConversion => "take the string gel time",
        Parameter::Settling => "log the height for a minute after the end of rise",
        Parameter::CupHeatTransfer | Parameter::CoreHeatLossFactor | Parameter::SensorLag => {
            "log the temperature every second, until the foam cools"
        }
        Parameter::Viscosity => "weigh what comes out of the vent, with a vent wide enough to lose a few grams",
        Parameter::CellOpeningTime => "log the pressure from gel to demold",
        Parameter::MoldRateFactor => "log the pressure of one casting: it shows when the mold filled",
        Parameter::GasRetention => "read the peak pressure of one casting",
        Parameter::CavityVolume => "fill the mold with water and weigh the water",
        Parameter::HeatTransfer => "log the pressure of one casting until demold",
        Parameter::VentSize => "measure the vent with a drill shank, and weigh what comes out of it",
        Parameter::PartingGap | Parameter::PartingOpening => "weigh the flash of one casting with less clamp force",
        Parameter::ClampEffect => "measure the clamp force, and weigh the flash of one casting with less of it",
        Parameter::GasFactor
        | Parameter::BlowFactor
        | Parameter::GelFactor
        | Parameter::FlowFactor
        | Parameter::CastingScatter
        | Parameter::LotScatter => "repeat one trial with the same settings",
        Parameter::MixTempError | Parameter::MoldTempError => "measure the temperatures of mix and mold wall",
        Parameter::ChargeError => "weigh the cup before and after the pour",
    }
}
