//! What is kept of a stone: evidence as it was taken in, runs, events.

use crate::ledger::KeptEntry;
use jiff::Timestamp;
use opal_units::Seed;
use sha2::{Digest, Sha256};
use std::fmt;

/// The number of a stone in its store, counted from 1.
#[derive(Clone, Copy, Debug, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub struct StoneNo(pub i64);

impl fmt::Display for StoneNo {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.0)
    }
}

/// How an evidence file is written.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum Syntax {
    /// TOML.
    Toml,
    /// JSON.
    Json,
}

impl Syntax {
    /// The word that records use.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Toml => "toml",
            Self::Json => "json",
        }
    }

    /// From the word that records use.
    #[must_use]
    pub fn from_word(word: &str) -> Option<Self> {
        match word {
            "toml" => Some(Self::Toml),
            "json" => Some(Self::Json),
            _ => None,
        }
    }
}

/// A mesh file that an evidence file refers to.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct MeshFile {
    /// The name by which the evidence refers to it.
    pub name: String,
    /// Its bytes, untouched.
    pub bytes: Vec<u8>,
}

/// An evidence file with everything it refers to, exactly as it came.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct EvidenceFile {
    /// What it was called.
    pub file_name: String,
    /// How it is written.
    pub syntax: Syntax,
    /// Its text, untouched.
    pub text: String,
    /// The meshes it refers to.
    pub meshes: Vec<MeshFile>,
}

impl EvidenceFile {
    /// The fingerprint of the text and of every mesh: same evidence, same
    /// fingerprint.
    #[must_use]
    pub fn fingerprint(&self) -> String {
        let mut parts: Vec<&[u8]> = vec![self.syntax.word().as_bytes(), self.text.as_bytes()];
        for mesh in &self.meshes {
            parts.push(mesh.name.as_bytes());
            parts.push(&mesh.bytes);
        }
        fingerprint(&parts)
    }
}

/// SHA-256 (FIPS 180-4) over parts, each preceded by its length so that no two
/// lists of parts share one; lower-case hexadecimal.
#[must_use]
pub fn fingerprint(parts: &[&[u8]]) -> String {
    let mut hash = Sha256::new();
    for part in parts {
        hash.update((part.len() as u64).to_le_bytes());
        hash.update(part);
    }
    hexadecimal(&hash.finalize())
}

/// A stone in the store.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct StoneRecord {
    /// Its number here.
    pub no: StoneNo,
    /// Its mark for life: stays the same when it moves to another store.
    pub mark: String,
    /// What the cutter calls it; unique in a store, capitals aside.
    pub name: String,
    /// When it was taken in.
    pub taken_in: Timestamp,
    /// True when it is the invented example.
    pub invented: bool,
    /// How often its evidence was taken in.
    pub revisions: u32,
}

/// One revision of a stone's evidence.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct EvidenceRecord {
    /// Counted from 1; the highest one counts.
    pub revision: u32,
    /// When it was taken in.
    pub taken_in: Timestamp,
    /// The file and its meshes.
    pub file: EvidenceFile,
}

/// A result to keep.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct NewRun {
    /// Which use case: `interior`, `plan`, `bid`, ….
    pub what: String,
    /// Fingerprint of everything that it rests on.
    pub inputs: String,
    /// What its draws started from.
    pub seed: Seed,
    /// How many interiors.
    pub n_interiors: u64,
    /// The version that made it.
    pub version: String,
    /// The answer in its machine form (JSON).
    pub output: String,
}

/// A result that was kept.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct RunRecord {
    /// When.
    pub at: Timestamp,
    /// What.
    pub run: NewRun,
}

/// Something that happened to a stone.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct NewEvent {
    /// Which kind; later versions add kinds, none is ever renamed.
    pub kind: String,
    /// Its particulars (a JSON object).
    pub body: String,
}

/// Something that happened to a stone, as it was logged.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct EventRecord {
    /// When.
    pub at: Timestamp,
    /// What.
    pub event: NewEvent,
}

/// One thing that happened with all that goes on record of it.
#[derive(Clone, Debug, Default, Eq, PartialEq)]
pub struct Happening {
    /// Events of stones that stand in the store.
    pub events: Vec<(StoneNo, NewEvent)>,
    /// Stones that came of it.
    pub stones: Vec<NewStone>,
    /// What it moved in the books.
    pub entries: Vec<KeptEntry>,
}

/// The mark of a stone by what it was at birth: two stores never give the same one
/// to two stones, and no randomness is needed.
#[must_use]
pub fn birth_mark(name: &str, now: Timestamp, file: &EvidenceFile) -> String {
    let (moment, file) = (now.to_string(), file.fingerprint());
    let mut mark = fingerprint(&[name, &moment, &file].map(str::as_bytes));
    mark.truncate(MARK_CHARS);
    mark
}

/// Characters of a mark. Chosen: 128 bits.
const MARK_CHARS: usize = 32;

/// A stone that came of another.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct NewStone {
    /// What it is called.
    pub name: String,
    /// True when it came of the invented example.
    pub invented: bool,
    /// What is known of it.
    pub file: EvidenceFile,
    /// Its first events.
    pub events: Vec<NewEvent>,
}

/// What an import did.
#[derive(Clone, Debug, Eq, PartialEq)]
pub enum Imported {
    /// The stone is new here.
    Added(StoneNo),
    /// The very same stone with the very same records stands here already.
    AlreadyHere(StoneNo),
}

/// SHA-256 (FIPS 180-4) of bytes alone, as `sha256sum` prints it.
#[must_use]
pub fn sha256(bytes: &[u8]) -> String {
    hexadecimal(&Sha256::digest(bytes))
}

fn hexadecimal(digest: &[u8]) -> String {
    digest.iter().map(|byte| format!("{byte:02x}")).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// SHA-256 of eight zero bytes, the length of one empty part: checked with
    /// `printf '\0\0\0\0\0\0\0\0' | sha256sum` (GNU coreutils 9).
    #[test]
    fn fingerprint_is_sha256_of_lengths_and_parts() {
        assert_eq!(
            fingerprint(&[b""]),
            "af5570f5a1810b7af78caf4bc70a660f0df51e42baf91d4de5b2328de0e83dfc"
        );
        // FIPS 180-4, the example of one block.
        assert_eq!(
            sha256(b"abc"),
            "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
        );
        assert_ne!(fingerprint(&[b"ab", b"c"]), fingerprint(&[b"a", b"bc"]));
    }
}
