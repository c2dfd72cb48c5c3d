//! Layers of foam between wall and mid-plane: nodes in the mass coordinate, and how heat passes between them.
//!
//! The temperature is an even polynomial in u, the share of the half thickness's mass between mid-plane (0) and wall
//! (1), known at the positive Gauss-Legendre points of twice as many and at the wall. In Galerkin's form, integrated at
//! those points, energy is exact and relaxation rates are real; the wall has no mass there, so that its temperature is
//! that at which as much heat comes as goes, and a close contact makes nothing stiff. Source of points and weights:
//! Abramowitz and Stegun, 25.4.29.

use crate::numerics::Scalar;

/// Most layers that a casting may have, tests included.
pub const MOST_LAYERS: usize = 6;

/// So many nodes, from the mid-plane to the wall.
#[derive(Clone, Copy, Debug)]
pub struct Layers<const N: usize> {
    /// The share of the mass that is each node's; they add up to 1.
    pub share: [f64; N],
    /// d/du at the first node by the value at the second.
    pub slope: [[f64; N]; N],
    /// d/du at each node by the value at the wall.
    pub slope_by_wall: [f64; N],
    /// The nodes, as shares of the mass from the mid-plane.
    pub place: [f64; N],
}

impl<const N: usize> Layers<N> {
    /// The nodes, known to the compiler.
    pub const NODES: Layers<N> = Layers::new();

    /// What each node's value and that at the wall count for at `u`.
    pub fn at(&self, u: f64) -> ([f64; N], f64) {
        (each_node(|j| even(&self.place, j, u, true)), even(&self.place, N, u, true))
    }

    /// What each node's value counts for at `u`, of what is not known at the wall.
    pub fn at_without_wall(&self, u: f64) -> [f64; N] {
        each_node(|j| even(&self.place, j, u, false))
    }

    const fn new() -> Self {
        let mut layers = Layers { share: [0.0; N], slope: [[0.0; N]; N], slope_by_wall: [0.0; N], place: [0.0; N] };
        let mut i = 0;
        while i < N {
            let (place, by_place) = root(2 * N, i);
            layers.place[i] = place;
            layers.share[i] = if N == 1 { 1.0 } else { 2.0 / ((1.0 - place * place) * by_place * by_place) };
            i += 1;
        }
        let mut j = 0;
        while j < N {
            layers.slope_by_wall[j] = slope(&layers.place, N, j);
            let mut q = 0;
            while q < N {
                layers.slope[q][j] = slope(&layers.place, j, q);
                q += 1;
            }
            j += 1;
        }
        layers
    }
}

/// One value of each layer. Not `from_fn`, which is a call of its own for numbers with derivatives.
#[inline(always)]
pub(in crate::physics) fn each_node<const NODES: usize, T: Copy>(of: impl Fn(usize) -> T) -> [T; NODES] {
    let mut all = [of(0); NODES];
    for (node, value) in all.iter_mut().enumerate().skip(1) {
        *value = of(node);
    }
    all
}

/// The sum over all layers.
#[inline(always)]
pub(in crate::physics) fn sum_over<const NODES: usize, S: Scalar>(of: impl Fn(usize) -> S) -> S {
    let mut sum = of(0);
    for node in 1..NODES {
        sum += of(node);
    }
    sum
}

/// Legendre's polynomial of this degree, and its derivative.
const fn legendre(degree: usize, x: f64) -> (f64, f64) {
    let (mut before, mut value) = (1.0, x);
    let mut n = 2;
    while n <= degree {
        let next = ((2 * n - 1) as f64 * x * value - (n - 1) as f64 * before) / n as f64;
        (before, value) = (value, next);
        n += 1;
    }
    (value, degree as f64 * (x * value - before) / (x * x - 1.0))
}

/// The positive root number `which` of Legendre's polynomial of this even degree, from the smallest, and the derivative
/// there.
const fn root(degree: usize, which: usize) -> (f64, f64) {
    // Roots lie farther apart than this, and are found between a change of sign.
    let step = 0.25 / (degree * degree) as f64;
    let (mut low, mut seen) = (0.0, 0);
    loop {
        let high = low + step;
        if (legendre(degree, low).0 > 0.0) != (legendre(degree, high).0 > 0.0) {
            if seen == which {
                return polished(degree, low + 0.5 * step);
            }
            seen += 1;
        }
        low = high;
    }
}

const fn polished(degree: usize, near: f64) -> (f64, f64) {
    let mut x = near;
    let mut rounds = 0;
    while rounds < 8 {
        let (value, slope) = legendre(degree, x);
        x -= value / slope;
        rounds += 1;
    }
    (x, legendre(degree, x).1)
}

/// The square of a node's place; after the nodes comes the wall.
const fn squared<const N: usize>(place: &[f64; N], i: usize) -> f64 {
    if i < N { place[i] * place[i] } else { 1.0 }
}

/// The even polynomial that is 1 at place `j` and 0 at the others, at `u`; the wall is one of them or not.
const fn even<const N: usize>(place: &[f64; N], j: usize, u: f64, with_wall: bool) -> f64 {
    let (mut product, mut k) = (1.0, 0);
    while k < if with_wall { N + 1 } else { N } {
        if k != j {
            product *= (u * u - squared(place, k)) / (squared(place, j) - squared(place, k));
        }
        k += 1;
    }
    product
}

/// Its slope at node `q`.
const fn slope<const N: usize>(place: &[f64; N], j: usize, q: usize) -> f64 {
    let (mut sum, mut left_out) = (0.0, 0);
    while left_out <= N {
        if left_out != j {
            let mut product = 2.0 * place[q] / (squared(place, j) - squared(place, left_out));
            let mut k = 0;
            while k <= N {
                if k != j && k != left_out {
                    product *= (squared(place, q) - squared(place, k)) / (squared(place, j) - squared(place, k));
                }
                k += 1;
            }
            sum += product;
        }
        left_out += 1;
    }
    sum
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The integral of an even power over the nodes is exact up to degree 4 N - 2, its slope up to 2 N.
    fn check<const N: usize>() {
        let layers = &Layers::<N>::NODES;
        assert!((layers.share.iter().sum::<f64>() - 1.0).abs() < 1e-14);
        for power in (0..=4 * N as i32 - 2).step_by(2).filter(|_| N > 1) {
            let sum: f64 = layers.share.iter().zip(&layers.place).map(|(w, u)| w * u.powi(power)).sum();
            assert!((sum * (power + 1) as f64 - 1.0).abs() < 1e-13, "{N} {power}");
        }
        for power in (0..=2 * N as i32).step_by(2) {
            let values = layers.place.map(|u| u.powi(power));
            let of = |weights: &[f64; N], wall: f64| weights.iter().zip(values).map(|(l, v)| l * v).sum::<f64>() + wall;
            let (at, wall) = layers.at(0.95);
            assert!((of(&at, wall) - 0.95_f64.powi(power)).abs() < 1e-10, "{N} {power}");
            if power < 2 * N as i32 {
                assert!((of(&layers.at_without_wall(0.95), 0.0) - 0.95_f64.powi(power)).abs() < 1e-10, "{N} {power}");
            }
            for (q, u) in layers.place.iter().enumerate() {
                let expected = if power == 0 { 0.0 } else { power as f64 * u.powi(power - 1) };
                let slope = of(&layers.slope[q], layers.slope_by_wall[q]);
                assert!((slope - expected).abs() < 1e-9, "{N} {power}");
            }
        }
    }

    #[test]
    fn polynomials_are_exact() {
        check::<1>();
        check::<2>();
        check::<3>();
        check::<4>();
        check::<6>();
        check::<8>();
    }

    /// Abramowitz and Stegun, table 25.4: positive points and weights of eight.
    #[test]
    fn four_layers_are_half_of_eight_points() {
        let layers = &Layers::<4>::NODES;
        let published = [
            (0.183434642495650, 0.362683783378362),
            (0.525532409916329, 0.313706645877887),
            (0.796666477413627, 0.222381034453374),
            (0.960289856497536, 0.101228536290376),
        ];
        for (i, (place, share)) in published.into_iter().enumerate() {
            assert!((layers.place[i] - place).abs() < 1e-14 && (layers.share[i] - share).abs() < 1e-14);
        }
    }
}
