//! Numerics against closed forms and certified answers.

mod least_squares;
mod nist_strd;
mod sampling;
