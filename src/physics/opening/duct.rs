//! The law of holes and slots: a laminar duct and an orifice in series.
//!
//! 1/m^2 = 1/m_laminar^2 + 1/m_orifice^2, exact in both limits, monotone, and with a finite slope at zero pressure
//! difference, which the orifice law alone lacks. Laminar: Hagen-Poiseuille (for gas with the compressible p1^2 -
//! p2^2). Orifice: isentropic with choking for gas (NACA Report 1135, 1953; ISO 9300), sqrt(2 rho dp) for foam.

use super::flow::Flow;
use crate::numerics::Scalar;
use crate::physics::properties::{AIR_GAS_CONSTANT, air_viscosity};
use std::f64::consts::PI;

/// Air through a wide vent is resolved down to about this pressure difference, Pa; see [`Duct::blunted`].
const RESOLVED: f64 = 20.0;

/// A laminar duct and an orifice in series.
#[derive(Clone, Copy, Debug)]
pub struct Duct<S> {
    /// Discharge coefficient times free area, m2.
    pub area: S,
    /// Volume flow of gas per pressure difference times viscosity, m3.
    pub duct: S,
    /// The same for foam, which also has to converge into the opening.
    pub foam_duct: S,
    /// Power of a slot's gap in `duct`: 3 for a plain slot.
    pub gap_power: S,
    /// Gauge pressure around which foam starts to pass, Pa; see [`Duct::blunted`].
    pub foam_start: f64,
}

impl<S: Scalar> Duct<S> {
    /// Round holes: `count` of `diameter` and `length` (m). Foam has 1.5 diameters of entry length on top.
    pub fn round(count: u32, diameter: S, length: S, discharge: S) -> Self {
        let n = f64::from(count);
        let d2 = diameter * diameter;
        let fourth = d2 * d2 * (n * PI / 128.0);
        Duct {
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
        Duct { area: discharge * width * gap, duct, foam_duct: duct, gap_power: S::constant(3.0), foam_start: 0.0 }
    }

    /// The square of the share of foam that passes already at this gauge pressure, Pa, and that share's d ln / d ln
    /// pressure.
    #[inline]
    fn started(&self, gauge: S) -> (S, S) {
        let (cube, start) = (gauge * gauge * gauge, self.foam_start.powi(3));
        let share = cube / (cube + start);
        (share, (S::one() - share) * 1.5)
    }

    /// This opening with a laminar resistance to air on top, in squares, of the size of its orifice's at `RESOLVED` Pa.
    /// A vent of several millimeters lets the air out at a fraction of a pascal, where the orifice law is next to
    /// vertical and a rounding error in the headspace reverses the flow; what this costs in pressure is at most about
    /// 20 Pa, of peaks of many kPa. Foam, which does not come back, starts without a corner: at a gauge pressure of `g`
    /// this opening passes
    /// `sqrt(g^3 / (g^3 + RESOLVED^3))` of what the laws say, 1 - 4e-6 at 1 kPa.
    pub fn blunted(self, ambient: S, temp: S) -> Self {
        self.blunted_to_foam().blunted_to_air(ambient, temp)
    }

    /// This opening as foam starts through it without a corner.
    pub(crate) fn blunted_to_foam(self) -> Self {
        Duct { foam_start: RESOLVED, ..self }
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

/// Foam of `density` and `viscosity` through a duct under `gauge` (Pa). Foam does not come back: no flow below zero.
pub fn foam_flow<S: Scalar>(duct: &Duct<S>, gauge: S, density: S, viscosity: S) -> Flow<S> {
    if gauge.value() <= 0.0 || duct.foam_duct.value() <= 0.0 {
        return Flow::none();
    }
    let laminar = density * duct.foam_duct * gauge / viscosity;
    let orifice = duct.area * (density * 2.0 * gauge).sqrt();
    let series = Series::of(laminar, orifice);
    let share = series.laminar_share();
    let half = (share + 1.0) * 0.5;
    let (started, by_log_gauge) = duct.started(gauge);
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
pub fn foam_rate<S: Scalar>(duct: &Duct<S>, gauge: S, density: S, viscosity: S) -> S {
    if gauge.value() <= 0.0 || duct.foam_duct.value() <= 0.0 {
        return S::zero();
    }
    // laminar * orifice / sqrt(laminar^2 + orifice^2), without a root of each, and without a division by the viscosity
    let thin = density * duct.foam_duct * gauge;
    let square = duct.area * duct.area * density * 2.0 * gauge;
    let share = square / (thin * thin + square * viscosity * viscosity);
    thin * (share * duct.started(gauge).0).sqrt()
}

/// The two laws in series: 1/rate^2 = 1/laminar^2 + 1/orifice^2.
pub(super) struct Series<S> {
    pub(super) rate: S,
    /// The rate over that of each law alone.
    of_laminar: S,
    of_orifice: S,
}

impl<S: Scalar> Series<S> {
    #[inline]
    pub(super) fn of(laminar: S, orifice: S) -> Self {
        let per = S::one() / (laminar * laminar + orifice * orifice).sqrt();
        let of_laminar = orifice * per;
        Series { rate: laminar * of_laminar, of_laminar, of_orifice: laminar * per }
    }

    /// The laminar law's share in the resistance (0 to 1): d ln rate / d ln laminar.
    #[inline]
    pub(super) fn laminar_share(&self) -> S {
        self.of_laminar * self.of_laminar
    }

    /// d rate / d laminar.
    #[inline]
    pub(super) fn by_laminar(&self) -> S {
        self.laminar_share() * self.of_laminar
    }

    /// d rate / d orifice.
    #[inline]
    pub(super) fn by_orifice(&self) -> S {
        self.of_orifice * self.of_orifice * self.of_orifice
    }
}
