//! Studies of how well forecasts do on invented stones with known insides.
//!
//! Layer 9. Nothing here is used to make a forecast.

mod calibration;
mod invented;
mod tally;

pub use calibration::{CalibrationOptions, CalibrationReport, Cell, Evidenced, calibration};
pub use invented::{InventedStone, invented_stone};
pub use tally::Tally;
