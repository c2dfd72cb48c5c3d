//! What all benchmarks share: the plain casting, castings in odd corners, and a clock.

pub mod clock;
pub mod corner;
pub mod dice;
pub mod plain;
pub mod slopes;
