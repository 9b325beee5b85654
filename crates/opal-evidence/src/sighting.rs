//! Where a bar was seen, measured, or found missing.

use opal_units::Length;

/// A length that was read, with one standard deviation.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Reading {
    /// What was read.
    pub value: Length,
    /// One standard deviation of the reading.
    pub sigma: Length,
}

/// What was seen of a bar at one place. An unreadable skin is no sighting:
/// it is left out, never entered as absence.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Seen {
    /// Some of top, bottom and thickness were read; at least one is there.
    Measured {
        /// Height of the bar's top.
        top: Option<Reading>,
        /// Height of its bottom.
        bottom: Option<Reading>,
        /// Thickness.
        thickness: Option<Reading>,
    },
    /// The bar is at least this thick here. Zero: it is here, nothing was measured.
    AtLeast {
        /// The least thickness.
        thickness: Length,
        /// Height of the top, where it was read too.
        top: Option<Reading>,
    },
    /// No colour here.
    Absent,
}

/// One look at a bar.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sighting {
    /// Where, in the stone frame, mm.
    pub at_mm: [f64; 2],
    /// What.
    pub seen: Seen,
}

/// What a 30-second look says of a bar.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct QuickBar {
    /// About how thick.
    pub thickness: Reading,
    /// On what share of the edge it shows, 0..=1.
    pub edge_share: f64,
    /// About how high above the underside its top lies, where that was judged.
    pub top: Option<Reading>,
}

/// All that is known of one bar.
#[derive(Clone, Debug, PartialEq)]
pub struct BarEvidence {
    /// What the cutter calls it.
    pub name: String,
    /// Looks at single places.
    pub sightings: Vec<Sighting>,
    /// The quick look, when that is all there is or beside the sightings.
    pub quick: Option<QuickBar>,
}
