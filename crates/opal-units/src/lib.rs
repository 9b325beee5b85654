//! Quantities that know their unit, money that is exact, spreads that know
//! their draws, and seeded streams of random numbers.
//!
//! Layer 0: nothing of opal and nothing of files in here.

mod money;
mod quantity;
mod seed;
mod shares;
mod spread;

pub use money::{Currency, Money, MoneyError};
pub use quantity::{Angle, Area, Length, Mass, SpecificGravity, Volume};
pub use seed::{Rng, Seed};
pub use spread::{Draws, Spread, SpreadError};
