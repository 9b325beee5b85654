//! The piece as a whole.

use opal_units::{Mass, Money, SpecificGravity};

/// How the rough grew, in the trade's words.
#[derive(Clone, Copy, Debug, Default, Eq, Hash, PartialEq)]
pub enum Form {
    /// A sheet in a joint; bars lie flat, slightly wavy.
    Seam,
    /// A lump with the bar inside.
    Nobby,
    /// A vein in ironstone.
    Boulder,
    /// A rod in sandstone.
    Pipe,
    /// Opal spread through a host rock.
    Matrix,
    /// Not known.
    #[default]
    Unknown,
}

/// The specific gravity to count with, and how sure it is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct GravityEstimate {
    /// The value.
    pub value: SpecificGravity,
    /// One standard deviation.
    pub sigma: SpecificGravity,
    /// True when somebody measured it; false when it is the default of the form.
    pub measured: bool,
}

/// Name, form, origin, weight, asking price.
#[derive(Clone, Debug, PartialEq)]
pub struct Piece {
    /// What the cutter calls it.
    pub name: String,
    /// How it grew.
    pub form: Form,
    /// Where it came from; the ledger groups by it.
    pub origin: Option<String>,
    /// What the scale said.
    pub weight: Option<Mass>,
    /// What to count with; the default of the form where none was measured.
    pub gravity: GravityEstimate,
    /// What the seller asks.
    pub asking: Option<Money>,
}
