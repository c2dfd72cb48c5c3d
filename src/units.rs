//! Units at the edge: names that end in a unit, and their SI values inside.
