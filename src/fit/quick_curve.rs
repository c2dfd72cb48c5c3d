//! Plain rise curves for a quick look at one log: first order after a delay, and Richards' curve. They know no
//! chemistry and predict nothing but this cup.

use std::borrow::Cow;

use ndarray::{Array1, Array2, ArrayView1};
use serde::{Deserialize, Serialize};

use crate::error::{Error, Result};
use crate::inference::least_squares::{Bounds, Noise, Residuals, Settings, Side, Solution, Standing, fit_from_starts};
use crate::inference::noise::SeriesNoise;
use crate::numerics::Scalar;
use crate::numerics::jacobian::{Function, differentiate};
use crate::physics::stopwatch::{CREAM_GROWTH, END_OF_RISE};
use crate::records::RiseLog;

/// Shares of the independent readings below which the scatter is no longer noise alone.
const DRIFTING: f64 = 0.25;
/// Limits of Richards' exponent: nearly Gompertz' curve, and a corner at the top.
const SHAPE_BOUNDS: (f64, f64) = (1e-3, 50.0);

/// The form of a quick curve; y is a height or a volume, t the time since the end of mixing.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum CurveKind {
    /// y = base + rise (1 - exp(-(t - delay)/tau)) from the delay on, base before it.
    DelayedFirstOrder,
    /// y = base + rise (1 + shape exp(-(t - middle)/tau))^(-1/shape), steepest at the middle (Richards, J. Exp. Bot.
    /// 10, 290, 1959; from memory, not verified). Shape 1: the logistic curve.
    Richards,
}

impl CurveKind {
    /// All of them, the usual one first.
    pub const ALL: [CurveKind; 2] = [CurveKind::Richards, CurveKind::DelayedFirstOrder];

    /// Its name at the edge.
    pub fn name(self) -> &'static str {
        match self {
            CurveKind::Richards => "richards",
            CurveKind::DelayedFirstOrder => "delayed_first_order",
        }
    }

    /// The kind of this name.
    ///
    /// # Errors
    /// [`Error::Argument`] for a name that none has.
    pub fn named(name: &str) -> Result<CurveKind> {
        CurveKind::ALL.into_iter().find(|kind| kind.name() == name).ok_or_else(|| {
            let names = CurveKind::ALL.map(|kind| format!("{:?}", kind.name())).join(" or ");
            Error::argument("kind", format!("{name:?}"), names, "an S, or a delay and an exponential approach")
        })
    }
}

/// One parameter of a quick curve, in SI units.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct QuickParameter {
    /// Its name in the formula of [`CurveKind`].
    pub name: Cow<'static, str>,
    /// Value: m or m3 for base and rise, s for times.
    pub value: f64,
    /// Standard error; infinite where the log does not determine it, NaN at a bound.
    pub standard_error: f64,
    /// How it stands, in words: free, at a bound, not identified.
    pub standing: String,
}

/// A quick curve through one log.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct QuickFit {
    /// The log's name.
    pub log: String,
    /// The curve's form.
    pub kind: CurveKind,
    /// The parameters, in the order of the formula.
    pub parameters: Vec<QuickParameter>,
    /// Scatter of the readings about the curve, m or m3.
    pub noise: SeriesNoise,
    /// First visible rise, s: 3 % above the base, if the curve passes it after mixing.
    pub cream: Option<f64>,
    /// Time of the steepest rise, s.
    pub steepest: f64,
    /// End of rise, s: 98 % of the rise.
    pub end_of_rise: f64,
    /// The solution.
    pub solution: Solution,
    /// Whether the optimizer converged; no judgment of whether the readings can be believed.
    pub converged: bool,
    /// What the user should know, in words.
    pub warnings: Vec<String>,
}

impl CurveKind {
    fn names(self) -> &'static [&'static str] {
        match self {
            CurveKind::DelayedFirstOrder => &["base", "rise", "delay_s", "tau_s"],
            CurveKind::Richards => &["base", "rise", "middle_s", "tau_s", "shape"],
        }
    }

    /// The curve at a time.
    fn at<S: Scalar>(self, p: &[S], time: f64) -> S {
        let since = (-p[2] + time) / p[3];
        match self {
            CurveKind::DelayedFirstOrder if since.value() <= 0.0 => p[0],
            CurveKind::DelayedFirstOrder => p[0] + p[1] * (S::one() - (-since).exp()),
            CurveKind::Richards => p[0] + p[1] * (-(softplus(p[4].ln() - since) / p[4])).exp(),
        }
    }

    /// The time at which this share of the rise is reached.
    fn time_of(self, p: &[f64], share: f64) -> f64 {
        match self {
            CurveKind::DelayedFirstOrder => p[2] - p[3] * (1.0 - share).ln(),
            CurveKind::Richards => p[2] - p[3] * ((-p[4] * share.ln()).exp_m1() / p[4]).ln(),
        }
    }

    fn bounds(self, log: &Readings) -> Result<Bounds> {
        let (span, size) = (log.span(), log.size());
        let mut lower = vec![-size, 0.0, -span, 1e-4 * span];
        let mut upper = vec![2.0 * size, 20.0 * size, 2.0 * span, 20.0 * span];
        if self == CurveKind::Richards {
            lower.push(SHAPE_BOUNDS.0);
            upper.push(SHAPE_BOUNDS.1);
        }
        Bounds::new(Array1::from(lower), Array1::from(upper))
    }

    /// Starts from the times at which the readings first pass shares of their own range.
    fn starts(self, log: &Readings) -> Vec<Array1<f64>> {
        let (bottom, rise) = (log.bottom(), log.size() - log.bottom());
        let passed = |share: f64| log.first_above(bottom + share * rise);
        let least = 1e-3 * log.span();
        let delayed = |share: f64| {
            let delay = passed(share);
            Array1::from(vec![bottom, rise, delay, (passed(0.63) - delay).max(least)])
        };
        let richards = |shape: f64| {
            let tau = 0.5 * (passed(0.75) - passed(0.25)).max(least);
            Array1::from(vec![bottom, rise, passed(0.5), tau, shape])
        };
        match self {
            CurveKind::DelayedFirstOrder => [0.02, 0.1, 0.25].map(delayed).to_vec(),
            CurveKind::Richards => [0.3, 1.0, 4.0].map(richards).to_vec(),
        }
    }
}

/// ln(1 + e^x) without overflow.
fn softplus<S: Scalar>(x: S) -> S {
    if x.value() > 0.0 { x + ((-x).exp() + 1.0).ln() } else { (x.exp() + 1.0).ln() }
}

/// Fits a plain curve to a log's heights, or its volumes.
///
/// # Errors
/// [`Error::TooFewRecords`] for a log without heights or volumes, or with too few of them, or that does not rise;
/// [`Error::Fit`] where no start leads to an answer.
pub fn quick_curve(log: &RiseLog, kind: CurveKind) -> Result<QuickFit> {
    let readings = Readings::of(log, kind)?;
    let curve = Curve { kind, readings: &readings };
    let many = fit_from_starts(&curve, &kind.bounds(&readings)?, &kind.starts(&readings), &settings())?;
    Ok(conclude(log, kind, &readings, many.best))
}

fn settings() -> Settings {
    // Ends of different starts agree to what the corner at the delay leaves open.
    Settings { max_iterations: 300, cosine_tolerance: 1e-8, acceptable_cosine: 1e-4, ..Settings::default() }
}

fn conclude(log: &RiseLog, kind: CurveKind, readings: &Readings, solution: Solution) -> QuickFit {
    let p = solution.parameters.to_vec();
    let errors = solution.standard_errors(Noise::Estimated);
    let parameter = |(j, name): (usize, &&'static str)| QuickParameter {
        name: Cow::Borrowed(name),
        value: p[j],
        standard_error: errors[j],
        standing: solution.standings[j].to_string(),
    };
    let noise = SeriesNoise::of(&solution.residuals.to_vec(), 0.0);
    let cream = Some(CREAM_GROWTH * p[0] / p[1]).filter(|share| *share > 0.0 && *share < 1.0);
    QuickFit {
        log: log.name.clone(),
        kind,
        parameters: kind.names().iter().enumerate().map(parameter).collect(),
        cream: cream.map(|share| kind.time_of(&p, share)).filter(|time| *time >= 0.0),
        steepest: p[2],
        end_of_rise: kind.time_of(&p, END_OF_RISE),
        converged: solution.is_success(),
        warnings: warnings(kind, &solution, &noise, readings),
        noise,
        solution,
    }
}

fn warnings(kind: CurveKind, solution: &Solution, noise: &SeriesNoise, readings: &Readings) -> Vec<String> {
    let mut out = Vec::new();
    if !solution.is_minimum() {
        out.push("the fit did not converge: do not use its numbers".to_owned());
    }
    for (name, standing) in kind.names().iter().zip(&solution.standings) {
        match standing {
            Standing::AtBound(Side::Lower | Side::Upper) => {
                out.push(format!("{name} stands at the end of what is allowed: try the other curve"));
            }
            Standing::NoInfluence | Standing::NotIdentified { .. } => {
                out.push(format!("this log does not tell {name}"))
            }
            Standing::Free | Standing::Held => {}
        }
    }
    if noise.effective < DRIFTING * noise.count as f64 && noise.scatter > 1e-9 * readings.size() {
        out.push(
            "the log leaves this curve for longer stretches: its form does not fit, and the errors are too small"
                .into(),
        );
    }
    let p = solution.parameters.to_vec();
    if kind.time_of(&p, END_OF_RISE) > readings.last_time() {
        out.push("the log ends before the rise does: rise and end of rise are extrapolated".to_owned());
    }
    out
}

impl QuickFit {
    /// The curve at a time (s), m or m3.
    pub fn value_at(&self, time: f64) -> f64 {
        self.kind.at(&self.solution.parameters.to_vec(), time)
    }
}

/// Heights or volumes with their times.
struct Readings {
    time: Vec<f64>,
    y: Vec<f64>,
}

impl Readings {
    fn of(log: &RiseLog, kind: CurveKind) -> Result<Self> {
        let series = log.height.as_ref().or(log.volume.as_ref());
        let pairs = series.into_iter().flat_map(|y| log.time.iter().zip(y)).filter(|(_, y)| y.is_finite());
        let (time, y): (Vec<f64>, Vec<f64>) = pairs.map(|(t, y)| (*t, *y)).unzip();
        let needed = kind.names().len() + 1;
        let readings = Readings { time, y };
        let found = if readings.y.len() < needed {
            format!("{} has {} heights or volumes, {needed} are needed", log.name, readings.y.len())
        } else if readings.span() <= 0.0 || readings.size() <= readings.bottom() {
            format!("{} does not rise", log.name)
        } else {
            return Ok(readings);
        };
        let advice = "log the height over time from the end of mixing until the foam stands".to_owned();
        Err(Error::TooFewRecords { wanted: "a rise curve".into(), found, advice })
    }

    fn last_time(&self) -> f64 {
        self.time.last().copied().unwrap_or(0.0)
    }

    fn span(&self) -> f64 {
        self.last_time() - self.time.first().copied().unwrap_or(0.0)
    }

    fn size(&self) -> f64 {
        self.y.iter().copied().fold(f64::MIN, f64::max)
    }

    fn bottom(&self) -> f64 {
        self.y.iter().copied().fold(f64::MAX, f64::min)
    }

    fn first_above(&self, level: f64) -> f64 {
        self.y.iter().position(|y| *y >= level).map_or_else(|| self.last_time(), |i| self.time[i])
    }
}

/// The curve at all times of the readings.
struct Curve<'a> {
    kind: CurveKind,
    readings: &'a Readings,
}

impl Function for Curve<'_> {
    fn outputs<S: Scalar>(&self, inputs: &[S]) -> Result<Vec<S>> {
        Ok(self.readings.time.iter().map(|time| self.kind.at(inputs, *time)).collect())
    }
}

impl Residuals for Curve<'_> {
    fn n_residuals(&self) -> usize {
        self.readings.y.len()
    }

    fn evaluate(&self, p: ArrayView1<f64>) -> Result<(Array1<f64>, Array2<f64>)> {
        let (values, jacobian) = differentiate(self, &p.to_vec(), &vec![1.0; p.len()])?;
        Ok((Array1::from(values) - Array1::from(self.readings.y.clone()), jacobian))
    }

    fn residuals(&self, p: ArrayView1<f64>) -> Result<Array1<f64>> {
        Ok(Array1::from(self.outputs(&p.to_vec())?) - Array1::from(self.readings.y.clone()))
    }
}
