//! One stone's steps, the ports to the outside, and the use cases.
//!
//! Layer 9. Everything below is pure; what touches the world (files, clock,
//! database, terminal) comes in through the traits in [`ports`].

pub mod ports;
mod records;
mod stone_file;

pub use ports::{
    Clock, EvidenceReader, NoProgress, Ports, Progress, Stage, Store, StoreError, StoreFault,
};
pub use records::{
    EventRecord, EvidenceFile, EvidenceRecord, Imported, MeshFile, NewEvent, NewRun, RunRecord,
    StoneNo, StoneRecord, Syntax, fingerprint,
};

pub use stone_file::{FORMAT as STONE_FILE_FORMAT, StoneFile};

/// A moment, as the records keep it.
pub use jiff::Timestamp;
