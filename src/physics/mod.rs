//! The rise and pressure model.
