//! What can happen to a stone at the bench.
//!
//! Events are only ever added. A mistake is put right by a counter-event that
//! undoes an earlier one; both stay on record.

use opal_evidence::{Reading, SpeckKind};
use opal_geom::CutPlane;
use opal_stone::Spot;
use opal_units::{Angle, Area, Length, Mass};

/// Where the stone was ground.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Ground {
    /// From above, along the face as it is, everywhere or in one spot.
    Face(Option<Spot>),
    /// From above, flat: the depth is told at the highest place.
    Flat,
    /// From below, everywhere or in one spot.
    Back(Option<Spot>),
    /// From the side that looks this way, seen from above.
    Side {
        /// Direction in the stone frame; any length above 0.
        toward: [f64; 2],
    },
}

/// How it was told how much came off.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Removed {
    /// By callipers: at the deepest place.
    Depth(Length),
    /// By the scale, before and after.
    Weights {
        /// Before.
        before: Mass,
        /// After, dried off.
        after: Mass,
    },
}

/// One thing seen at one place.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Sight {
    /// The top of the bar, in the stone frame.
    BarTop(Reading),
    /// How thick the bar is, from its own top.
    Thickness(Reading),
    /// How much colour is left below the face.
    ColourLeft(Reading),
    /// The bar is at least this thick.
    AtLeast(Length),
    /// No colour here, all the way down.
    Absent,
    /// The face shows potch here: the bar, if there is one, lies deeper.
    StillCovered,
    /// A speck on the face.
    Speck {
        /// What it is.
        kind: SpeckKind,
        /// How large its section is.
        diameter: Length,
    },
    /// A crack that runs from here to there.
    Crack {
        /// Its other end, mm.
        to_mm: [f64; 2],
        /// Dip below the horizontal.
        dip: Angle,
        /// How deep it reaches, as far as the loupe tells.
        depth: Length,
    },
    /// The torch shows a milky haze.
    Hazy,
    /// Looked over and nothing found.
    Clean {
        /// How much was looked at; the whole face where not told.
        area: Option<Area>,
        /// The smallest speck that would have been seen.
        smallest_seen: Length,
    },
}

/// One event.
#[derive(Clone, Debug, PartialEq)]
pub enum Event {
    /// It was weighed.
    Weighed(Mass),
    /// It was sawn. The side that the plane's normal points to came off.
    Sawn {
        /// The face of the cut that stays with the stone.
        plane: CutPlane,
        /// What the blade took.
        kerf: Length,
        /// What the piece that came off is called; `None` where it was waste.
        offcut: Option<String>,
    },
    /// It was ground.
    Ground {
        /// Where.
        place: Ground,
        /// How much.
        removed: Removed,
    },
    /// A window was ground into the skin.
    WindowOpened {
        /// Where and how wide.
        spot: Spot,
        /// How deep.
        depth: Length,
    },
    /// Something was seen of a bar, or on the face.
    Seen {
        /// Which bar, counted from 0, the main bar first.
        bar: usize,
        /// Where, mm.
        at_mm: [f64; 2],
        /// What.
        what: Sight,
    },
    /// Another wheel.
    WheelChanged {
        /// The new one's name.
        to: String,
        /// Minutes that the last one ran.
        minutes_on_the_last: Option<f64>,
    },
    /// A photo was taken.
    Photo {
        /// Its file.
        file: String,
        /// Its SHA-256, lower-case hexadecimal, where it was worked out.
        sha256: Option<String>,
    },
    /// Anything worth keeping.
    Note(String),
    /// It was dropped.
    Dropped,
    /// It broke.
    Broken {
        /// Along which plane; the side that its normal points to is gone.
        /// `None`: into pieces that need looking over anew.
        along: Option<CutPlane>,
        /// What the other piece is called, where it is kept.
        other: Option<String>,
    },
    /// An earlier event is undone.
    Undone {
        /// Its number, counted from 1.
        event: usize,
    },
}
