//! The laws, cups and castings against published values, closed forms and themselves.

mod casting;
mod casting_slopes;
mod flow;
mod layers;
mod odd_castings;
mod reactions;
mod scale;
mod sealed;
