//! Price book, costs, proceeds and the bid.
//!
//! Layer 6. Knows neither stones nor plans: what it prices is described by
//! [`StoneToPrice`], filled in by `opal-job`.

mod bid;
mod book;

pub use bid::{Bid, BidError, BidLimits, Binding};
pub use book::{PriceBook, PriceUnit, PricedStone, StoneToPrice};
