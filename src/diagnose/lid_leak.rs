//! A lid that lifts leaks gas after gel: no foam flows any more, but gas leaves as long as the pressure is above what
//! the clamp holds.

use crate::model::CastingResult;
use crate::numerics::Scalar;

/// A clamp that holds so much gauge pressure (Pa), and the time constant in which what is beyond it leaks away, s.
pub(super) struct LidLeak<S> {
    pub holds: S,
    pub gas_loss_time: f64,
}

/// The gauge pressure at a time, Pa: as it would be without this leak, and as it is.
#[derive(Clone, Copy)]
struct Pressure<S> {
    time: f64,
    without_leak: S,
    gauge: S,
}

impl<S: Scalar> LidLeak<S> {
    /// Lets gas out of a casting that was run without this leak; `times` are those of the pressures.
    pub fn let_out(&self, result: &mut CastingResult<S>, times: &[f64], pressures: &mut [S]) {
        let (Some(gel), Some(at_gel)) = (result.gel_time, result.pressure_at_gel) else { return };
        let start = Pressure { time: gel.value(), without_leak: at_gel, gauge: at_gel };
        if result.peak_time > start.time {
            let later = self.next(start, result.peak_time, result.peak_pressure).gauge;
            result.peak_pressure = if later.value() > at_gel.value() { later } else { at_gel };
        }
        let mut now = start;
        for (time, pressure) in times.iter().zip(pressures).filter(|(time, _)| **time > start.time) {
            now = self.next(now, *time, *pressure);
            *pressure = now.gauge;
        }
    }

    /// The pressure at a later time, when it would be `without_leak` with a tight lid. A rise goes on evenly, and the
    /// excess e over what the clamp holds obeys de/dt = rise - e / gas_loss_time; a fall takes the same share of what
    /// is there.
    fn next(&self, before: Pressure<S>, time: f64, without_leak: S) -> Pressure<S> {
        let change = without_leak - before.without_leak;
        let falls = change.value() < 0.0 && before.without_leak.value() > 0.0;
        let closed = if falls { before.gauge * without_leak / before.without_leak } else { before.gauge + change };
        let excess = before.gauge - self.holds;
        let was_open = excess.value() > 0.0;
        if !was_open && closed.value() <= self.holds.value() {
            return Pressure { time, without_leak, gauge: closed };
        }
        let span = (time - before.time) / self.gas_loss_time;
        let kept = (-span).exp();
        if was_open && falls {
            let share = without_leak / before.without_leak;
            return Pressure { time, without_leak, gauge: (self.holds + excess * kept) * share };
        }
        let fed = if span > 1e-9 { (1.0 - kept) / span } else { 1.0 };
        let (rest, rise) = if was_open { (excess * kept, change) } else { (S::zero(), closed - self.holds) };
        Pressure { time, without_leak, gauge: self.holds + rest + rise * fed }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_beyond_the_clamp_leaks_away() {
        let leak = LidLeak { holds: 10e3, gas_loss_time: 8.0 };
        let gel = Pressure { time: 60.0, without_leak: 22e3, gauge: 22e3 };
        // Steady rise of 500 Pa/s: in the long run the excess is rise times time constant.
        let later = leak.next(gel, 160.0, 72e3);
        assert!((later.gauge - 14e3).abs() < 20.0, "{}", later.gauge);
        let quickly: f64 = (0..100).fold(gel, |p, _| leak.next(p, p.time + 1.0, p.without_leak + 500.0)).gauge;
        assert!((quickly - later.gauge).abs() < 1e-6, "as many steps as one likes");
        let below = Pressure { time: 60.0, without_leak: 4e3, gauge: 4e3 };
        assert_eq!(leak.next(below, 90.0, 9e3).gauge, 9e3);
        let above = Pressure { time: 100.0, without_leak: 50e3, gauge: 9e3 };
        assert_eq!(leak.next(above, 200.0, 25e3).gauge, 4.5e3);
    }
}
