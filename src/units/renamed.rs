//! Names of before the first release: nothing is read under them, and errors say what it is called now.

/// Old and new names without units. Fitted parameters, keys of files, arguments and methods stand in one list.
const RENAMED: [(&str, &str); 20] = [
    ("kept_gas", "gas_retention"),
    ("mold_pace", "mold_rate_factor"),
    ("pace", "rate_factor"),
    ("open_time", "cell_opening_time"),
    ("rise_stop", "rise_end_conversion"),
    ("settle", "settling"),
    ("crown", "dome_fraction"),
    ("core_cooling", "core_heat_loss_factor"),
    ("beliefs", "priors"),
    ("with_", "replace"),
    ("estimates_frame", "estimates.to_frame"),
    ("castings_frame", "castings.to_frame"),
    ("trace_frame", "trace.to_frame"),
    ("trace_time", "trace.time"),
    ("trace_pressure", "trace.pressure"),
    ("trace_temp", "trace.temp"),
    ("charts", "logs[name].chart"),
    ("taught", "learned"),
    ("success", "converged"),
    ("gas_yield_belief", "gas_yield_prior"),
];

/// What this name, with or without a unit, is called now, if it was renamed.
pub fn renamed(name: &str) -> Option<String> {
    RENAMED.iter().find_map(|(old, new)| match name.strip_prefix(old)? {
        "" => Some((*new).to_owned()),
        unit if unit.starts_with('_') => Some(format!("{new}{unit}")),
        _ => None,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn old_names_lead_to_new_ones_with_their_units() {
        assert_eq!(renamed("open_time_min").as_deref(), Some("cell_opening_time_min"));
        assert_eq!(renamed("kept_gas").as_deref(), Some("gas_retention"));
        assert_eq!((renamed("opened"), renamed("pacemaker")), (None, None));
    }
}
