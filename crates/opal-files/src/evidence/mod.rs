//! The evidence file `opalwright-evidence/1`: TOML in, JSON equal.
//!
//! See `docs/schema/evidence-1.schema.json` for its fields. A file is taken
//! whole or not at all; what is wrong with it is listed all at once.

mod attachments;
mod check;
mod convert;
mod shape;
mod words;
mod write;

pub use attachments::{Attachments, Folder, NoAttachments};
pub use write::{evidence_to_json, evidence_to_toml};

use crate::document::{self, MOST_BYTES, Read};
use opal_evidence::{Evidence, Fault, Faults};
use shape::EvidenceFile;
use std::path::Path;

/// The format's name and version.
pub const EVIDENCE_FORMAT: &str = "opalwright-evidence/1";

/// Reads an evidence file from its bytes. `name` is shown in faults and tells
/// JSON from TOML; `attachments` gives the scan, where one is named.
///
/// # Errors
/// Everything that is wrong, with file, line, field, value and limit.
pub fn read_evidence(
    name: &str,
    bytes: &[u8],
    attachments: &dyn Attachments,
) -> Result<Evidence, Faults> {
    let Read { shape, mut faults } = document::read::<EvidenceFile>(name, bytes);
    let evidence = shape.and_then(|file| convert::evidence(&file, attachments, &mut faults));
    match (faults.into_faults(), evidence) {
        (None, Some(evidence)) => Ok(evidence),
        (Some(faults), _) => Err(faults),
        (None, None) => Err(Fault::new("the file", "not understood", "see the schema").into()),
    }
}

/// Reads an evidence file from disk; a scan is looked for beside and below it.
///
/// # Errors
/// As [`read_evidence`]; also when the file cannot be opened.
pub fn read_evidence_file(path: &Path) -> Result<Evidence, Faults> {
    let name = path.display().to_string();
    let bytes = attachments::bounded(path, MOST_BYTES as u64).map_err(|why| {
        let mut fault = Fault::new("the file", "not readable", why);
        fault.file = Some(name.clone());
        fault
    })?;
    let folder = match path.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => Folder::new(parent),
        _ => Folder::new("."),
    };
    read_evidence(&name, &bytes, &folder)
}

/// The JSON Schema of the evidence file, made from the shapes that read it.
#[must_use]
pub fn evidence_schema() -> serde_json::Value {
    schemars::schema_for!(EvidenceFile).to_value()
}
