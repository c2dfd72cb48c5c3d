//! The regression models, as each file states them.

use std::f64::consts::{PI, TAU};

use super::dual::Dual;

/// Fitted response from parameters and predictors.
pub type Model = fn(&[Dual], &[f64]) -> Dual;

pub fn model(name: &str) -> Model {
    match name {
        "Misra1a" | "BoxBOD" => |b, x| b[0] * (-(b[1] * -x[0]).exp() + 1.0),
        "Misra1b" => |b, x| b[0] * (-(b[1] * (x[0] / 2.0) + 1.0).powf(-2.0) + 1.0),
        "Misra1c" => |b, x| b[0] * (-(b[1] * (2.0 * x[0]) + 1.0).powf(-0.5) + 1.0),
        "Misra1d" => |b, x| b[0] * b[1] * x[0] / (b[1] * x[0] + 1.0),
        "Chwirut1" | "Chwirut2" => |b, x| (b[0] * -x[0]).exp() / (b[1] + b[2] * x[0]),
        "Lanczos1" | "Lanczos2" | "Lanczos3" => |b, x| decay(b, 0, x[0]) + decay(b, 2, x[0]) + decay(b, 4, x[0]),
        "Gauss1" | "Gauss2" | "Gauss3" => |b, x| decay(b, 0, x[0]) + peak(b, 2, x[0]) + peak(b, 5, x[0]),
        "DanWood" => |b, x| b[0] * (b[1] * x[0].ln()).exp(),
        "Kirby2" => |b, x| polynomial(&b[..3], x[0]) / (polynomial(&b[3..], x[0]) * x[0] + 1.0),
        "Hahn1" | "Thurber" => |b, x| polynomial(&b[..4], x[0]) / (polynomial(&b[4..], x[0]) * x[0] + 1.0),
        "Nelson" => |b, x| b[0] - b[1] * x[0] * (b[2] * -x[1]).exp(),
        "MGH17" => |b, x| b[0] + b[1] * (b[3] * -x[0]).exp() + b[2] * (b[4] * -x[0]).exp(),
        "Roszman1" => |b, x| b[0] - b[1] * x[0] - (b[2] / (-b[3] + x[0])).atan() * (1.0 / PI),
        "ENSO" => |b, x| b[0] + yearly(b, x[0]) + cycle(b, 3, x[0]) + cycle(b, 6, x[0]),
        "MGH09" => |b, x| b[0] * (b[1] * x[0] + x[0] * x[0]) / (b[2] * x[0] + b[3] + x[0] * x[0]),
        "Rat42" => |b, x| b[0] / ((b[1] - b[2] * x[0]).exp() + 1.0),
        "MGH10" => |b, x| b[0] * (b[1] / (b[2] + x[0])).exp(),
        "Eckerle4" => |b, x| b[0] / b[1] * (((-b[2] + x[0]) / b[1]).powf(2.0) * -0.5).exp(),
        "Rat43" => |b, x| b[0] * (-((b[1] - b[2] * x[0]).exp() + 1.0).ln() / b[3]).exp(),
        "Bennett5" => |b, x| b[0] * (-(b[1] + x[0]).ln() / b[2]).exp(),
        other => panic!("no model for {other}"),
    }
}

fn decay(b: &[Dual], at: usize, x: f64) -> Dual {
    b[at] * (b[at + 1] * -x).exp()
}

fn peak(b: &[Dual], at: usize, x: f64) -> Dual {
    b[at] * (-((-b[at + 1] + x) / b[at + 2]).powf(2.0)).exp()
}

fn polynomial(b: &[Dual], x: f64) -> Dual {
    b[..b.len() - 1].iter().rev().fold(b[b.len() - 1], |sum, &c| sum * x + c)
}

fn yearly(b: &[Dual], x: f64) -> Dual {
    b[1] * (TAU * x / 12.0).cos() + b[2] * (TAU * x / 12.0).sin()
}

/// A cycle whose period is the parameter at `at`.
fn cycle(b: &[Dual], at: usize, x: f64) -> Dual {
    let period = b[at];
    let phase = (period * (1.0 / (TAU * x))).powf(-1.0);
    b[at + 1] * phase.cos() + b[at + 2] * phase.sin()
}
