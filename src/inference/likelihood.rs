//! How likely a misfit is: readings with their scatter, limits that a reading only promises to pass, answers of the
//! eye. Each as minus the logarithm of a probability (density), and as the residual whose half square that is.

use crate::numerics::normal::distribution_of_unit_normal;

/// Degrees of freedom of Student's t: small ones forgive a record that does not fit the others.
const STUDENT_DEGREES: f64 = 4.0;
/// Share of wrong entries among answers of the eye (full or short, flash or none). Common practice, no source.
const WRONG_ANSWER_SHARE: f64 = 0.01;

/// What is known of a misfit, which counts in standard deviations.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Shape {
    /// A reading: normal.
    Normal,
    /// A reading with heavy tails: Student's t with 4 degrees of freedom.
    Heavy,
    /// The true misfit lies below this one, by the same heavy tails: a gauge at its stop.
    AtLeast,
    /// The answer was yes, and yes is the likelier the larger this is (probit), but for slips of whoever answers.
    Judged,
}

/// The shape, and whether the records' common scatter widens it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Law {
    /// How likely each misfit is.
    pub shape: Shape,
    /// Whether the records' common scatter widens it.
    pub scatters: bool,
}

impl Law {
    /// A shape that no common scatter widens.
    pub const fn of(shape: Shape) -> Self {
        Law { shape, scatters: false }
    }

    /// Whether it is a reading with a scatter, not a limit or an answer.
    pub fn is_reading(self) -> bool {
        matches!(self.shape, Shape::Normal | Shape::Heavy)
    }

    /// By how much the model contradicts what was seen, in standard deviations: limits and answers only one way.
    pub fn contradiction(self, misfit: f64) -> f64 {
        if self.is_reading() { misfit } else { misfit.min(0.0) }
    }

    /// The residual, and its derivative by the misfit.
    pub fn residual(self, misfit: f64) -> (f64, f64) {
        let (cost, slope) = self.cost(misfit);
        match self.shape {
            Shape::Normal => (misfit, 1.0),
            Shape::Heavy if misfit * misfit < 1e-12 => {
                let steep = ((STUDENT_DEGREES + 1.0) / STUDENT_DEGREES).sqrt();
                (steep * misfit, steep)
            }
            // Nothing is left to contradict.
            _ if cost <= 0.0 => (0.0, 0.0),
            _ => {
                let size = (2.0 * cost).sqrt();
                let residual = if self.shape == Shape::Heavy { size.copysign(misfit) } else { size };
                (residual, slope / residual)
            }
        }
    }

    /// Square root of the weight of a reading with this misfit: its information on the model's output, per standard
    /// deviation squared. With heavy tails it is the expected (Fisher) information, (n + 1) / (n + 3) for n degrees of
    /// freedom (Lange, Little and Taylor, J. Am. Stat. Assoc. 84, 881, 1989), however near the reading came: the peak
    /// of its law is sharper than what a reading can be trusted for.
    pub fn weight(self, misfit: f64) -> f64 {
        match self.shape {
            Shape::Heavy => ((STUDENT_DEGREES + 1.0) / (STUDENT_DEGREES + 3.0)).sqrt(),
            _ => self.residual(misfit).1.abs(),
        }
    }

    /// The residual where the law is made linear with its weight, and its derivative by the misfit.
    pub fn counted(self, misfit: f64) -> (f64, f64) {
        match self.shape {
            Shape::Heavy => (self.weight(misfit) * misfit, self.weight(misfit)),
            _ => self.residual(misfit),
        }
    }

    /// Minus the logarithm of the probability (density) but for a constant, and its derivative by the misfit.
    pub fn cost(self, misfit: f64) -> (f64, f64) {
        match self.shape {
            Shape::Normal => (0.5 * misfit * misfit, misfit),
            Shape::Heavy => {
                let square = misfit * misfit;
                (
                    0.5 * (STUDENT_DEGREES + 1.0) * (square / STUDENT_DEGREES).ln_1p(),
                    (STUDENT_DEGREES + 1.0) * misfit / (STUDENT_DEGREES + square),
                )
            }
            Shape::AtLeast => {
                let (below, above, density) = student(misfit);
                // Beyond what a float can hold it is as unlikely as the least that it can.
                let below = below.max(f64::MIN_POSITIVE);
                (if misfit > 0.0 { -(-above).ln_1p() } else { -below.ln() }, -density / below)
            }
            Shape::Judged => {
                let (below, density) = distribution_of_unit_normal(misfit);
                let yes = WRONG_ANSWER_SHARE + (1.0 - 2.0 * WRONG_ANSWER_SHARE) * below;
                (-yes.ln(), -(1.0 - 2.0 * WRONG_ANSWER_SHARE) * density / yes)
            }
        }
    }

    /// The cost where readings scatter `scatter` times more than expected, and its derivatives by the misfit and by the
    /// logarithm of that factor.
    pub fn widened_cost(self, misfit: f64, scatter: f64) -> (f64, f64, f64) {
        if !self.scatters {
            let (cost, slope) = self.cost(misfit);
            return (cost, slope, 0.0);
        }
        let (cost, slope) = self.cost(misfit / scatter);
        let (level, rise) = if self.is_reading() { (scatter.ln(), 1.0) } else { (0.0, 0.0) };
        (cost + level, slope / scatter, rise - slope * misfit / scatter)
    }
}

/// Student's t with 4 degrees of freedom: the probabilities below and above t, and the density.
fn student(t: f64) -> (f64, f64, f64) {
    let root = (4.0 + t * t).sqrt();
    let w = t / root;
    // 1 - |w| without cancellation.
    let near = 4.0 / (root * (root + t.abs()));
    let small = 0.25 * near * near * (2.0 + w.abs());
    let large = 1.0 - small;
    let density = 12.0 / root.powi(5);
    if t > 0.0 { (large, small, density) } else { (small, large, density) }
}

#[cfg(test)]
mod tests {
    use super::*;

    const SHAPES: [Shape; 4] = [Shape::Normal, Shape::Heavy, Shape::AtLeast, Shape::Judged];

    #[test]
    fn probabilities_in_closed_form() {
        // Computed with SciPy: stats.t(4).cdf and norm.cdf.
        for (t, p) in [
            (-3.0, 0.019_970_984_035_859_413),
            (0.0, 0.5),
            (0.5, 0.678_335_018_409_068_4),
            (30.0, 0.999_996_323_571_951_1),
        ] {
            let cost = Law::of(Shape::AtLeast).cost(t).0;
            assert!(((-cost).exp() / p - 1.0_f64).abs() < 1e-11, "{t}: {} {p}", (-cost).exp());
        }
        for (z, p) in
            [(-8.0, 6.220_960_574_271_74e-16), (-1.0, 0.158_655_253_931_457_05), (2.5, 0.993_790_334_674_223_8)]
        {
            let cost = Law::of(Shape::Judged).cost(z).0;
            assert!(((-cost).exp() / (0.01 + 0.98 * p) - 1.0_f64).abs() < 1e-14, "{z}");
        }
    }

    /// Yes and no are the whole: the likelihood is normalized.
    #[test]
    fn answers_add_up_to_one() {
        for z in [-40.0, -2.0, 0.3, 7.0] {
            let of = |z: f64| (-Law::of(Shape::Judged).cost(z).0).exp();
            assert!((of(z) + of(-z) - 1.0).abs() < 1e-15);
        }
    }

    #[test]
    fn half_the_square_is_the_cost_and_slopes_are_derivatives() {
        for shape in SHAPES {
            let law = Law { shape, scatters: true };
            for m in [-30.0, -3.0, -0.4, 0.2, 1.7, 6.0] {
                let h = 1e-5;
                let (residual, steep) = law.residual(m);
                assert!((0.5 * residual * residual - law.cost(m).0).abs() < 1e-12 * (1.0 + law.cost(m).0));
                let by_difference = (law.residual(m + h).0 - law.residual(m - h).0) / (2.0 * h);
                assert!((steep - by_difference).abs() < 1e-8 * (1.0 + steep.abs()), "{shape:?} {m}");
                let (_, slope, by_log) = law.widened_cost(m, 1.4);
                let cost = |m: f64, s: f64| law.widened_cost(m, s).0;
                let by_m = (cost(m + h, 1.4) - cost(m - h, 1.4)) / (2.0 * h);
                let by_s = (cost(m, 1.4 * h.exp()) - cost(m, 1.4 * (-h).exp())) / (2.0 * h);
                assert!((slope - by_m).abs() < 1e-7 * (1.0 + slope.abs()), "{shape:?} {m}");
                assert!((by_log - by_s).abs() < 1e-6 * (1.0 + by_log.abs()), "{shape:?} {m} {by_log} {by_s}");
            }
        }
    }

    /// The mean square of the density's logarithm's slope, by summing over the density.
    #[test]
    fn a_heavy_reading_has_its_mean_information() {
        let law = Law::of(Shape::Heavy);
        let points = (-400_000..400_000).map(|i| f64::from(i) * 1e-3);
        let (mut information, mut whole) = (0.0, 0.0);
        points.for_each(|m| {
            let (cost, slope) = law.cost(m);
            information += slope * slope * (-cost).exp();
            whole += (-cost).exp();
        });
        assert!((information / whole - law.weight(0.0).powi(2)).abs() < 1e-6, "{}", information / whole);
    }

    #[test]
    fn far_within_a_limit_nothing_is_left() {
        assert_eq!(Law::of(Shape::AtLeast).residual(1e90), (0.0, 0.0));
        assert!(Law::of(Shape::AtLeast).residual(-1e90).0.is_finite());
    }
}
