//! The state of a casting by name: a block of values for every layer of foam, and the values that all layers share.
//!
//! No length and no position stands anywhere else. A state has as many layers as its type says.

use std::ops::{Index, IndexMut};

use crate::numerics::Scalar;
use crate::physics::kinetics::REACTING;

/// A value that all layers share.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Shared {
    /// Air in the headspace, mol.
    HeadspaceAir,
    /// Foam that left through vents, kg.
    VentLoss,
    /// Foam that left through the parting line or a leak, kg.
    Flash,
}

/// How many values all layers share.
pub const SHARED_COUNT: usize = 3;

/// One value per place of a state: the state itself, its rates, a gradient; and with states for values, a Jacobian row
/// by row.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct State<T, const NODES: usize> {
    /// Of each layer the turnovers of blowing and of gelling and the temperature (K); places as in `physics::kinetics`.
    pub nodes: [[T; REACTING]; NODES],
    /// Of each layer the gas lost from opened cells, mol.
    pub lost: [T; NODES],
    shared: [T; SHARED_COUNT],
}

/// Derivatives by the state, row by row.
pub type Jacobian<S, const NODES: usize> = State<State<S, NODES>, NODES>;

/// A place in a state.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Place {
    /// Of a layer's reactions: the place in its block.
    Node(usize),
    /// The gas that a layer lost.
    Lost,
    /// A value that all layers share.
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
        State { nodes: [[value; REACTING]; NODES], lost: [value; NODES], shared: [value; SHARED_COUNT] }
    }

    /// All layers alike, and the same value for all else.
    pub fn uniform(node: [T; REACTING], other: T) -> Self {
        State { nodes: [node; NODES], ..State::filled(other) }
    }

    /// Every value in another kind.
    #[inline(always)]
    pub fn map<U>(&self, to: impl Fn(T) -> U) -> State<U, NODES> {
        State {
            nodes: std::array::from_fn(|i| std::array::from_fn(|k| to(self.nodes[i][k]))),
            lost: std::array::from_fn(|i| to(self.lost[i])),
            shared: std::array::from_fn(|i| to(self.shared[i])),
        }
    }

    /// All values: reactions layer by layer, gas lost layer by layer, then what they share.
    #[inline(always)]
    pub fn values(&self) -> impl Iterator<Item = &T> {
        self.nodes.as_flattened().iter().chain(&self.lost).chain(&self.shared)
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
        self.lost.iter_mut().zip(&other.lost).for_each(|(to, from)| *to += *from);
        self.shared.iter_mut().zip(&other.shared).for_each(|(to, from)| *to += *from);
    }

    /// Adds a multiple of another state.
    #[inline(always)]
    pub fn add_scaled(&mut self, factor: S, other: &Self) {
        let nodes = self.nodes.as_flattened_mut().iter_mut();
        nodes.zip(other.nodes.as_flattened()).for_each(|(to, from)| *to += factor * *from);
        self.lost.iter_mut().zip(&other.lost).for_each(|(to, from)| *to += factor * *from);
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
        self.lost.iter().zip(&other.lost).for_each(|(a, b)| sum += *a * *b);
        self.shared.iter().zip(&other.shared).for_each(|(a, b)| sum += *a * *b);
        sum
    }
}

/// What moves besides the reactions.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Beside {
    /// Of what the layers share, in this order.
    pub shared: &'static [Shared],
    /// Whether layers lose gas.
    pub gas_lost: bool,
}

impl Beside {
    /// Reactions only.
    pub const NOTHING: Beside = Beside::shared(&[]);
    /// The gas that each layer loses.
    pub const GAS: Beside = Beside { shared: &[], gas_lost: true };

    /// What is named.
    pub const fn shared(shared: &'static [Shared]) -> Self {
        Beside { shared, gas_lost: false }
    }

    /// Whether it is nothing.
    pub fn is_empty(&self) -> bool {
        self.shared.is_empty() && !self.gas_lost
    }
}

/// How many values move where all reactions do and so many values besides that layers share.
pub const fn moving(nodes: usize, shared: usize) -> usize {
    nodes * REACTING + shared
}

/// How many values move where all reactions do and each layer loses gas.
pub const fn moving_gas(nodes: usize) -> usize {
    nodes * (REACTING + 1)
}

/// What moves: all reactions, and what is named besides.
///
/// Places stand in a table, not in the code, so that values are copied one by one: a block that was just written number
/// by number would be waited for if it were read in one piece.
#[derive(Clone, Copy, Debug)]
pub struct Moving<const D: usize, const NODES: usize> {
    beside: Beside,
    /// Places among all layers' values, then among those of the gas lost or of what is shared.
    places: [usize; D],
}

impl<const D: usize, const NODES: usize> Moving<D, NODES> {
    /// How many values the reactions are.
    const REACTIONS: usize = NODES * REACTING;

    /// All reactions and what is named: as many as `D` says.
    pub fn new(beside: Beside) -> Self {
        debug_assert_eq!(D, if beside.gas_lost { moving_gas(NODES) } else { moving(NODES, beside.shared.len()) });
        let place = |i: usize| match beside.gas_lost {
            true => i,
            false => beside.shared.get(i).map_or(0, |which| *which as usize),
        };
        let places = |i: usize| if i < Self::REACTIONS { i } else { place(i - Self::REACTIONS) };
        Moving { beside, places: std::array::from_fn(places) }
    }

    /// What moves besides the reactions.
    pub fn beside(&self) -> Beside {
        self.beside
    }

    /// Where a value stands among what moves.
    pub fn slot(&self, which: Shared) -> Option<usize> {
        self.beside.shared.iter().position(|other| *other == which).map(|at| Self::REACTIONS + at)
    }

    /// The name of what moves at this place.
    pub fn name(&self, slot: usize) -> Option<Place> {
        match slot.checked_sub(Self::REACTIONS) {
            Some(_) if self.beside.gas_lost => Some(Place::Lost),
            Some(other) => self.beside.shared.get(other).copied().map(Place::Shared),
            None => Some(Place::Node(slot % REACTING)),
        }
    }

    /// The values that move.
    #[inline(always)]
    pub fn of<T: Copy>(&self, state: &State<T, NODES>) -> [T; D] {
        let nodes = state.nodes.as_flattened();
        let beside: &[T] = if self.beside.gas_lost { &state.lost } else { &state.shared };
        let at = |i: usize| if i < Self::REACTIONS { nodes[self.places[i]] } else { beside[self.places[i]] };
        std::array::from_fn(at)
    }

    /// Sets them.
    #[inline(always)]
    pub fn set<T: Copy>(&self, state: &mut State<T, NODES>, values: &[T; D]) {
        let nodes = state.nodes.as_flattened_mut();
        let beside: &mut [T] = if self.beside.gas_lost { &mut state.lost } else { &mut state.shared };
        for (i, value) in values.iter().enumerate() {
            *if i < Self::REACTIONS { &mut nodes[self.places[i]] } else { &mut beside[self.places[i]] } = *value;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::physics::kinetics::TEMP;

    fn part_and_whole<const N: usize, const D: usize>(moves: &Moving<D, N>) -> State<f64, N> {
        let part: [f64; D] = std::array::from_fn(|i| i as f64);
        let mut state = State::<f64, N>::filled(-1.0);
        moves.set(&mut state, &part);
        assert_eq!(moves.of(&state), part);
        assert_eq!(state.nodes[N - 1][TEMP], (N * REACTING - 1) as f64);
        state
    }

    #[test]
    fn a_part_is_found_again_where_it_was_set_for_any_number_of_layers() {
        fn check<const N: usize, const D: usize, const G: usize>() {
            let moves = Moving::<D, N>::new(Beside::shared(&[Shared::Flash, Shared::HeadspaceAir]));
            let state = part_and_whole(&moves);
            assert_eq!(state[Shared::HeadspaceAir], (D - 1) as f64);
            assert_eq!((state[Shared::VentLoss], state.lost), (-1.0, [-1.0; N]));
            assert_eq!(moves.slot(Shared::HeadspaceAir), Some(D - 1));
            assert_eq!(moves.name(D - 1), Some(Place::Shared(Shared::HeadspaceAir)));
            assert_eq!(moves.name(D - 3), Some(Place::Node(TEMP)));
            let moves = Moving::<G, N>::new(Beside::GAS);
            let state = part_and_whole(&moves);
            assert_eq!((state.lost[N - 1], state[Shared::VentLoss]), ((G - 1) as f64, -1.0));
            assert_eq!((moves.name(G - 1), moves.name(G - N - 1)), (Some(Place::Lost), Some(Place::Node(TEMP))));
        }
        check::<1, { moving(1, 2) }, { moving_gas(1) }>();
        check::<4, { moving(4, 2) }, { moving_gas(4) }>();
    }
}
