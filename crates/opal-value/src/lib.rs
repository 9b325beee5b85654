//! Price book, costs, proceeds and the bid.
//!
//! Layer 6. Knows neither stones nor plans: what it prices is described by
//! [`StoneToPrice`] and [`WorkToDo`], filled in by `opal-job`.

mod bid;
mod book;
mod costs;
mod curve;
pub mod information;
mod luck;
mod price;
mod share_of_spread;

pub use bid::{Bid, BidError, BidLimits, Binding, at_price, bid};
pub use book::{
    BookFault, BookParts, PieceRules, PriceBook, PriceBy, PriceInterval, PriceRow, RoughRow,
    ShapeFactors,
};
pub use costs::{Costs, WorkCost, WorkToDo};
pub use curve::{Curve, CurveError};
pub use luck::LuckDraw;
pub use price::{PriceClass, PriceError, PriceUnit, PricedStone, StoneFigures, StoneToPrice};
pub use share_of_spread::share_of_spread;
