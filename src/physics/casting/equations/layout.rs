//! The state of a casting by name: one block of values for every foam node, and the values that all nodes share.
//!
//! No length and no position stands anywhere else. A state has as many nodes as its type says; today's model has one.

use std::ops::{Index, IndexMut};

use crate::numerics::Scalar;
use crate::physics::kinetics::REACTING;

/// Foam nodes of today's model.
pub const NODES: usize = 1;
/// The node whose foam flows, gels and is read: where all nodes are alike, any will do.
pub const LEADING: usize = 0;

/// A value that all nodes share.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Shared {
    /// Air in the headspace, mol.
    HeadspaceAir,
    /// Foam that left through vents, kg.
    VentLoss,
    /// Foam that left through the parting line or a leak, kg.
    Flash,
    /// Gas lost from opened cells, mol.
    GasLost,
}

/// How many values all nodes share.
pub const SHARED_COUNT: usize = 4;

/// One value per place of a state: the state itself, its rates, a gradient; and with states for values, a Jacobian row
/// by row.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct State<T, const NODES: usize> {
    /// Of each node the turnovers of blowing and of gelling and the temperature (K); places as in `physics::kinetics`.
    pub nodes: [[T; REACTING]; NODES],
    shared: [T; SHARED_COUNT],
}

/// Derivatives by the state, row by row.
pub type Jacobian<S, const NODES: usize> = State<State<S, NODES>, NODES>;

/// A place in a state.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Place {
    /// Of a node's reactions: the place in its block.
    Node(usize),
    /// A value that all nodes share.
    Shared(Shared),
}

impl<T, const NODES: usize> Index<Shared> for State<T, NODES> {
    type Output = T;

    #[inline(always)]
    fn index(&self, which: Shared) -> &T {
        &self.shared[which as usize]
    }
}

impl<T, const NODES: usize> IndexMut<Shared> for State<T, NODES> {
    #[inline(always)]
    fn index_mut(&mut self, which: Shared) -> &mut T {
        &mut self.shared[which as usize]
    }
}

impl<T: Copy, const NODES: usize> State<T, NODES> {
    /// The same value everywhere.
    #[inline(always)]
    pub fn filled(value: T) -> Self {
        State { nodes: [[value; REACTING]; NODES], shared: [value; SHARED_COUNT] }
    }

    /// All nodes alike, and the same value for all that they share.
    pub fn uniform(node: [T; REACTING], shared: T) -> Self {
        State { nodes: [node; NODES], shared: [shared; SHARED_COUNT] }
    }

    /// Every value in another kind.
    #[inline(always)]
    pub fn map<U>(&self, to: impl Fn(T) -> U) -> State<U, NODES> {
        State {
            nodes: std::array::from_fn(|i| std::array::from_fn(|k| to(self.nodes[i][k]))),
            shared: std::array::from_fn(|i| to(self.shared[i])),
        }
    }

    /// All values, node by node, then those that are shared.
    #[inline(always)]
    pub fn values(&self) -> impl Iterator<Item = &T> {
        self.nodes.as_flattened().iter().chain(&self.shared)
    }

    /// The values that move where all reactions do and besides them what is named, in this order.
    #[inline(always)]
    pub fn part<const D: usize>(&self, shared: &[Shared]) -> [T; D] {
        let nodes = self.nodes.as_flattened();
        std::array::from_fn(|i| if i < nodes.len() { nodes[i] } else { self[shared[i - nodes.len()]] })
    }

    /// Sets these values.
    #[inline(always)]
    pub fn set_part<const D: usize>(&mut self, shared: &[Shared], part: &[T; D]) {
        let (nodes, others) = part.split_at(NODES * REACTING);
        self.nodes.as_flattened_mut().copy_from_slice(nodes);
        shared.iter().zip(others).for_each(|(&which, value)| self[which] = *value);
    }
}

impl<S: Scalar, const NODES: usize> State<S, NODES> {
    /// Zeros.
    #[inline(always)]
    pub fn zero() -> Self {
        State::filled(S::zero())
    }

    /// Adds another state.
    #[inline(always)]
    pub fn add(&mut self, other: &Self) {
        let nodes = self.nodes.as_flattened_mut().iter_mut();
        nodes.zip(other.nodes.as_flattened()).for_each(|(to, from)| *to += *from);
        self.shared.iter_mut().zip(&other.shared).for_each(|(to, from)| *to += *from);
    }

    /// Adds a multiple of another state.
    #[inline(always)]
    pub fn add_scaled(&mut self, factor: S, other: &Self) {
        let nodes = self.nodes.as_flattened_mut().iter_mut();
        nodes.zip(other.nodes.as_flattened()).for_each(|(to, from)| *to += factor * *from);
        self.shared.iter_mut().zip(&other.shared).for_each(|(to, from)| *to += factor * *from);
    }

    /// This state moved along `rate` for a time.
    #[inline(always)]
    pub fn moved(&self, rate: &Self, time: S) -> Self {
        let mut all = *self;
        all.add_scaled(time, rate);
        all
    }

    /// The scalar product with another state.
    #[inline(always)]
    pub fn dot(&self, other: &Self) -> S {
        let mut sum = S::zero();
        let nodes = self.nodes.as_flattened().iter().zip(other.nodes.as_flattened());
        nodes.for_each(|(a, b)| sum += *a * *b);
        self.shared.iter().zip(&other.shared).for_each(|(a, b)| sum += *a * *b);
        sum
    }
}

/// How many values move where all reactions do and besides them so many others.
pub const fn moving(nodes: usize, others: usize) -> usize {
    nodes * REACTING + others
}

/// The name of a value that moves with all reactions.
pub fn place_of(nodes: usize, shared: &[Shared], index: usize) -> Option<Place> {
    let reacting = nodes * REACTING;
    if index < reacting {
        return Some(Place::Node(index % REACTING));
    }
    shared.get(index - reacting).copied().map(Place::Shared)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::physics::kinetics::TEMP;

    #[test]
    fn a_part_is_found_again_where_it_was_set_for_any_number_of_nodes() {
        fn check<const N: usize, const D: usize>() {
            assert_eq!(D, moving(N, 2));
            let shared = [Shared::Flash, Shared::HeadspaceAir];
            let part: [f64; D] = std::array::from_fn(|i| i as f64);
            let mut state = State::<f64, N>::filled(-1.0);
            state.set_part(&shared, &part);
            assert_eq!(state.part::<D>(&shared), part);
            assert_eq!(state.nodes[N - 1][TEMP], (N * REACTING - 1) as f64);
            assert_eq!(state[Shared::HeadspaceAir], (D - 1) as f64);
            assert_eq!((state[Shared::VentLoss], state[Shared::GasLost]), (-1.0, -1.0));
            assert_eq!(place_of(N, &shared, D - 1), Some(Place::Shared(Shared::HeadspaceAir)));
            assert_eq!(place_of(N, &shared, D - 3), Some(Place::Node(TEMP)));
        }
        check::<1, { moving(1, 2) }>();
        check::<4, { moving(4, 2) }>();
    }
}
