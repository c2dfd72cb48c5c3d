//! Whether chains of draws agree, and how many independent draws they are worth: rank-normalized split R-hat, bulk and
//! tail effective sample size (Vehtari, Gelman, Simpson, Carpenter and Bürkner, Bayesian Anal. 16, 667, 2021).

use ndarray::{ArrayView2, Axis};

use super::normal::quantile_of_unit_normal;

/// How well several chains agree on one number.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Convergence {
    /// Spread of all chains together over that within each; 1 where they agree. NaN where nothing varies.
    pub r_hat: f64,
    /// Independent draws that these are worth for the middle of the distribution.
    pub bulk_ess: f64,
    /// The same for the 5 % and 95 % quantiles.
    pub tail_ess: f64,
}

impl Convergence {
    /// Of draws of one number; shape (chains, draws).
    pub fn of(draws: ArrayView2<f64>) -> Self {
        let halves = split(draws);
        let ranked = rank_normalized(&halves);
        let middle = quantile(&halves, 0.5);
        let folded = map(&halves, |x| (x - middle).abs());
        let tail = |share: f64| {
            let limit = quantile(&halves, share);
            effective(&map(&halves, |x| f64::from(x <= limit)))
        };
        Convergence {
            r_hat: r_hat(&ranked).max(r_hat(&rank_normalized(&folded))),
            bulk_ess: effective(&ranked),
            tail_ess: tail(0.05).min(tail(0.95)),
        }
    }
}

type Parts = Vec<Vec<f64>>;

/// Each chain in two halves; of an odd number of draws the middle one is left out.
fn split(draws: ArrayView2<f64>) -> Parts {
    let half = draws.ncols() / 2;
    let halves = |chain: &[f64]| [chain[..half].to_vec(), chain[chain.len() - half..].to_vec()];
    draws.axis_iter(Axis(0)).flat_map(|chain| halves(&chain.to_vec())).collect()
}

fn map(parts: &Parts, f: impl Fn(f64) -> f64) -> Parts {
    parts.iter().map(|part| part.iter().map(|x| f(*x)).collect()).collect()
}

fn quantile(parts: &Parts, share: f64) -> f64 {
    let mut all: Vec<f64> = parts.iter().flatten().copied().collect();
    all.sort_by(f64::total_cmp);
    let Some(last) = all.len().checked_sub(1) else { return f64::NAN };
    let place = share * last as f64;
    let below = place.floor() as usize;
    all[below] + (place - below as f64) * (all[(below + 1).min(last)] - all[below])
}

/// Each value's rank among all, as the quantile of a unit normal; equal values share their mean rank.
fn rank_normalized(parts: &Parts) -> Parts {
    let all: Vec<f64> = parts.iter().flatten().copied().collect();
    let mut order: Vec<usize> = (0..all.len()).collect();
    order.sort_by(|a, b| all[*a].total_cmp(&all[*b]));
    let mut ranked = vec![0.0; all.len()];
    let mut first = 0;
    for same in order.chunk_by(|a, b| all[*a] == all[*b]) {
        let rank = first as f64 + 0.5 * (same.len() as f64 + 1.0);
        let z = quantile_of_unit_normal((rank - 0.375) / (all.len() as f64 + 0.25));
        same.iter().for_each(|&i| ranked[i] = z);
        first += same.len();
    }
    let length = parts.first().map_or(1, Vec::len).max(1);
    ranked.chunks(length).map(<[f64]>::to_vec).collect()
}

fn mean(x: &[f64]) -> f64 {
    x.iter().sum::<f64>() / x.len() as f64
}

fn variance(x: &[f64]) -> f64 {
    let m = mean(x);
    x.iter().map(|v| (v - m).powi(2)).sum::<f64>() / (x.len() as f64 - 1.0)
}

/// Mean variance within parts, and that of all parts together as they estimate it.
fn variances(parts: &Parts) -> (f64, f64) {
    let n = parts[0].len() as f64;
    let within = mean(&parts.iter().map(|part| variance(part)).collect::<Vec<_>>());
    let between = if parts.len() > 1 { variance(&parts.iter().map(|p| mean(p)).collect::<Vec<_>>()) } else { 0.0 };
    (within, within * (n - 1.0) / n + between)
}

fn r_hat(parts: &Parts) -> f64 {
    let (within, together) = variances(parts);
    (together / within).sqrt()
}

/// Effective sample size from the autocorrelations, summed in pairs up to the first negative one and never rising
/// (Geyer, Stat. Sci. 7, 473, 1992).
fn effective(parts: &Parts) -> f64 {
    let (m, n) = (parts.len() as f64, parts[0].len());
    let (within, together) = variances(parts);
    if together <= 0.0 || together.is_nan() || n < 4 {
        return f64::NAN;
    }
    let centered: Parts = parts.iter().map(|part| part.iter().map(|x| x - mean(part)).collect()).collect();
    let covariance = |lag: usize| {
        let of = |part: &Vec<f64>| part.iter().zip(&part[lag..]).map(|(a, b)| a * b).sum::<f64>() / n as f64;
        mean(&centered.iter().map(of).collect::<Vec<_>>())
    };
    let correlation = |lag: usize| if lag == 0 { 1.0 } else { 1.0 - (within - covariance(lag)) / together };
    let (mut sum, mut least) = (0.0, f64::INFINITY);
    let mut lag = 0;
    while lag + 1 < n - 2 {
        let (even, odd) = (correlation(lag), correlation(lag + 1));
        if even + odd <= 0.0 {
            // Half of a broken pair still belongs to the sum.
            sum += 0.5 * even.max(0.0);
            break;
        }
        least = least.min(even + odd);
        sum += least;
        lag += 2;
    }
    let total = m * n as f64;
    total / (2.0 * sum - 1.0).max(1.0 / total.log10())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::numerics::random::{stream, unit_normals};
    use ndarray::{Array2, array};

    /// Four chains of an autoregressive series of first order with this correlation, each moved by its own offset.
    fn chains(correlation: f64, offsets: [f64; 4], n: usize) -> Array2<f64> {
        let mut all = Array2::zeros((4, n));
        for (c, mut row) in all.rows_mut().into_iter().enumerate() {
            let steps = unit_normals(&mut stream(5, c as u64), n);
            let mut x = steps[0];
            for i in 0..n {
                x = if i == 0 { x } else { correlation * x + (1.0 - correlation * correlation).sqrt() * steps[i] };
                row[i] = x + offsets[c];
            }
        }
        all
    }

    #[test]
    fn independent_chains_agree_and_count_in_full() {
        let found = Convergence::of(chains(0.0, [0.0; 4], 2000).view());
        assert!((found.r_hat - 1.0).abs() < 0.003, "{found:?}");
        assert!(
            (found.bulk_ess / 8000.0 - 1.0).abs() < 0.15 && (found.tail_ess / 8000.0 - 1.0).abs() < 0.15,
            "{found:?}"
        );
    }

    #[test]
    fn correlated_draws_count_less() {
        // A series with correlation r is worth n (1-r)/(1+r) independent values: a ninth for 0.8.
        let found = Convergence::of(chains(0.8, [0.0; 4], 20_000).view());
        assert!((found.bulk_ess / (80_000.0 / 9.0) - 1.0).abs() < 0.1, "{found:?}");
    }

    #[test]
    fn a_chain_elsewhere_is_noticed() {
        let found = Convergence::of(chains(0.0, [0.0, 0.0, 0.0, 1.0], 1000).view());
        assert!(found.r_hat > 1.08 && found.bulk_ess < 100.0, "{found:?}");
    }

    #[test]
    fn a_chain_of_another_width_is_noticed() {
        let mut all = chains(0.0, [0.0; 4], 1000);
        all.row_mut(3).mapv_inplace(|x| 4.0 * x);
        assert!(Convergence::of(all.view()).r_hat > 1.05);
    }

    #[test]
    fn r_hat_by_hand() {
        // Halves (1,2), (3,4), (1,2), (3,4): means 1.5, 3.5, 1.5, 3.5; within 0.5, between the means 4/3.
        let parts = split(array![[1.0, 2.0, 3.0, 4.0], [1.0, 2.0, 3.0, 4.0]].view());
        assert_eq!(parts.len(), 4);
        assert!((r_hat(&parts) - ((0.25 + 4.0 / 3.0) / 0.5_f64).sqrt()).abs() < 1e-14);
    }

    #[test]
    fn ranks_by_hand() {
        // Ranks 1, 2.5, 2.5, 4 of 4: quantiles at 0.625/4.25, 0.5 and 3.625/4.25.
        let ranked = rank_normalized(&vec![vec![10.0, 20.0], vec![20.0, 90.0]]);
        let end = quantile_of_unit_normal(3.625 / 4.25);
        assert!(ranked[0][1].abs() < 1e-15 && ranked[1][0].abs() < 1e-15);
        assert!((ranked[1][1] - end).abs() < 1e-14 && (ranked[0][0] + end).abs() < 1e-14);
    }

    #[test]
    fn a_number_that_never_changes_has_none() {
        assert!(Convergence::of(Array2::ones((4, 10)).view()).r_hat.is_nan());
    }
}
