//! The rough as a layered solid, checked against its weight.
//!
//! Layer 3. Built from a scan, an outline with heights, or three calliper
//! sizes; whatever it was built from, the steps after it see the same thing.

mod callipers;
mod drawing;
mod grid_choice;
mod layered;
mod outline;
mod scan;
mod stone;
mod superellipsoid;
mod thin_plate;
mod weight;
mod worked;

pub use grid_choice::GridChoice;
pub use layered::SectionPoint;
pub use stone::{Departure, ShapeSource, Stone};
pub use weight::WeightCheck;
pub use worked::Spot;
