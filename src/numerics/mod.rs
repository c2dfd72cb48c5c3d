//! Numerics that know no foam: numbers that carry derivatives, a stiff integrator with events, nonlinear least squares.

pub mod dual;
pub mod lanes;
pub mod least_squares;
pub mod rosenbrock;
pub mod scalar;
mod tableau;

pub use dual::Dual;
pub use scalar::Scalar;
