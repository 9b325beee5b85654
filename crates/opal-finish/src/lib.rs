//! From the rough-ground face to the polish: which wheel when, how deep, how long.
//!
//! Layer 6. A wheel is described by its grain in micrometres, never by its
//! number alone ("600" is four different sizes); the damage it leaves and the
//! rate at which it removes stone are beliefs with a spread, which the cutter's
//! own log sharpens.

mod belief;
mod damage;
mod drying;
mod saw_or_grind;
mod schedule;
mod wheel;
mod wheel_set;

pub use belief::LogBelief;
pub use damage::{damage_belief, damage_bounds};
pub use drying::{Drying, DryingError, DryingSpread, Weighing};
pub use saw_or_grind::{SawOrGrind, SawSide};
pub use schedule::{HandOver, Schedule, ScheduleAsk, ScheduleError};
pub use wheel::{Grain, GritScale, STINT_FACTOR, Wear, Wheel, usual_wheels};
pub use wheel_set::{Saw, WheelSet};
