//! Whether draws from a posterior can be used, and why, in words.

use super::{Drawn, PosteriorEstimate};
use crate::inference::records::Estimand;

/// Above this the chains do not agree (Vehtari et al. 2021, see `numerics/convergence`).
const R_HAT_AGREED: f64 = 1.01;
/// Above this they must not be used.
const R_HAT_USABLE: f64 = 1.05;
/// Effective draws per chain below which quantiles are rough (the same).
const ENOUGH_DRAWS_PER_CHAIN: f64 = 100.0;
/// Share of broken trajectories or proposals above which the draws miss a part of what is possible.
const MAX_BROKEN_SHARE: f64 = 0.01;
/// Draws in succession for which no proposal of a chain was accepted, above which it is said; and the share of a
/// chain's draws above which the draws must not be used.
const NOTABLE_STAND: usize = 10;
const MAX_STAND_SHARE: f64 = 0.1;
/// Share of accepted proposals below which the chains hardly move.
const MIN_ACCEPTANCE: f64 = 0.05;

/// Whether the draws can be used, and why, in words.
pub fn judge<P: Estimand>(estimates: &[PosteriorEstimate<P>], drawn: &Drawn) -> (bool, Vec<String>) {
    let (chains, draws, _) = drawn.draws.dim();
    let worst = estimates.iter().max_by(|a, b| a.r_hat.total_cmp(&b.r_hat));
    let r_hat = worst.map_or(1.0, |e| e.r_hat);
    let ess = estimates.iter().map(|e| e.bulk_ess.min(e.tail_ess)).fold(f64::INFINITY, f64::min);
    let name = worst.map(PosteriorEstimate::name).unwrap_or_default();
    let mut said = vec![match r_hat {
        _ if chains < 2 => "one chain alone cannot show whether it agrees with others: draw at least 2".to_owned(),
        r if r <= R_HAT_AGREED => format!("the {chains} chains agree (R-hat at most {r:.3})"),
        r if r <= R_HAT_USABLE => {
            format!("the {chains} chains nearly agree (R-hat {r:.3} for {name}): draw longer for final numbers")
        }
        r => format!("the {chains} chains disagree (R-hat {r:.2} for {name}): do not use these draws, draw longer"),
    }];
    let rough =
        if ess < ENOUGH_DRAWS_PER_CHAIN * chains as f64 { ": ends of intervals are rough, draw longer" } else { "" };
    said.push(format!("every number rests on draws worth at least {ess:.0} independent ones{rough}"));
    said.extend(drawn.acceptance.map(|rate| {
        let words =
            if rate < MIN_ACCEPTANCE { ": the simulations change abruptly there, try the direct way" } else { "" };
        format!("{:.0} % of the proposals were accepted{words}", 100.0 * rate)
    }));
    let stood = drawn.longest_stand > NOTABLE_STAND && drawn.longest_stand as f64 > MAX_STAND_SHARE * draws as f64;
    said.extend(standing(drawn.longest_stand, draws, stood));
    let broken = drawn.broken as f64 / drawn.tried.max(1) as f64;
    said.push(match drawn.broken {
        0 => format!("none of {} trajectories broke off", drawn.tried),
        some => format!(
            "{some} of {} trajectories ({:.1} %) broke off: castings near there cannot be simulated or change abruptly",
            drawn.tried,
            100.0 * broken
        ),
    });
    (chains > 1 && r_hat <= R_HAT_USABLE && broken <= MAX_BROKEN_SHARE && !stood, said)
}

/// What is to be said of chains that stood still.
fn standing(longest: usize, draws: usize, too_long: bool) -> Option<String> {
    let advice =
        if too_long { "do not use these draws, draw longer" } else { "ends of intervals are rougher than it seems" };
    (longest > NOTABLE_STAND)
        .then(|| format!("a chain stood still for {longest} of its {draws} draws in what all records share: {advice}"))
}

#[cfg(test)]
mod tests {
    use super::*;
    use ndarray::Array3;

    fn stood(longest_stand: usize, draws: usize) -> (bool, Vec<String>) {
        let draws = Array3::zeros((2, draws, 1));
        judge::<&'static str>(
            &[],
            &Drawn { draws, broken: 0, tried: 100, acceptance: Some(0.6), evaluations: 100, longest_stand },
        )
    }

    #[test]
    fn a_chain_that_stood_still_is_named() {
        let says = |verdict: &[String]| verdict.iter().find(|s| s.contains("stood still")).cloned();
        let (converged, verdict) = stood(10, 1000);
        assert!(converged && says(&verdict).is_none(), "{verdict:?}");
        let (converged, verdict) = stood(11, 1000);
        let said = "a chain stood still for 11 of its 1000 draws in what all records share: ends of intervals are rougher than \
                    it seems";
        assert_eq!((converged, says(&verdict).as_deref()), (true, Some(said)));
        let (converged, verdict) = stood(101, 1000);
        let said = "a chain stood still for 101 of its 1000 draws in what all records share: do not use these draws, draw longer";
        assert_eq!((converged, says(&verdict).as_deref()), (false, Some(said)));
        assert!(stood(100, 1000).0, "a tenth is not yet too long");
        assert!(!stood(11, 100).0, "11 of 100 draws are");
    }
}
