//! Reports: text, charts and pages.

mod fits;
mod report;
