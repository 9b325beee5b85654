//! The piece as a whole.

use opal_reference::gravity;
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

impl Form {
    /// All forms.
    pub const ALL: [Self; 6] = [
        Self::Seam,
        Self::Nobby,
        Self::Boulder,
        Self::Pipe,
        Self::Matrix,
        Self::Unknown,
    ];

    /// Its word, as files and pages write it.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Seam => "seam",
            Self::Nobby => "nobby",
            Self::Boulder => "boulder",
            Self::Pipe => "pipe",
            Self::Matrix => "matrix",
            Self::Unknown => "unknown",
        }
    }
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

impl GravityEstimate {
    /// What to count with for a form before anything was measured.
    #[must_use]
    pub fn default_for(form: Form) -> Self {
        let row = gravity::of(form.word()).expect("every form has a row; a test checks it");
        Self {
            value: row.value(),
            sigma: row.sigma(),
            measured: false,
        }
    }
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_form_has_a_specific_gravity() {
        for form in Form::ALL {
            let gravity = GravityEstimate::default_for(form);
            assert!((1.5..3.5).contains(&gravity.value.ratio()), "{form:?}");
            assert!(!gravity.measured);
        }
    }
}
