//! Flow of air and foam through vents, leaks and the parting line.
//!
//! Every opening is a laminar duct and an orifice in series: 1/m^2 = 1/m_laminar^2 + 1/m_orifice^2, exact in both limits,
//! monotone, and with a finite slope at zero pressure difference, which the orifice law alone lacks. Laminar: Hagen-Poiseuille
//! (for gas with the compressible p1^2 - p2^2). Orifice: isentropic with choking for gas (NACA Report 1135, 1953; ISO 9300),
//! sqrt(2 rho dp) for foam.

use super::properties::{AIR_GAMMA, AIR_GAS_CONSTANT, air_viscosity};
use crate::numerics::Scalar;
use std::f64::consts::PI;

/// Pressure differences below this share of the ambient pressure are taken as purely laminar: the orifice does not matter
/// there, and its slope is infinite at zero.
const LAMINAR_BELOW: f64 = 1e-9;
/// Air through a wide vent is resolved down to about this pressure difference, Pa; see [`Opening::blunted`].
const RESOLVED: f64 = 20.0;

/// What isentropic flow of air chokes at, of the pressure ratio, and how much passes then: with gamma 1.4, (2/(g+1))^(g/(g-1))
/// and sqrt(g) (2/(g+1))^((g+1)/(2(g-1))); and sqrt(2g/(g-1)) for what does not choke.
const CRITICAL: f64 = 0.528_281_787_717_174_2;
const CHOKED: f64 = 0.684_731_456_377_270_5;
const ROOT_OF_HEAD: f64 = 2.645_751_311_064_590_7;

/// An opening for flow: its orifice and its laminar duct.
#[derive(Clone, Copy, Debug)]
pub struct Opening<S> {
    /// Discharge coefficient times free area, m2.
    pub area: S,
    /// Volume flow of gas per pressure difference times viscosity, m3.
    pub duct: S,
    /// The same for foam, which also has to converge into the opening.
    pub foam_duct: S,
    /// Power of a slot's gap in `duct`: 3 for a plain slot.
    pub gap_power: S,
    /// Gauge pressure around which foam starts to pass, Pa; see [`Opening::blunted`].
    pub foam_start: f64,
}

impl<S: Scalar> Opening<S> {
    /// Round holes: `count` of `diameter` and `length` (m). Foam has 1.5 diameters of entry length on top.
    pub fn round(count: u32, diameter: S, length: S, discharge: S) -> Self {
        let n = f64::from(count);
        let d2 = diameter * diameter;
        let fourth = d2 * d2 * (n * PI / 128.0);
        Opening {
            area: discharge * d2 * (n * PI / 4.0),
            duct: fourth / length,
            foam_duct: fourth / (length + diameter * 1.5),
            gap_power: S::constant(3.0),
            foam_start: 0.0,
        }
    }

    /// A slot: `width` along the parting line, `land` across it, `gap` (m).
    pub fn slot(width: S, land: S, gap: S, discharge: S) -> Self {
        let duct = width * gap * gap * gap / (land * 12.0);
        Opening { area: discharge * width * gap, duct, foam_duct: duct, gap_power: S::constant(3.0), foam_start: 0.0 }
    }

    /// The square of the share of foam that passes already at this gauge pressure, Pa, and that share's d ln / d ln pressure.
    #[inline]
    fn started(&self, gauge: S) -> (S, S) {
        let (cube, start) = (gauge * gauge * gauge, self.foam_start.powi(3));
        let share = cube / (cube + start);
        (share, (S::one() - share) * 1.5)
    }

    /// This opening with a laminar resistance to air on top, in squares, of the size of its orifice's at `RESOLVED` Pa. A
    /// vent of several millimeters lets the air out at a fraction of a pascal, where the orifice law is next to vertical and a
    /// rounding error in the headspace reverses the flow; what this costs in pressure is at most about 20 Pa, of peaks of many
    /// kPa. Foam, which does not come back, starts without a corner: at a gauge pressure of `g` this opening passes
    /// `sqrt(g^3 / (g^3 + RESOLVED^3))` of what the laws say, 1 - 4e-6 at 1 kPa.
    pub fn blunted(self, ambient: S, temp: S) -> Self {
        self.blunted_to_foam().blunted_to_air(ambient, temp)
    }

    /// This opening as foam starts through it without a corner.
    pub(crate) fn blunted_to_foam(self) -> Self {
        Opening { foam_start: RESOLVED, ..self }
    }

    /// This opening with the resistance to air on top.
    pub(crate) fn blunted_to_air(mut self, ambient: S, temp: S) -> Self {
        if self.duct.value() <= 0.0 {
            return self;
        }
        let density = ambient / (temp * AIR_GAS_CONSTANT);
        let cap = self.area * (S::constant(2.0 / RESOLVED) / density).sqrt() * air_viscosity(temp);
        let series = Series::of(self.duct, cap);
        let share = series.laminar_share();
        self.duct = series.rate;
        self.gap_power = self.gap_power * share + (S::one() - share);
        self
    }
}

/// A mass flow (kg/s) and its derivatives.
#[derive(Clone, Copy, Debug)]
pub struct Flow<S> {
    /// Mass flow outward, kg/s.
    pub rate: S,
    /// By the pressure inside, kg/(s Pa), the opening held.
    pub by_pressure: S,
    /// By the logarithm of a slot's gap: 3 shares of the laminar part, 1 of the orifice.
    pub by_log_gap: S,
    /// d ln rate / d ln density (foam only).
    pub by_log_density: S,
    /// d ln rate / d ln viscosity (foam only).
    pub by_log_viscosity: S,
}

impl<S: Scalar> Flow<S> {
    /// No flow.
    pub fn none() -> Self {
        let z = S::zero();
        Flow { rate: z, by_pressure: z, by_log_gap: z, by_log_density: z, by_log_viscosity: z }
    }
}

/// Air through an opening from `inside` to `ambient` (absolute, Pa) at `temp` (K); negative where air is drawn in.
#[cfg(feature = "internals")]
pub fn air_flow<S: Scalar>(opening: &Opening<S>, inside: S, ambient: S, temp: S) -> Flow<S> {
    Air::at(temp).flow(opening, inside, ambient)
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
    per_square: S,
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

    /// This air through an opening from `inside` to `ambient` (absolute, Pa); negative where it is drawn in.
    pub fn flow(&self, opening: &Opening<S>, inside: S, ambient: S) -> Flow<S> {
        if inside.value() >= ambient.value() {
            let (rate, up, _, gap) = self.through(opening, inside, ambient);
            Flow { rate, by_pressure: up, by_log_gap: gap, ..Flow::none() }
        } else {
            let (rate, _, down, gap) = self.through(opening, ambient, inside);
            Flow { rate: -rate, by_pressure: -down, by_log_gap: -gap, ..Flow::none() }
        }
    }

    /// As [`Air::flow`], without derivatives, kg/s.
    pub fn rate(&self, opening: &Opening<S>, inside: S, ambient: S) -> S {
        let leaves = inside.value() >= ambient.value();
        let (up, down) = if leaves { (inside, ambient) } else { (ambient, inside) };
        let laminar = opening.duct * self.per_square * (up * up - down * down);
        if (up - down).value() <= LAMINAR_BELOW * down.value().abs() || opening.duct.value() <= 0.0 {
            return if leaves { laminar } else { -laminar };
        }
        // laminar * orifice / sqrt(laminar^2 + orifice^2), without a root of each
        let scale = opening.area * self.per_area;
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
    fn through(&self, opening: &Opening<S>, up: S, down: S) -> (S, S, S, S) {
        let per_square = opening.duct * self.per_square;
        let laminar = per_square * (up * up - down * down);
        let (lam_up, lam_down) = (per_square * up * 2.0, -(per_square * down * 2.0));
        if (up - down).value() <= LAMINAR_BELOW * down.value().abs() || opening.duct.value() <= 0.0 {
            return (laminar, lam_up, lam_down, laminar * opening.gap_power);
        }
        let (orifice, orif_up, orif_down) = self.isentropic(opening.area, up, down);
        let series = Series::of(laminar, orifice);
        let (a, b) = (series.by_laminar(), series.by_orifice());
        let by_gap = series.rate * (series.laminar_share() * (opening.gap_power - 1.0) + 1.0);
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

/// Foam of `density` and `viscosity` through an opening under `gauge` (Pa). Foam does not come back: no flow below zero.
pub fn foam_flow<S: Scalar>(opening: &Opening<S>, gauge: S, density: S, viscosity: S) -> Flow<S> {
    if gauge.value() <= 0.0 || opening.foam_duct.value() <= 0.0 {
        return Flow::none();
    }
    let laminar = density * opening.foam_duct * gauge / viscosity;
    let orifice = opening.area * (density * 2.0 * gauge).sqrt();
    let series = Series::of(laminar, orifice);
    let share = series.laminar_share();
    let half = (share + 1.0) * 0.5;
    let (started, by_log_gauge) = opening.started(gauge);
    let rate = series.rate * started.sqrt();
    Flow {
        rate,
        by_pressure: rate / gauge * (half + by_log_gauge),
        by_log_gap: rate * (share * 2.0 + 1.0),
        by_log_density: half,
        by_log_viscosity: -share,
    }
}

/// As [`foam_flow`], without derivatives.
pub fn foam_rate<S: Scalar>(opening: &Opening<S>, gauge: S, density: S, viscosity: S) -> S {
    if gauge.value() <= 0.0 || opening.foam_duct.value() <= 0.0 {
        return S::zero();
    }
    // laminar * orifice / sqrt(laminar^2 + orifice^2), without a root of each, and without a division by the viscosity
    let thin = density * opening.foam_duct * gauge;
    let square = opening.area * opening.area * density * 2.0 * gauge;
    let share = square / (thin * thin + square * viscosity * viscosity);
    thin * (share * opening.started(gauge).0).sqrt()
}

/// The two laws in series: 1/rate^2 = 1/laminar^2 + 1/orifice^2.
struct Series<S> {
    rate: S,
    /// The rate over that of each law alone.
    of_laminar: S,
    of_orifice: S,
}

impl<S: Scalar> Series<S> {
    #[inline]
    fn of(laminar: S, orifice: S) -> Self {
        let per = S::one() / (laminar * laminar + orifice * orifice).sqrt();
        let of_laminar = orifice * per;
        Series { rate: laminar * of_laminar, of_laminar, of_orifice: laminar * per }
    }

    /// The laminar law's share in the resistance (0 to 1): d ln rate / d ln laminar.
    #[inline]
    fn laminar_share(&self) -> S {
        self.of_laminar * self.of_laminar
    }

    /// d rate / d laminar.
    #[inline]
    fn by_laminar(&self) -> S {
        self.laminar_share() * self.of_laminar
    }

    /// d rate / d orifice.
    #[inline]
    fn by_orifice(&self) -> S {
        self.of_orifice * self.of_orifice * self.of_orifice
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
