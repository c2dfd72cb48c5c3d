//! A casting that nothing was read of yet.

use risefit::model::Casting;

use risefit::records::Trial;

/// With these settings.
pub fn blank_trial(name: &str, casting: Casting) -> Trial {
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
