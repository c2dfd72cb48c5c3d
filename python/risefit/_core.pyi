"""Types of the compiled part. Physics, units and sources are documented in the Rust crate."""

__version__: str
