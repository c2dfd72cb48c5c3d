//! Python bindings: convert, call with the GIL released, convert.
