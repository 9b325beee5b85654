//! `opalwright-show/1` and `opalwright-list/1`: a stone as it was taken in, and
//! the stones in the store.

use super::figure::{Amount, Digits};
use opal_evidence::{Evidence, Form, Seen};
use opal_stone::{ShapeSource, Stone};
use schemars::JsonSchema;
use serde::Serialize;

/// The name of a shown stone's format, with its version.
pub const SHOW_FORMAT: &str = "opalwright-show/1";
/// The name of the list's format, with its version.
pub const LIST_FORMAT: &str = "opalwright-list/1";

/// A stone as it was taken in.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(title = "opalwright-show/1")]
pub struct ShowDoc {
    /// `opalwright-show/1`.
    pub format: String,
    /// What the cutter calls it.
    pub piece: String,
    /// Its record, where it stands in the store.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub record: Option<RecordDoc>,
    /// How it grew: `seam`, `nobby`, `boulder`, `pipe`, `matrix`, `unknown`.
    pub form: String,
    /// Where it came from.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub origin: Option<String>,
    /// What the scale said, ct.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub weighed_ct: Option<f64>,
    /// What the seller asks.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub asking: Option<Amount>,
    /// Specific gravity to count with.
    pub specific_gravity: GravityDoc,
    /// The outside.
    pub shape: ShapeDoc,
    /// The bars, main bar first.
    pub bars: Vec<BarSeenDoc>,
    /// Surfaces on which inclusions were counted.
    pub exposures: usize,
    /// Cracks that were seen.
    pub cracks: usize,
    /// What the cutter should know of how the shape was made.
    pub notes: Vec<String>,
}

/// A stone's record in the store.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct RecordDoc {
    /// Its number.
    pub number: i64,
    /// When it was taken in, RFC 3339.
    pub taken_in: String,
    /// How often its evidence was taken in.
    pub revisions: u32,
    /// True for the invented example.
    pub invented: bool,
}

/// The specific gravity to count with.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, JsonSchema)]
pub struct GravityDoc {
    /// The value.
    pub value: f64,
    /// One standard deviation.
    pub sigma: f64,
    /// False when it is the default of the form.
    pub measured: bool,
}

/// The outside.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct ShapeDoc {
    /// What it rests on: `scan`, `outline` or `callipers`.
    pub from: String,
    /// Volume, mm³, with one standard deviation.
    pub volume_mm3: [f64; 2],
    /// Weight to count with, ct, with one standard deviation.
    pub weight_ct: [f64; 2],
    /// One standard deviation of where the skin lies, mm.
    pub skin_sigma_mm: f64,
    /// Distance between the nodes of the grid, mm.
    pub cell_mm: f64,
    /// Nodes of the grid along x and y.
    pub nodes: [usize; 2],
    /// How shape, weight and specific gravity agree, in plain words.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub check: Option<String>,
    /// By how many standard deviations they stand apart.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub apart: Option<f64>,
}

/// What was seen of a bar.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct BarSeenDoc {
    /// Its name.
    pub name: String,
    /// Places where it was measured.
    pub measured: usize,
    /// Places where it is at least so thick.
    pub at_least: usize,
    /// Places where it is not.
    pub absent: usize,
    /// True when there is a quick look at it.
    pub quick_look: bool,
}

/// The stones in the store.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(title = "opalwright-list/1")]
pub struct ListDoc {
    /// `opalwright-list/1`.
    pub format: String,
    /// The stones, by number.
    pub stones: Vec<ListedDoc>,
}

/// A stone in the list.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct ListedDoc {
    /// What the cutter calls it.
    pub piece: String,
    /// Its record.
    #[serde(flatten)]
    pub record: RecordDoc,
}

/// The key of a form.
#[must_use]
pub fn form_key(form: Form) -> &'static str {
    match form {
        Form::Seam => "seam",
        Form::Nobby => "nobby",
        Form::Boulder => "boulder",
        Form::Pipe => "pipe",
        Form::Matrix => "matrix",
        Form::Unknown => "unknown",
    }
}

/// The key of what a shape rests on.
#[must_use]
pub fn shape_key(source: ShapeSource) -> &'static str {
    match source {
        ShapeSource::Scan => "scan",
        ShapeSource::Outline => "outline",
        ShapeSource::Callipers => "callipers",
    }
}

impl ShowDoc {
    /// A stone with the evidence that it was built from.
    #[must_use]
    pub fn new(evidence: &Evidence, stone: &Stone, record: Option<RecordDoc>) -> Self {
        let piece = &evidence.piece;
        let pair =
            |value: f64, sigma: f64, digits: Digits| [digits.round(value), digits.round(sigma)];
        Self {
            format: SHOW_FORMAT.to_owned(),
            piece: piece.name.clone(),
            record,
            form: form_key(piece.form).to_owned(),
            origin: piece.origin.clone(),
            weighed_ct: piece.weight.map(|w| Digits::Weight.round(w.carats())),
            asking: piece.asking.map(Amount::from),
            specific_gravity: GravityDoc {
                value: Digits::Share.round(stone.gravity.value.ratio()),
                sigma: Digits::Share.round(stone.gravity.sigma.ratio()),
                measured: stone.gravity.measured,
            },
            shape: ShapeDoc {
                from: shape_key(stone.source).to_owned(),
                volume_mm3: pair(stone.volume.0.mm3(), stone.volume.1.mm3(), Digits::Size),
                weight_ct: pair(
                    stone.weight.0.carats(),
                    stone.weight.1.carats(),
                    Digits::Weight,
                ),
                skin_sigma_mm: Digits::Length.round(stone.skin_sigma.mm()),
                cell_mm: stone.grid.cell_mm,
                nodes: [stone.grid.nx, stone.grid.ny],
                check: stone.check.as_ref().map(|check| check.verdict.clone()),
                apart: stone
                    .check
                    .as_ref()
                    .map(|check| Digits::Share.round(check.apart)),
            },
            bars: evidence
                .bars
                .iter()
                .map(|bar| {
                    let count = |wanted: fn(&Seen) -> bool| {
                        bar.sightings.iter().filter(|s| wanted(&s.seen)).count()
                    };
                    BarSeenDoc {
                        name: bar.name.clone(),
                        measured: count(|seen| matches!(seen, Seen::Measured { .. })),
                        at_least: count(|seen| matches!(seen, Seen::AtLeast { .. })),
                        absent: count(|seen| matches!(seen, Seen::Absent)),
                        quick_look: bar.quick.is_some(),
                    }
                })
                .collect(),
            exposures: evidence.exposures.len(),
            cracks: evidence.cracks.len(),
            notes: stone.notes.clone(),
        }
    }
}
