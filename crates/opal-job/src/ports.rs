//! The doors to the outside: what the use cases ask of the world.

use crate::ledger::{Appended, KeptEntry};
use crate::photo::{Photo, PhotoRecord};
use crate::records::{
    EventRecord, EvidenceFile, EvidenceRecord, Happening, Imported, NewEvent, NewRun, RunRecord,
    StoneNo, StoneRecord,
};
use crate::settings::Settings;
use crate::stone_file::StoneFile;
use jiff::Timestamp;
use jiff::civil::{Date, DateTime};
use jiff::tz::TimeZone;
use opal_evidence::{Evidence, Faults};
use opal_finish::WheelSet;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use thiserror::Error;

/// Tells the time.
pub trait Clock: Send + Sync {
    /// Now.
    fn now(&self) -> Timestamp;

    /// The day that it is where the bench stands; in Greenwich where nothing better is
    /// known.
    fn today(&self) -> Date {
        self.local(self.now()).date()
    }

    /// What clocks show where the bench stands; those of Greenwich where nothing
    /// better is known.
    fn local(&self, at: Timestamp) -> DateTime {
        TimeZone::UTC.to_datetime(at)
    }
}

/// Reads evidence files.
pub trait EvidenceReader: Send + Sync {
    /// The facts of a file whose meshes lie beside it.
    ///
    /// # Errors
    /// Everything that is wrong with it.
    fn read(&self, file: &EvidenceFile) -> Result<Evidence, Faults>;

    /// A file that reads back to these facts, the mesh beside it.
    fn written(&self, evidence: &Evidence) -> EvidenceFile;
}

/// Reads price files.
pub trait PriceReader: Send + Sync {
    /// Prices, costs, limits and rules.
    ///
    /// # Errors
    /// Everything that is wrong with it.
    fn read(&self, file_name: &str, text: &str) -> Result<Settings, Faults>;

    /// The shipped example, whose prices are invented.
    fn example(&self) -> &str;

    /// The text as a document with the same fields, for a form.
    fn document(&self, text: &str) -> Option<serde_json::Value>;

    /// The text with fields changed and all else as it was written: paths as faults
    /// name them, and values, `None` to take out.
    ///
    /// # Errors
    /// Every path that leads nowhere.
    fn change(
        &self,
        text: &str,
        changes: &[(String, Option<serde_json::Value>)],
    ) -> Result<String, Faults>;
}

/// Reads wheel files.
pub trait WheelReader: Send + Sync {
    /// The wheels and the saw of a bench.
    ///
    /// # Errors
    /// Everything that is wrong with it.
    fn read(&self, file_name: &str, text: &str) -> Result<WheelSet, Faults>;
}

/// A part of the work that can be watched.
#[derive(Clone, Copy, Debug, Eq, Hash, PartialEq)]
pub enum Stage {
    /// The evidence is read.
    Evidence,
    /// The stone is built.
    Stone,
    /// The possible insides are drawn.
    Interiors,
    /// The plans are made and valued.
    Plans,
    /// The bid is worked out.
    Bid,
    /// The sheet is drawn.
    Sheet,
    /// One lot after the other is worked out.
    Lots,
}

impl Stage {
    /// In the order of the work.
    pub const ALL: [Self; 7] = [
        Self::Evidence,
        Self::Stone,
        Self::Interiors,
        Self::Plans,
        Self::Bid,
        Self::Sheet,
        Self::Lots,
    ];

    /// In plain words.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::Evidence => "reading the evidence",
            Self::Stone => "building the stone",
            Self::Interiors => "drawing possible insides",
            Self::Plans => "trying ways to cut",
            Self::Bid => "working out the bid",
            Self::Sheet => "drawing the bench sheet",
            Self::Lots => "bidding on one lot after the other",
        }
    }
}

/// Watches long work, and may stop it.
pub trait Progress: Sync {
    /// The stage stands at `share` (0..=1) of its work.
    fn at(&self, stage: Stage, share: f64);

    /// True when the work should stop as soon as it can.
    fn cancelled(&self) -> bool {
        false
    }
}

/// Watches nothing.
#[derive(Clone, Copy, Debug, Default)]
pub struct NoProgress;

impl Progress for NoProgress {
    fn at(&self, _stage: Stage, _share: f64) {}
}

/// What went wrong with the store, sorted by what helps.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum StoreFault {
    /// Another program holds it.
    Locked,
    /// It may not be written to.
    ReadOnly,
    /// The disk is full.
    Full,
    /// A newer version made it.
    Newer,
    /// It is not a store, or it is damaged.
    Damaged,
    /// No such stone.
    NoStone,
    /// A stone of that name stands there already, or of that mark with other
    /// records.
    Exists,
    /// A file could not be opened, read or written.
    File,
    /// Anything else.
    Other,
}

/// Why the store could not do what was asked.
#[derive(Clone, Debug, Eq, Error, PartialEq)]
#[error("{message}")]
pub struct StoreError {
    /// What kind.
    pub fault: StoreFault,
    /// In words: what, where.
    pub message: String,
}

impl StoreError {
    /// Of a kind, in words.
    pub fn new(fault: StoreFault, message: impl Into<String>) -> Self {
        Self {
            fault,
            message: message.into(),
        }
    }
}

/// Keeps stones. Everything is only ever added to: no evidence, run or event is
/// changed once it stands.
pub trait Store: CounterStore + LedgerStore {
    /// Takes a stone in with its first evidence.
    ///
    /// # Errors
    /// A stone of that name stands there already; the file fails.
    fn add_stone(
        &self,
        name: &str,
        invented: bool,
        file: &EvidenceFile,
        now: Timestamp,
    ) -> Result<StoneNo, StoreError>;

    /// Adds a revision of a stone's evidence; gives its number.
    ///
    /// # Errors
    /// No such stone; the file fails.
    fn add_evidence(
        &self,
        no: StoneNo,
        file: &EvidenceFile,
        now: Timestamp,
    ) -> Result<u32, StoreError>;

    /// All stones whose rough is on file, by number.
    ///
    /// # Errors
    /// The file fails.
    fn stones(&self) -> Result<Vec<StoneRecord>, StoreError>;

    /// The stone of this name (capitals aside) or number.
    ///
    /// # Errors
    /// No such stone; the file fails.
    fn find(&self, name_or_no: &str) -> Result<StoneRecord, StoreError>;

    /// All revisions of a stone's evidence, oldest first.
    ///
    /// # Errors
    /// No such stone; the file fails.
    fn evidence_all(&self, no: StoneNo) -> Result<Vec<EvidenceRecord>, StoreError>;

    /// The evidence that counts: the last revision.
    ///
    /// # Errors
    /// No such stone; the file fails.
    fn evidence(&self, no: StoneNo) -> Result<EvidenceRecord, StoreError>;

    /// Keeps a result.
    ///
    /// # Errors
    /// No such stone; the file fails.
    fn add_run(&self, no: StoneNo, run: &NewRun, now: Timestamp) -> Result<(), StoreError>;

    /// The last kept result of a kind, where the inputs are the same.
    ///
    /// # Errors
    /// The file fails.
    fn last_run(
        &self,
        no: StoneNo,
        what: &str,
        inputs: &str,
    ) -> Result<Option<RunRecord>, StoreError>;

    /// The last kept result of a kind, whatever it rested on.
    ///
    /// # Errors
    /// The file fails.
    fn latest_run(&self, no: StoneNo, what: &str) -> Result<Option<RunRecord>, StoreError>;

    /// All kept results of a stone, oldest first.
    ///
    /// # Errors
    /// The file fails.
    fn runs(&self, no: StoneNo) -> Result<Vec<RunRecord>, StoreError>;

    /// The kept results of a kind of all stones, oldest first.
    ///
    /// # Errors
    /// The file fails.
    fn runs_of_kind(&self, what: &str) -> Result<Vec<(StoneNo, RunRecord)>, StoreError>;

    /// Logs an event; one whose body names a mark (`once`) that stands at the
    /// stone already is not added again.
    ///
    /// # Errors
    /// No such stone; the file fails.
    fn add_event(&self, no: StoneNo, event: &NewEvent, now: Timestamp) -> Result<(), StoreError>;

    /// Puts on record all of what happened, or nothing: nothing is added either where
    /// its first entry's number is not the next of the books.
    ///
    /// # Errors
    /// No such stone; a stone of a new one's name stands there already; the file
    /// fails.
    fn add_happening(&self, happening: &Happening, now: Timestamp) -> Result<Appended, StoreError>;

    /// All events of a stone, oldest first.
    ///
    /// # Errors
    /// The file fails.
    fn events(&self, no: StoneNo) -> Result<Vec<EventRecord>, StoreError>;

    /// A setting's text (`prices`: the cutter's price book).
    ///
    /// # Errors
    /// The file fails.
    fn setting(&self, key: &str) -> Result<Option<String>, StoreError>;

    /// Sets a setting; what stood there before is kept as history.
    ///
    /// # Errors
    /// The file fails.
    fn set_setting(&self, key: &str, text: &str, now: Timestamp) -> Result<(), StoreError>;

    /// Puts a whole stone back: all of it, or nothing.
    ///
    /// # Errors
    /// A stone of that name, or of that mark with other records, stands there.
    fn import(&self, stone: &StoneFile) -> Result<Imported, StoreError>;

    /// Copies the whole store to a file while it is in use.
    ///
    /// # Errors
    /// The file exists; it cannot be written.
    fn backup(&self, to: &Path) -> Result<(), StoreError>;

    /// What stands here.
    ///
    /// # Errors
    /// The file fails.
    fn holdings(&self) -> Result<Holdings, StoreError>;

    /// What a backup holds; it is looked over as [`Store::restore`] would.
    ///
    /// # Errors
    /// As [`Store::restore`].
    fn holdings_of(&self, copy: &Path) -> Result<Holdings, StoreError>;

    /// Puts a backup in place of everything that stands here, after keeping a
    /// copy of that beside the store; gives the copy's path.
    ///
    /// # Errors
    /// The backup is not a store, is damaged, or is newer; nothing is changed then.
    fn restore(&self, from: &Path, now: Timestamp) -> Result<PathBuf, StoreError>;
}

/// What a store holds, in a few figures that tell one copy from another.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub struct Holdings {
    /// Stones.
    pub stones: usize,
    /// Entries of the books.
    pub entries: usize,
    /// When anything was last written.
    pub last: Option<Timestamp>,
}

/// Keeps the books. An entry that was added is never changed.
pub trait LedgerStore: Send + Sync {
    /// All entries, by number.
    ///
    /// # Errors
    /// The file fails.
    fn ledger(&self) -> Result<Vec<KeptEntry>, StoreError>;

    /// Adds entries: all of them, or nothing. They stand on the disk when this comes
    /// back. Nothing is added where the first one's number is not the next.
    ///
    /// # Errors
    /// The file fails.
    fn add_to_ledger(&self, entries: &[KeptEntry]) -> Result<Appended, StoreError>;
}

/// Keeps what comes over the counter: stones that never were rough here, and photos.
pub trait CounterStore: Send + Sync {
    /// Opens a record for a finished stone without rough, with what is known of it.
    ///
    /// # Errors
    /// A stone of that name stands there already; the file fails.
    fn add_finished_stone(
        &self,
        name: &str,
        known: &NewEvent,
        now: Timestamp,
    ) -> Result<StoneNo, StoreError>;

    /// All stones, with rough and without, by number.
    ///
    /// # Errors
    /// The file fails.
    fn all_stones(&self) -> Result<Vec<StoneRecord>, StoreError>;

    /// Keeps a photo with a stone; the same bytes again add nothing.
    ///
    /// # Errors
    /// No such stone; the file fails.
    fn add_photo(&self, no: StoneNo, photo: &Photo, now: Timestamp) -> Result<(), StoreError>;

    /// All photos of a stone, oldest first.
    ///
    /// # Errors
    /// The file fails.
    fn photos(&self, no: StoneNo) -> Result<Vec<PhotoRecord>, StoreError>;

    /// A photo of a stone by its SHA-256.
    ///
    /// # Errors
    /// No such photo of this stone; the file fails.
    fn photo(&self, no: StoneNo, sha256: &str) -> Result<Photo, StoreError>;
}

/// All doors together.
#[derive(Clone)]
pub struct Ports {
    /// Keeps stones.
    pub store: Arc<dyn Store>,
    /// Tells the time.
    pub clock: Arc<dyn Clock>,
    /// Reads evidence.
    pub reader: Arc<dyn EvidenceReader>,
    /// Reads price books.
    pub prices: Arc<dyn PriceReader>,
    /// Reads wheel files.
    pub wheels: Arc<dyn WheelReader>,
}
