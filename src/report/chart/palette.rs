//! The colors of all charts: dark enough on white, told apart by lightness and hue also without red or green vision, and
//! never the only mark: shapes, dashes and labels say the same.

use plotters::style::RGBColor;

/// Text and frames.
pub(super) const INK: RGBColor = RGBColor(30, 36, 44);
/// Axis numbers and remarks.
pub(super) const QUIET: RGBColor = RGBColor(88, 96, 105);
/// Grid lines.
pub(super) const GRID: RGBColor = RGBColor(214, 219, 224);
/// The paper.
pub(super) const PAPER: RGBColor = RGBColor(255, 255, 255);
/// What was measured.
pub(super) const MEASURED: RGBColor = RGBColor(30, 36, 44);
/// What the model says.
pub(super) const MODEL: RGBColor = RGBColor(0, 90, 165);
/// A second course of the model, and what stands out.
pub(super) const ACCENT: RGBColor = RGBColor(200, 84, 0);
/// How much of a course's color is in the band of its doubt; the rest is what lies below it.
pub(super) const DOUBT: f64 = 0.1;
/// Several courses in one panel, in this order.
pub(super) const SERIES: [RGBColor; 6] = [
    RGBColor(0, 90, 165),
    RGBColor(200, 84, 0),
    RGBColor(0, 130, 110),
    RGBColor(125, 45, 130),
    RGBColor(140, 112, 0),
    RGBColor(80, 86, 94),
];
/// Bands of the phases open, rising, filled and set.
pub(super) const PHASES: [RGBColor; 4] =
    [RGBColor(236, 238, 241), RGBColor(218, 233, 248), RGBColor(253, 229, 208), RGBColor(216, 240, 229)];

/// The color of a value on a map, from pale at 0 to dark at 1: lightness alone tells the order.
pub(super) fn band(share: f64) -> RGBColor {
    let between = |pale: f64, dark: f64| (pale + (dark - pale) * share.clamp(0.0, 1.0)).round() as u8;
    RGBColor(between(238.0, 8.0), between(244.0, 62.0), between(250.0, 120.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Relative luminance, WCAG 2.1, from memory, not verified.
    fn luminance(color: RGBColor) -> f64 {
        let linear = |byte: u8| {
            let c = f64::from(byte) / 255.0;
            if c <= 0.03928 { c / 12.92 } else { ((c + 0.055) / 1.055).powf(2.4) }
        };
        0.2126 * linear(color.0) + 0.7152 * linear(color.1) + 0.0722 * linear(color.2)
    }

    fn contrast(a: RGBColor, b: RGBColor) -> f64 {
        let (light, dark) = (luminance(a).max(luminance(b)), luminance(a).min(luminance(b)));
        (light + 0.05) / (dark + 0.05)
    }

    /// Contrast of 4.5 for text and 3 for marks: WCAG 2.1, criteria 1.4.3 and 1.4.11, from memory, not verified.
    #[test]
    fn text_and_marks_stand_out_on_paper_and_bands() {
        for paper in PHASES.into_iter().chain([PAPER]) {
            assert!([INK, QUIET].into_iter().all(|color| contrast(color, paper) >= 4.5));
            assert!(SERIES.into_iter().all(|color| contrast(color, paper) >= 3.0));
            let mixed = |below: u8, above: u8| (f64::from(below) + DOUBT * (f64::from(above) - f64::from(below))) as u8;
            let band = RGBColor(mixed(paper.0, MODEL.0), mixed(paper.1, MODEL.1), mixed(paper.2, MODEL.2));
            assert!(
                contrast(INK, band) >= 4.5 && [MODEL, ACCENT].into_iter().all(|color| contrast(color, band) >= 3.0)
            );
        }
    }
}
