//! `opalwright-kept/1`: what was kept at the counter.

use schemars::JsonSchema;
use serde::Serialize;

/// The name of the format, with its version.
pub const KEPT_FORMAT: &str = "opalwright-kept/1";

/// What was kept at the counter, the stones touched last first.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(title = "opalwright-kept/1")]
pub struct KeptDoc {
    /// `opalwright-kept/1`.
    pub format: String,
    /// The stones.
    pub stones: Vec<KeptStoneDoc>,
}

/// A stone with what was kept of it.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct KeptStoneDoc {
    /// Its number in the store.
    pub number: i64,
    /// What it is called.
    pub stone: String,
    /// Whose it is; absent for the cutter's own.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub customer: Option<String>,
    /// Readings, oldest first.
    pub readings: Vec<KeptReadingsDoc>,
    /// Printed cards, oldest first.
    pub cards: Vec<KeptCardDoc>,
}

/// Readings as they were kept.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct KeptReadingsDoc {
    /// When they were kept (RFC 3339).
    pub at: String,
    /// What their file was called.
    pub file: String,
    /// Fingerprint of their text.
    pub fingerprint: String,
    /// Everybody who looked.
    pub by: Vec<String>,
    /// The photos that were kept with them.
    pub photos: Vec<PhotoDoc>,
}

/// A photo that was kept.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct PhotoDoc {
    /// The name by which the readings call it.
    pub name: String,
    /// SHA-256 of its bytes, hexadecimal.
    pub sha256: String,
}

/// A card as it was printed.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct KeptCardDoc {
    /// When it was printed (RFC 3339).
    pub at: String,
    /// Key of the market.
    pub market: String,
    /// Name of the market.
    pub market_name: String,
    /// What it names the stone as.
    pub title: String,
    /// Fingerprint of the printed bytes.
    pub fingerprint: String,
    /// Fingerprint of the readings that it rests on.
    pub readings: String,
    /// The version that made it.
    pub version: String,
}

impl KeptDoc {
    /// The document of these stones.
    #[must_use]
    pub fn new(stones: Vec<KeptStoneDoc>) -> Self {
        Self {
            format: KEPT_FORMAT.to_owned(),
            stones,
        }
    }
}
