//! Converters: what comes in from Python, what goes back, calls with the interpreter lock released. They know no
//! record.

pub mod attributes;
pub mod call;
pub mod errors;
pub mod pickle;
pub mod report;
pub mod rows;

mod arguments;
mod arrays;
mod predicted;

pub use arguments::{number, numbers, numbers_with_gaps, one_or_several, quantities};
pub use arrays::{array, cube, frame, frame_of_rows, matrix};
pub use predicted::PyPredicted;
