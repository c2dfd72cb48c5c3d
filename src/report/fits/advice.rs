//! What a shop can do to learn a parameter that its records did not determine: the deeds of the table of parameters.

use crate::fit::{Estimate, Status};

/// What would determine the parameters that stayed at their priors, each once, in the order of the estimates.
pub(super) fn advice(estimates: &[Estimate]) -> Vec<String> {
    let mut out: Vec<(&'static str, Vec<&'static str>)> = Vec::new();
    let undetermined =
        |e: &&Estimate| e.record.is_none() && matches!(e.status, Status::NoInfluence | Status::NotIdentified { .. });
    for estimate in estimates.iter().filter(undetermined) {
        let (deed, name) = (estimate.parameter.row().deed, estimate.parameter.label().name);
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
