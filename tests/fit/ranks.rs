//! Whether truths stand at even ranks among draws (Talts et al., arXiv:1804.06788, 2018; Cook, Gelman and Rubin, J. Comput.
//! Graph. Stat. 15, 675, 2006).

const BINS: usize = 6;
/// Chi squared with 5 degrees of freedom exceeds it once in 2000 times (22.1); a normal lies beyond 3.5 as rarely. From memory,
/// not verified.
const CHI_SQUARED: f64 = 22.1;
const NORMAL: f64 = 3.5;

/// How many shops to simulate: the small number of `make test`, or what `SHOPS` says (`make sbc`).
pub fn shops(small: u64) -> u64 {
    std::env::var("SHOPS").ok().and_then(|n| n.parse().ok()).unwrap_or(small)
}

/// Share of draws below the truth.
pub fn rank(draws: impl Iterator<Item = f64>, truth: f64) -> f64 {
    let (mut below, mut all) = (0.5, 1.0);
    for draw in draws {
        below += f64::from(draw < truth);
        all += 1.0;
    }
    below / all
}

/// What speaks against even ranks: unevenness of their counts, and mean and spread of the normals at those ranks, each in
/// shares of what happens once in 2000 times. The largest, with its name.
pub fn suspicion(name: &str, ranks: &[f64]) -> (f64, String) {
    let n = ranks.len() as f64;
    let mut counts = [0.0; BINS];
    ranks.iter().for_each(|r| counts[((r * BINS as f64) as usize).min(BINS - 1)] += 1.0);
    let expected = n / BINS as f64;
    let chi: f64 = counts.iter().map(|c: &f64| (c - expected).powi(2) / expected).sum();
    let normals: Vec<f64> = ranks.iter().map(|r| risefit::numerics::normal::quantile_of_unit_normal(*r)).collect();
    let mean = normals.iter().sum::<f64>() / n;
    let square = normals.iter().map(|z| z * z).sum::<f64>() / n;
    let (off, wide) = (mean * n.sqrt(), (square - 1.0) * (n / 2.0).sqrt());
    println!("{name:26} {counts:?} chi {chi:.1}, mean off {off:.1}, spread off {wide:.1} standard errors");
    let found = [(chi / CHI_SQUARED, "counts"), (off.abs() / NORMAL, "mean"), (wide.abs() / NORMAL, "spread")];
    let worst = found.into_iter().fold((0.0, ""), |a, b| if b.0 > a.0 { b } else { a });
    (worst.0, format!("{name}: {}", worst.1))
}

/// The largest suspicion over several numbers, whose ranks stand in columns.
pub fn worst_of(names: &[String], ranks: &[Vec<f64>]) -> (f64, String) {
    let of = |(j, name): (usize, &String)| suspicion(name, &ranks.iter().map(|row| row[j]).collect::<Vec<_>>());
    names.iter().enumerate().map(of).fold((0.0, String::new()), |a, b| if b.0 > a.0 { b } else { a })
}
