//! Air through ducts and orifices.

use super::duct::{Duct, Series};
use super::flow::Flow;
use crate::numerics::Scalar;
use crate::physics::properties::{AIR_GAMMA, AIR_GAS_CONSTANT, air_viscosity};

/// Pressure differences below this share of the ambient pressure are taken as purely laminar: the orifice does not
/// matter there, and its slope is infinite at zero.
const LAMINAR_BELOW: f64 = 1e-9;
/// What isentropic flow of air chokes at, of the pressure ratio, and how much passes then: with gamma 1.4,
/// (2/(g+1))^(g/(g-1)) and sqrt(g) (2/(g+1))^((g+1)/(2(g-1))); and sqrt(2g/(g-1)) for what does not choke.
const CRITICAL: f64 = 0.528_281_787_717_174_2;
const CHOKED: f64 = 0.684_731_456_377_270_5;
const ROOT_OF_HEAD: f64 = 2.645_751_311_064_590_7;

/// Air through a duct from `inside` to `ambient` (absolute, Pa) at `temp` (K); negative where air is drawn in.
#[cfg(feature = "internals")]
pub fn air_flow<S: Scalar>(duct: &Duct<S>, inside: S, ambient: S, temp: S) -> Flow<S> {
    Air::at(temp).flow(duct, inside, ambient)
}

/// Isentropic mass flow through `area` (with its discharge coefficient), and its derivatives by both pressures.
#[cfg(feature = "internals")]
pub fn isentropic<S: Scalar>(area: S, up: S, down: S, temp: S) -> (S, S, S) {
    Air::at(temp).isentropic(area, up, down)
}

/// Air of one temperature, as its flows need it.
#[derive(Clone, Copy, Debug)]
pub struct Air<S> {
    /// 1/(2 mu R T), s/(Pa m2): what a duct passes per difference of the squared pressures.
    pub(super) per_square: S,
    /// 1/sqrt(R T), s/m: what an orifice's flow scales with.
    per_area: S,
}

impl<S: Scalar> Air<S> {
    /// Air at this temperature, K.
    pub fn at(temp: S) -> Self {
        Air {
            per_square: S::one() / (air_viscosity(temp) * temp * (2.0 * AIR_GAS_CONSTANT)),
            per_area: S::one() / (temp * AIR_GAS_CONSTANT).sqrt(),
        }
    }

    /// This air through a duct from `inside` to `ambient` (absolute, Pa); negative where it is drawn in.
    pub fn flow(&self, duct: &Duct<S>, inside: S, ambient: S) -> Flow<S> {
        if inside.value() >= ambient.value() {
            let (rate, up, _, gap) = self.through(duct, inside, ambient);
            Flow { rate, by_pressure: up, by_log_gap: gap, ..Flow::none() }
        } else {
            let (rate, _, down, gap) = self.through(duct, ambient, inside);
            Flow { rate: -rate, by_pressure: -down, by_log_gap: -gap, ..Flow::none() }
        }
    }

    /// As [`Air::flow`], without derivatives, kg/s.
    pub fn rate(&self, duct: &Duct<S>, inside: S, ambient: S) -> S {
        let leaves = inside.value() >= ambient.value();
        let (up, down) = if leaves { (inside, ambient) } else { (ambient, inside) };
        let laminar = duct.duct * self.per_square * (up * up - down * down);
        if (up - down).value() <= LAMINAR_BELOW * down.value().abs() || duct.duct.value() <= 0.0 {
            return if leaves { laminar } else { -laminar };
        }
        // laminar * orifice / sqrt(laminar^2 + orifice^2), without a root of each
        let scale = duct.area * self.per_area;
        let ratio = down / up;
        let (orifice, squeezed) = if ratio.value() <= CRITICAL {
            let choked = scale * up * CHOKED;
            (choked * choked, laminar)
        } else {
            let expanded = (ratio.ln() * ((AIR_GAMMA - 1.0) / AIR_GAMMA)).exp();
            let head = scale * down * ROOT_OF_HEAD;
            (head * head * (S::one() - expanded), laminar * expanded)
        };
        let rate = laminar * (orifice / (squeezed * squeezed + orifice)).sqrt();
        if leaves { rate } else { -rate }
    }

    /// Flow from `up` to `down`: rate, derivatives by both pressures, and by the log of a slot's gap.
    fn through(&self, duct: &Duct<S>, up: S, down: S) -> (S, S, S, S) {
        let per_square = duct.duct * self.per_square;
        let laminar = per_square * (up * up - down * down);
        let (lam_up, lam_down) = (per_square * up * 2.0, -(per_square * down * 2.0));
        if (up - down).value() <= LAMINAR_BELOW * down.value().abs() || duct.duct.value() <= 0.0 {
            return (laminar, lam_up, lam_down, laminar * duct.gap_power);
        }
        let (orifice, orif_up, orif_down) = self.isentropic(duct.area, up, down);
        let series = Series::of(laminar, orifice);
        let (a, b) = (series.by_laminar(), series.by_orifice());
        let by_gap = series.rate * (series.laminar_share() * (duct.gap_power - 1.0) + 1.0);
        (series.rate, a * lam_up + b * orif_up, a * lam_down + b * orif_down, by_gap)
    }

    fn isentropic(&self, area: S, up: S, down: S) -> (S, S, S) {
        let g = AIR_GAMMA;
        let scale = area * self.per_area;
        let ratio = down / up;
        if ratio.value() <= CRITICAL {
            return (scale * up * CHOKED, scale * CHOKED, S::zero());
        }
        // psi = sqrt(2g/(g-1)) r^(1/g) sqrt(1 - r^((g-1)/g))
        let expanded = (ratio.ln() * ((g - 1.0) / g)).exp();
        let root = (S::one() - expanded).sqrt();
        let steep = root / expanded;
        let psi = ratio * steep * ROOT_OF_HEAD;
        let by_ratio = (steep / g - S::constant((g - 1.0) / (2.0 * g)) / root) * ROOT_OF_HEAD;
        (scale * up * psi, scale * (psi - ratio * by_ratio), scale * by_ratio)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn constants_of_choking_are_those_of_their_formulas() {
        let g = AIR_GAMMA;
        let choked = g.sqrt() * (2.0 / (g + 1.0)).powf((g + 1.0) / (2.0 * (g - 1.0)));
        assert!((CRITICAL - (2.0 / (g + 1.0)).powf(g / (g - 1.0))).abs() < 1e-15);
        assert!((CHOKED - choked).abs() < 1e-15 && (ROOT_OF_HEAD - (2.0 * g / (g - 1.0)).sqrt()).abs() < 1e-15);
    }
}
