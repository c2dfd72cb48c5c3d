//! Numerics that know no foam.
