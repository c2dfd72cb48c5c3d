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

/// What moves: all reactions, and besides them what is named, in this order.
///
/// Places stand in a table, not in the code, so that values are copied one by one: a block that was just written number by
/// number would be waited for if it were read in one piece.
#[derive(Clone, Copy, Debug)]
pub struct Moving<const D: usize, const NODES: usize> {
    others: &'static [Shared],
    /// Places among all nodes' values, then among the shared ones.
    places: [usize; D],
}

impl<const D: usize, const NODES: usize> Moving<D, NODES> {
    /// How many values the reactions are.
    const REACTIONS: usize = NODES * REACTING;

    /// All reactions and what is named: as many as `D` says.
    pub fn new(others: &'static [Shared]) -> Self {
        debug_assert_eq!(D, moving(NODES, others.len()));
        let place = |i: usize| others.get(i - Self::REACTIONS).map_or(0, |which| *which as usize);
        Moving { others, places: std::array::from_fn(|i| if i < Self::REACTIONS { i } else { place(i) }) }
    }

    /// What moves besides the reactions.
    pub fn others(&self) -> &'static [Shared] {
        self.others
    }

    /// Where a value stands among what moves.
    pub fn slot(&self, which: Shared) -> Option<usize> {
        self.others.iter().position(|other| *other == which).map(|at| Self::REACTIONS + at)
    }

    /// The name of what moves at this place.
    pub fn name(&self, slot: usize) -> Option<Place> {
        match slot.checked_sub(Self::REACTIONS) {
            Some(other) => self.others.get(other).copied().map(Place::Shared),
            None => Some(Place::Node(slot % REACTING)),
        }
    }

    /// The values that move.
    #[inline(always)]
    pub fn of<T: Copy>(&self, state: &State<T, NODES>) -> [T; D] {
        let nodes = state.nodes.as_flattened();
        let at = |i: usize| if i < Self::REACTIONS { nodes[self.places[i]] } else { state.shared[self.places[i]] };
        std::array::from_fn(at)
    }

    /// Sets them.
    #[inline(always)]
    pub fn set<T: Copy>(&self, state: &mut State<T, NODES>, values: &[T; D]) {
        let nodes = state.nodes.as_flattened_mut();
        for (i, value) in values.iter().enumerate() {
            *if i < Self::REACTIONS { &mut nodes[self.places[i]] } else { &mut state.shared[self.places[i]] } = *value;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::physics::kinetics::TEMP;

    #[test]
    fn a_part_is_found_again_where_it_was_set_for_any_number_of_nodes() {
        fn check<const N: usize, const D: usize>() {
            assert_eq!(D, moving(N, 2));
            let moves = Moving::<D, N>::new(&[Shared::Flash, Shared::HeadspaceAir]);
            let part: [f64; D] = std::array::from_fn(|i| i as f64);
            let mut state = State::<f64, N>::filled(-1.0);
            moves.set(&mut state, &part);
            assert_eq!(moves.of(&state), part);
            assert_eq!(state.nodes[N - 1][TEMP], (N * REACTING - 1) as f64);
            assert_eq!(state[Shared::HeadspaceAir], (D - 1) as f64);
            assert_eq!((state[Shared::VentLoss], state[Shared::GasLost]), (-1.0, -1.0));
            assert_eq!(moves.slot(Shared::HeadspaceAir), Some(D - 1));
            assert_eq!(moves.name(D - 1), Some(Place::Shared(Shared::HeadspaceAir)));
            assert_eq!(moves.name(D - 3), Some(Place::Node(TEMP)));
        }
        check::<1, { moving(1, 2) }>();
        check::<4, { moving(4, 2) }>();
    }
}
