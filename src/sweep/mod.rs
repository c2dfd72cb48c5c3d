//! Sweeps: castings over a grid of settings, as a pure function of the points' numbers. Blocks of points can be run on as
//! many threads, processes or machines as there are: the numbers are the same to the last bit.

mod axis;
mod block;
mod case;
mod grid;
mod run;

pub use axis::Axis;
pub use block::{Block, Judgment, Row};
pub use case::{Case, Slips};
pub use grid::Sweep;
pub use run::{Control, Runner};
