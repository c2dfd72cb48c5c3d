//! Sweeps, diagnoses and proposals: what follows from a fit.

mod decide;
mod diagnose;
mod sweep;
