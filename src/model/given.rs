//! Settings as they were given, and the casting that they make with what is assumed for the others.

use std::collections::BTreeMap;

use super::casting::Casting;
use super::settings::{Absent, Setting};

/// Settings that were given, SI; the order in which they were given does not matter.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Given(BTreeMap<Setting, Vec<f64>>);

/// Why given settings make no casting.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum GivenFault {
    /// A setting is needed.
    Missing(Setting),
    /// Two that say the same.
    Both(Setting, Setting),
}

impl Given {
    /// What a casting was set to.
    pub fn of(casting: &Casting) -> Self {
        let all = Setting::all().map(|setting| (setting, setting.values(casting)));
        Given(all.filter(|(_, values)| !values.is_empty()).collect())
    }

    /// Gives a setting; the values it had before, if any. No values: it is not given.
    pub fn give(&mut self, setting: Setting, values: Vec<f64>) -> Option<Vec<f64>> {
        if values.is_empty() { self.0.remove(&setting) } else { self.0.insert(setting, values) }
    }

    /// Whether a setting was given.
    pub fn has(&self, setting: Setting) -> bool {
        self.0.contains_key(&setting)
    }

    /// These settings changed by others; one that says the same as a new one is taken back.
    #[must_use]
    pub fn changed(mut self, by: impl IntoIterator<Item = (Setting, Vec<f64>)>) -> Self {
        for (setting, values) in by {
            if let Some(rival) = setting.row().rival {
                self.0.remove(&rival);
            }
            self.give(setting, values);
        }
        self
    }

    /// Two settings that say the same, if both were given.
    pub fn rivals(&self) -> Option<(Setting, Setting)> {
        let rival = |setting: &Setting| setting.row().rival.filter(|rival| self.has(*rival));
        self.0.keys().find_map(|setting| Some((*setting, rival(setting)?)))
    }

    /// The casting, and what was assumed, in words.
    ///
    /// # Errors
    /// [`GivenFault`] where a setting is missing, or two say the same.
    pub fn casting(&self) -> Result<(Casting, Vec<&'static str>), GivenFault> {
        if let Some((one, other)) = self.rivals() {
            return Err(GivenFault::Both(one, other));
        }
        let mut casting = Casting::assumed(f64::NAN, f64::NAN, f64::NAN);
        let mut assumed = Vec::new();
        for row in Setting::all().map(Setting::row) {
            match (self.0.get(&row.setting), row.absent) {
                (Some(values), _) => row.setting.set_all(&mut casting, values),
                (None, Absent::Needed(_)) => return Err(GivenFault::Missing(row.setting)),
                (None, Absent::Assumed(_, words)) if !row.rival.is_some_and(|rival| self.has(rival)) => {
                    assumed.push(words);
                }
                (None, Absent::OfMold(words)) => assumed.push(words),
                (None, _) => {}
            }
        }
        self.check_leak()?;
        Ok((casting, assumed))
    }

    /// A leak has a diameter, a length, and a time or pressure at which it opens.
    fn check_leak(&self) -> Result<(), GivenFault> {
        let parts = || Setting::all().filter(|setting| setting.row().of_leak);
        if !parts().any(|part| self.has(part)) {
            return Ok(());
        }
        let is_there = |part: Setting| self.has(part) || part.row().rival.is_some_and(|rival| self.has(rival));
        parts().find(|part| !is_there(*part)).map_or(Ok(()), |part| Err(GivenFault::Missing(part)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn needed() -> Given {
        let all = [(Setting::Charge, 0.06), (Setting::MixTemp, 296.0), (Setting::MoldTemp, 303.0)];
        Given::default().changed(all.map(|(setting, x)| (setting, vec![x])))
    }

    #[test]
    fn what_is_not_given_is_assumed_aloud() {
        let (casting, assumed) = needed().casting().expect("a casting");
        assert_eq!((casting.ambient_pressure, casting.demold_time, assumed.len()), (101_325.0, 300.0, 7));
        assert_eq!(Given::of(&casting).casting().map(|(c, _)| c), Ok(casting));
    }

    #[test]
    fn a_leak_is_given_whole_and_a_pressure_or_an_altitude() {
        let leak = needed().changed([(Setting::LeakDiameter, vec![1e-3])]);
        assert_eq!(leak.casting(), Err(GivenFault::Missing(Setting::LeakLength)));
        let leak = leak.changed([(Setting::LeakLength, vec![5e-3])]);
        assert_eq!(leak.casting(), Err(GivenFault::Missing(Setting::LeakTime)));
        assert!(leak.changed([(Setting::LeakPressure, vec![5e3])]).casting().is_ok());
        let mut both = needed();
        both.give(Setting::Altitude, vec![2000.0]);
        let (casting, assumed) = both.casting().expect("a casting");
        assert!((casting.ambient_pressure - 79_495.0).abs() < 10.0 && assumed.len() == 6);
        both.give(Setting::AmbientPressure, vec![9e4]);
        assert!(matches!(both.casting(), Err(GivenFault::Both(..))));
    }
}
