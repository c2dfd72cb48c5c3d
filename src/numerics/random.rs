//! Random numbers in streams: each is fixed by a seed and a number of its own, so that who computes it does not matter.

use chacha20::ChaCha8Rng;
use chacha20::rand_core::SeedableRng;
use rand_distr::{Distribution, StandardNormal};

/// Stream number `stream` of this seed: ChaCha with 8 rounds (D. J. Bernstein, 2008), whose streams are independent.
pub fn stream(seed: u64, stream: u64) -> ChaCha8Rng {
    let mut generator = ChaCha8Rng::seed_from_u64(seed);
    generator.set_stream(stream);
    generator
}

/// `n` independent unit normals from this stream.
pub fn unit_normals(generator: &mut ChaCha8Rng, n: usize) -> Vec<f64> {
    (0..n).map(|_| StandardNormal.sample(generator)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn covariance(a: &[f64], b: &[f64]) -> f64 {
        a.iter().zip(b).map(|(x, y)| x * y).sum::<f64>() / a.len() as f64
    }

    #[test]
    fn streams_are_unit_normal_and_apart() {
        // 1/sqrt(n) is 0.005; limits at 4 of them.
        let n = 40_000;
        let [a, b, c] = [(1, 0), (1, 1), (2, 0)].map(|(seed, number)| unit_normals(&mut stream(seed, number), n));
        assert!(a.iter().sum::<f64>().abs() / (n as f64) < 0.02);
        assert!((covariance(&a, &a) - 1.0).abs() < 0.03);
        assert!(covariance(&a, &b).abs() < 0.02 && covariance(&a, &c).abs() < 0.02);
        assert_eq!(a, unit_normals(&mut stream(1, 0), n));
    }
}
