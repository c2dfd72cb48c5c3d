//! Numerics that know no foam: numbers that carry derivatives, integration with events, nonlinear least squares,
//! random streams, sampling.

pub mod broyden;
pub mod chi_square;
pub mod convergence;
pub mod dormand_prince;
pub mod dual;
pub mod elliptical;
pub(crate) mod events;
pub mod integrate;
pub mod jacobian;
pub mod laplace;

pub mod normal;
pub(crate) mod orthogonal;
pub mod polynomial;
pub mod quantile;
pub mod random;
pub mod rosenbrock;
pub mod sampling;
pub mod scalar;
pub mod segment;
pub mod slice;
pub mod surrogate_chains;
pub mod system;
mod tableau;
pub mod threads;
mod trajectory;
pub mod triangular;
mod warmup;

pub use dual::Dual;
pub use scalar::Scalar;
