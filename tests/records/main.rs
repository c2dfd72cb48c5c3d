//! Files and units: what is read, what is refused and with which words.

mod bad_records;
mod records;
mod units;
