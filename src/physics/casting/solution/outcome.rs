//! What a casting comes to, read where its course ended.

use super::course::Course;
use crate::model::{CastingResult, FLASH_SHARE, SEALED_FULL, Verdict};
use crate::numerics::Scalar;
use crate::physics::casting::equations::Equations;
use crate::physics::casting::equations::layout::Shared;
use crate::physics::layers::sum_over;
use crate::physics::scale::Part;

impl<S: Scalar, const N: usize> Course<'_, S, N> {
    /// Reads the outcome at the end of the course.
    pub fn set_outcome(&mut self) {
        let (equations, y) = (&self.twin.exact, &self.state);
        let now = equations.cavity_state(y);
        let r = &mut self.result;
        r.peak_pressure = self.recorder.peak.0 - equations.cavity.ambient;
        r.peak_time = self.recorder.peak.1;
        r.clamp_needed = r.peak_pressure * equations.clamped_area;
        r.part_mass = equations.mass(y);
        let part = Part {
            mix: r.part_mass,
            volume: now.cavity - now.headspace,
            made: equations.gases.blown(equations.mean_blown(&now.unblown)),
            lost: sum_over::<N, S>(|i| y.lost[i]),
        };
        r.scale_reading = part.scale_reading(&equations.gases, equations.cavity.ambient, self.weighed_after);
        (r.vent_loss, r.flash) = (y[Shared::VentLoss], y[Shared::Flash]);
        r.fill_fraction = now.fill();
        r.density = r.part_mass / equations.cavity.volume;
        let core = equations.core_temp(y, &now);
        r.core_temp = self.recorder.hottest.map_or(core, |hottest| hottest.max(core));
        r.pressure_at_demold = now.pressure - equations.cavity.ambient;
        r.low_pressure_time = self.recorder.low_pressure.since();
        r.temp_at_demold = equations.mean_temp(y);
        r.blown_at_demold = equations.mean_blown(&now.unblown);
        r.gelled_at_demold = equations.mean_gelled(y);
        if let Some((time, pressure, temp)) = self.recorder.skin_set {
            r.skin_set_time = Some(time);
            (r.skin_set_pressure, r.skin_set_temp) = (Some(pressure - equations.cavity.ambient), Some(temp));
        }
        r.verdict = verdict(equations, r);
    }
}

fn verdict<S: Scalar>(equations: &Equations<S>, r: &CastingResult<S>) -> Verdict {
    let sealed = equations.thresholds().next().is_none();
    let full = if sealed { r.fill_fraction.value() >= SEALED_FULL } else { r.fill_time.is_some() };
    match r.gel_time {
        None => Verdict::Soft,
        Some(_) if !full => Verdict::Short,
        Some(_) if r.flash.value() > FLASH_SHARE * equations.poured.value() => Verdict::Flash,
        Some(_) => Verdict::Full,
    }
}
