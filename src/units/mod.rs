//! Units at the edge: names that end in a unit, and their SI values inside.
//!
//! Every number a user gives carries its unit at the end of its name: `charge_g = 62`, `vent_in = 0.125`,
//! `mix_temp_F = 73`. One table says which units each quantity takes; files and calls are read by the same table.

mod atmosphere;
mod name;
mod nearest;
mod renamed;
mod table;

pub use atmosphere::{HIGHEST_ALTITUDE, LOWEST_ALTITUDE, STANDARD_PRESSURE, standard_pressure};
pub use name::{NameFault, Reading, parse, resolve, split};
pub use nearest::nearest;
pub use renamed::renamed;
pub use table::{Quantity, Unit};
