//! Price book, costs, proceeds and the bid.
//!
//! Layer 6. Knows neither stones nor plans: what it prices is described by
//! [`StoneToPrice`] and [`WorkToDo`], filled in by `opal-job`.

mod asking;
mod bid;
mod book;
mod costs;
mod curve;
pub mod information;
mod luck;
mod own_sales;
pub mod parcel;
mod price;
mod share_of_spread;
mod tender;

pub use asking::{Asking, WAIT_BELIEVED, asking};
pub use bid::{Bid, BidError, BidLimits, Binding, at_price, bid};
pub use book::{
    BookFault, BookParts, PieceRules, PriceBook, PriceBy, PriceInterval, PriceRow, RoughRow,
    ShapeFactors,
};
pub use costs::{Costs, WorkCost, WorkToDo};
pub use curve::{Curve, CurveError};
pub use luck::LuckDraw;
pub use own_sales::{OwnSales, PriceGrounds, Sale, SalesError, Taught};
pub use price::{PriceClass, PriceError, PriceUnit, PricedStone, StoneFigures, StoneToPrice};
pub use share_of_spread::share_of_spread;
pub use tender::{PastTender, Rivals, Shaded, TenderEnd, TenderError, winners_excess};
