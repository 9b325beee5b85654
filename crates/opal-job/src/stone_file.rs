//! A whole stone as one file: `opalwright-stone/1`.
//!
//! JSON; meshes as base64 (RFC 4648), each part with its SHA-256, so that a
//! damaged file is refused and never half taken in.

use crate::photo::{self, PHOTO_BYTES_MAX, Photo, PhotoRecord};
use crate::records::{
    EventRecord, EvidenceFile, EvidenceRecord, MeshFile, NewEvent, NewRun, RunRecord, StoneRecord,
    Syntax, sha256,
};
use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use jiff::Timestamp;
use opal_evidence::{Fault, Faults};
use opal_units::Seed;
use serde::{Deserialize, Serialize};
use serde_json::Value;

/// The name of the format, with its version.
pub const FORMAT: &str = "opalwright-stone/1";

/// Everything that is kept of one stone.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct StoneFile {
    /// Its mark for life.
    pub mark: String,
    /// Its name.
    pub name: String,
    /// True when it is the invented example.
    pub invented: bool,
    /// When it was taken in.
    pub taken_in: Timestamp,
    /// Its evidence, oldest first.
    pub evidence: Vec<EvidenceRecord>,
    /// Its results, oldest first.
    pub runs: Vec<RunRecord>,
    /// Its events, oldest first.
    pub events: Vec<EventRecord>,
    /// Its photos, oldest first.
    pub photos: Vec<PhotoRecord>,
    /// What the books say of it: an `opalwright-entries/1` document.
    pub books: Option<Value>,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct FileDoc {
    format: String,
    mark: String,
    name: String,
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    invented: bool,
    taken_in: Timestamp,
    evidence: Vec<EvidenceDoc>,
    #[serde(default)]
    runs: Vec<RunDoc>,
    #[serde(default)]
    events: Vec<EventDoc>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    photos: Vec<PhotoDoc>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    books: Option<Value>,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct EvidenceDoc {
    revision: u32,
    taken_in: Timestamp,
    file_name: String,
    syntax: String,
    sha256: String,
    text: String,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    meshes: Vec<BytesDoc>,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct BytesDoc {
    name: String,
    sha256: String,
    base64: String,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct RunDoc {
    at: Timestamp,
    what: String,
    inputs: String,
    seed: u64,
    n_interiors: u64,
    version: String,
    output: Value,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct EventDoc {
    at: Timestamp,
    kind: String,
    body: Value,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct PhotoDoc {
    at: Timestamp,
    file: BytesDoc,
}

impl StoneFile {
    /// From the parts that a store gives.
    #[must_use]
    pub fn new(
        stone: StoneRecord,
        evidence: Vec<EvidenceRecord>,
        runs: Vec<RunRecord>,
        events: Vec<EventRecord>,
        photos: Vec<PhotoRecord>,
    ) -> Self {
        Self {
            mark: stone.mark,
            name: stone.name,
            invented: stone.invented,
            taken_in: stone.taken_in,
            evidence,
            runs,
            events,
            photos,
            books: None,
        }
    }

    /// As the text of a file.
    #[must_use]
    pub fn to_text(&self) -> String {
        let doc = FileDoc {
            format: FORMAT.to_owned(),
            mark: self.mark.clone(),
            name: self.name.clone(),
            invented: self.invented,
            taken_in: self.taken_in,
            evidence: self.evidence.iter().map(EvidenceDoc::of).collect(),
            runs: self.runs.iter().map(RunDoc::of).collect(),
            events: self.events.iter().map(EventDoc::of).collect(),
            photos: self
                .photos
                .iter()
                .map(|kept| PhotoDoc {
                    at: kept.at,
                    file: BytesDoc::of(&kept.photo.name, &kept.photo.bytes),
                })
                .collect(),
            books: self.books.clone(),
        };
        let mut text =
            serde_json::to_string_pretty(&doc).expect("strings and numbers always become JSON");
        text.push('\n');
        text
    }

    /// Back from the text of a file.
    ///
    /// # Errors
    /// Not such a file, a newer version of it, or a part whose SHA-256 is not
    /// the one that stands beside it.
    pub fn from_text(file_name: &str, text: &str) -> Result<Self, Faults> {
        let in_file = |mut fault: Fault| {
            fault.file = Some(file_name.to_owned());
            fault
        };
        // The format is looked at first, so that a file of a newer version is
        // told apart from a broken one.
        #[derive(Deserialize)]
        struct Head {
            format: String,
        }
        let head: Head =
            serde_json::from_str(text).map_err(|error| json_fault(file_name, &error))?;
        if head.format != FORMAT {
            return Err(in_file(Fault::new(
                "format",
                format!("'{}'", head.format),
                format!("it must be '{FORMAT}'"),
            ))
            .into());
        }
        let doc: FileDoc =
            serde_json::from_str(text).map_err(|error| json_fault(file_name, &error))?;
        let mut faults = Vec::new();
        if doc.evidence.is_empty() && doc.events.is_empty() {
            let limit = "a stone has evidence of its rough, or something kept at the counter";
            faults.push(Fault::new("evidence", "empty", limit));
        }
        let mut evidence = Vec::new();
        for (k, part) in doc.evidence.into_iter().enumerate() {
            match part.into_record(&format!("evidence[{k}]")) {
                Ok(record) => evidence.push(record),
                Err(mut more) => faults.append(&mut more.0),
            }
        }
        let mut photos = Vec::new();
        for (k, doc) in doc.photos.into_iter().enumerate() {
            match doc.into_record(&format!("photos[{k}].file")) {
                Ok(record) => photos.push(record),
                Err(fault) => faults.push(fault),
            }
        }
        for (k, record) in evidence.iter().enumerate() {
            if usize::try_from(record.revision).ok() != Some(k + 1) {
                faults.push(Fault::new(
                    format!("evidence[{k}].revision"),
                    record.revision,
                    format!("revisions count from 1 without a gap: {} here", k + 1),
                ));
            }
        }
        if !faults.is_empty() {
            return Err(Faults(faults.into_iter().map(in_file).collect()));
        }
        Ok(Self {
            mark: doc.mark,
            name: doc.name,
            invented: doc.invented,
            taken_in: doc.taken_in,
            evidence,
            runs: doc.runs.into_iter().map(RunDoc::into_record).collect(),
            events: doc.events.into_iter().map(EventDoc::into_record).collect(),
            photos,
            books: doc.books,
        })
    }
}

fn json_fault(file_name: &str, error: &serde_json::Error) -> Faults {
    Fault {
        file: Some(file_name.to_owned()),
        line: u32::try_from(error.line()).ok().filter(|&line| line > 0),
        field: "file".to_owned(),
        value: "not readable as a whole stone".to_owned(),
        limit: error.to_string(),
        place: None,
    }
    .into()
}

impl BytesDoc {
    fn of(name: &str, bytes: &[u8]) -> Self {
        Self {
            name: name.to_owned(),
            sha256: sha256(bytes),
            base64: STANDARD.encode(bytes),
        }
    }

    fn bytes(&self, field: &str) -> Result<Vec<u8>, Fault> {
        let bytes = STANDARD.decode(&self.base64).map_err(|error| {
            Fault::new(format!("{field}.base64"), "not base64", error.to_string())
        })?;
        if sha256(&bytes) == self.sha256 {
            return Ok(bytes);
        }
        Err(Fault::new(
            format!("{field}.sha256"),
            &self.sha256,
            "the bytes' own is another: the file was damaged or edited",
        ))
    }
}

impl PhotoDoc {
    /// A photo that may be kept; one that is too long is not even decoded.
    fn into_record(self, field: &str) -> Result<PhotoRecord, Fault> {
        // Four characters stand for three bytes.
        let bytes = self.file.base64.len() / 4 * 3;
        if bytes > PHOTO_BYTES_MAX + 3 {
            return Err(Fault::new(
                format!("{field}.base64"),
                format!("about {bytes} bytes long"),
                format!("a photo must not be longer than {PHOTO_BYTES_MAX} bytes"),
            ));
        }
        let photo = Photo {
            bytes: self.file.bytes(field)?,
            name: self.file.name,
        };
        match photo::fault(&photo) {
            Some(fault) => Err(fault),
            None => Ok(PhotoRecord { at: self.at, photo }),
        }
    }
}

impl EvidenceDoc {
    fn of(record: &EvidenceRecord) -> Self {
        Self {
            revision: record.revision,
            taken_in: record.taken_in,
            file_name: record.file.file_name.clone(),
            syntax: record.file.syntax.word().to_owned(),
            sha256: sha256(record.file.text.as_bytes()),
            text: record.file.text.clone(),
            meshes: record
                .file
                .meshes
                .iter()
                .map(|mesh| BytesDoc::of(&mesh.name, &mesh.bytes))
                .collect(),
        }
    }

    fn into_record(self, field: &str) -> Result<EvidenceRecord, Faults> {
        let mut faults = Vec::new();
        let found = sha256(self.text.as_bytes());
        if found != self.sha256 {
            faults.push(Fault::new(
                format!("{field}.sha256"),
                &self.sha256,
                format!("the text's own is {found}: the file was damaged or edited"),
            ));
        }
        let syntax = Syntax::from_word(&self.syntax);
        if syntax.is_none() {
            faults.push(Fault::new(
                format!("{field}.syntax"),
                format!("'{}'", self.syntax),
                "it must be 'toml' or 'json'",
            ));
        }
        let mut meshes = Vec::new();
        for (k, mesh) in self.meshes.into_iter().enumerate() {
            match mesh.bytes(&format!("{field}.meshes[{k}]")) {
                Ok(bytes) => meshes.push(MeshFile {
                    name: mesh.name,
                    bytes,
                }),
                Err(fault) => faults.push(fault),
            }
        }
        match syntax {
            Some(syntax) if faults.is_empty() => Ok(EvidenceRecord {
                revision: self.revision,
                taken_in: self.taken_in,
                file: EvidenceFile {
                    file_name: self.file_name,
                    syntax,
                    text: self.text,
                    meshes,
                },
            }),
            _ => Err(Faults(faults)),
        }
    }
}

/// JSON text as a value; text that is no JSON is kept as a string.
fn value_of(text: &str) -> Value {
    serde_json::from_str(text).unwrap_or_else(|_| Value::String(text.to_owned()))
}

/// The text of a value, undoing [`value_of`].
fn text_of(value: Value) -> String {
    match value {
        Value::String(text) => text,
        other => other.to_string(),
    }
}

impl RunDoc {
    fn of(record: &RunRecord) -> Self {
        Self {
            at: record.at,
            what: record.run.what.clone(),
            inputs: record.run.inputs.clone(),
            seed: record.run.seed.0,
            n_interiors: record.run.n_interiors,
            version: record.run.version.clone(),
            output: value_of(&record.run.output),
        }
    }

    fn into_record(self) -> RunRecord {
        RunRecord {
            at: self.at,
            run: NewRun {
                what: self.what,
                inputs: self.inputs,
                seed: Seed(self.seed),
                n_interiors: self.n_interiors,
                version: self.version,
                output: text_of(self.output),
            },
        }
    }
}

impl EventDoc {
    fn of(record: &EventRecord) -> Self {
        Self {
            at: record.at,
            kind: record.event.kind.clone(),
            body: value_of(&record.event.body),
        }
    }

    fn into_record(self) -> EventRecord {
        EventRecord {
            at: self.at,
            event: NewEvent {
                kind: self.kind,
                body: text_of(self.body),
            },
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn example() -> StoneFile {
        StoneFile {
            mark: "m1".into(),
            name: "Gully 7".into(),
            invented: true,
            taken_in: "2026-01-02T03:04:05Z".parse().expect("a time"),
            evidence: vec![EvidenceRecord {
                revision: 1,
                taken_in: "2026-01-02T03:04:05Z".parse().expect("a time"),
                file: EvidenceFile {
                    file_name: "gully.toml".into(),
                    syntax: Syntax::Toml,
                    text: "format = \"opalwright-evidence/1\"\n".into(),
                    meshes: vec![MeshFile {
                        name: "rough.ply".into(),
                        bytes: vec![0, 255, 10, 13],
                    }],
                },
            }],
            runs: vec![RunRecord {
                at: "2026-01-02T03:04:06Z".parse().expect("a time"),
                run: NewRun {
                    what: "bid".into(),
                    inputs: "abc".into(),
                    seed: Seed(u64::MAX),
                    n_interiors: 1000,
                    version: "0.1.0".into(),
                    output: "{\"format\":\"opalwright-bid/1\"}".into(),
                },
            }],
            events: vec![EventRecord {
                at: "2026-01-02T03:04:07Z".parse().expect("a time"),
                event: NewEvent {
                    kind: "taken-in".into(),
                    body: "{}".into(),
                },
            }],
            photos: vec![PhotoRecord {
                at: "2026-01-02T03:04:08Z".parse().expect("a time"),
                photo: Photo {
                    name: "edge.jpg".into(),
                    bytes: vec![0xff, 0xd8, 0xff],
                },
            }],
            books: Some(serde_json::json!({ "format": "opalwright-entries/1", "entries": [] })),
        }
    }

    #[test]
    fn goes_round_byte_for_byte() {
        let text = example().to_text();
        let back = StoneFile::from_text("a.json", &text).expect("reads");
        assert_eq!(back, example());
        assert_eq!(back.to_text(), text);
    }

    #[test]
    fn what_is_no_photo_or_too_long_is_refused() {
        let mut file = example();
        file.photos[0].photo.bytes = b"<svg/>".to_vec();
        let mut long = example().photos.remove(0);
        long.photo.bytes.resize(PHOTO_BYTES_MAX + 1, 0);
        file.photos.push(long);
        let mut far_too_long = example().photos.remove(0);
        far_too_long.photo.bytes.resize(PHOTO_BYTES_MAX + 100, 0);
        file.photos.push(far_too_long);
        let faults = StoneFile::from_text("a.json", &file.to_text()).expect_err("refused");
        assert_eq!(faults.0.len(), 3, "{faults}");
        assert_eq!(faults.0[2].field, "photos[2].file.base64");
    }

    #[test]
    fn damage_is_refused_with_its_place() {
        let text = example().to_text().replace("AP8KDQ==", "AP8KDg==");
        let faults = StoneFile::from_text("a.json", &text).expect_err("refused");
        assert_eq!(faults.0.len(), 1);
        assert_eq!(faults.0[0].field, "evidence[0].meshes[0].sha256");
        let newer = example().to_text().replace("stone/1", "stone/2");
        let faults = StoneFile::from_text("a.json", &newer).expect_err("refused");
        assert_eq!(faults.0[0].field, "format");
    }
}
