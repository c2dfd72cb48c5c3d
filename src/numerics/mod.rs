//! Numerics that know no foam.

pub mod least_squares;
