//! The cutter's own prices.

use opal_units::{Area, Length, Mass};

/// What a price is named by.
#[derive(Clone, Copy, Debug, Eq, Hash, PartialEq)]
pub enum PriceUnit {
    /// By the carat.
    Carat,
    /// By the piece.
    Piece,
}

/// A stone as far as its price goes. Words are keys of the price book
/// (`light`, `bright`, `oval`, `specimen`, …).
#[derive(Clone, Debug, PartialEq)]
pub struct StoneToPrice {
    /// Variety key.
    pub variety: String,
    /// Brightness key.
    pub brightness: String,
    /// Shape family key: a standard family, `freeform` or `specimen`.
    pub shape: String,
    /// True when a setting of that size is stocked.
    pub standard_size: bool,
    /// Finished weight.
    pub weight: Mass,
    /// Face area.
    pub face: Area,
    /// Longer size of the face.
    pub length: Length,
    /// Thickness of the whole stone.
    pub thickness: Length,
    /// Mean thickness of colour.
    pub colour_thickness: Length,
    /// Clean share of the face.
    pub clean_share: f64,
    /// False when it broke.
    pub whole: bool,
}

/// What a stone would fetch.
#[derive(Clone, Debug, PartialEq)]
pub struct PricedStone {
    /// Major units of the book's currency.
    pub amount: f64,
    /// How it should be priced.
    pub unit: PriceUnit,
    /// Weight counted at the accepted thickness.
    pub counted_weight: Mass,
    /// Why, in plain words.
    pub why: Vec<String>,
}

/// The cutter's own table; filled from `prices.toml` by `opal-files`.
#[derive(Clone, Debug, PartialEq)]
pub struct PriceBook {
    /// Its currency.
    pub currency: opal_units::Currency,
}
