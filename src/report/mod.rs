//! Reports and charts.
