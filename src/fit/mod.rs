//! Fits of the model to records.
