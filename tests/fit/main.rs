//! Fits: the truth comes back, errors are as large as stated, posteriors are calibrated.

mod blank_log;
mod blank_trial;
mod coverage_priors;
mod datasheet;
mod demo;
mod dice;
mod drawn_shop;
mod draws;
mod posterior;
mod quick_curve;
mod ranks;
mod recovery;
mod scale;
mod scattered;
mod shop;
mod simulated_castings;
mod simulated_cups;
