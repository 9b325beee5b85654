//! One stone's steps, the ports to the outside, and the use cases.
//!
//! Layer 9. Everything below is pure; what touches the world (files, clock,
//! database, terminal) comes in through the traits in [`ports`].

mod appraise;
mod ask;
mod at_the_bench;
mod bench;
mod bench_events;
mod bids;
mod counter;
mod counter_numbers;
mod counter_records;
mod documents;
mod error;
mod event_faults;
mod field;
mod finish;
mod from_a_device;
mod held_insides;
mod job;
mod learned;
mod ledger;
mod look;
mod own_sales;
mod own_weights;
mod parcel;
mod parting;
mod photo;
pub mod ports;
mod price;
mod records;
mod rests_on;
mod settings;
mod sheet;
mod side;
mod step;
mod stone_file;
mod trace;
mod what_now;
mod wheels;
mod wishes;

pub use appraise::BookAppraiser;
pub use ask::Ask;
pub use at_the_bench::AtTheBench;
pub use bench::{Bench, Opened, PricesInForce, TakeIn, VERSION};
pub use bench_events::{event_from_json, event_to_json};
pub use bids::Lot;
pub use counter::{AtTheCounter, CounterNote, CounterStone, wording_doc};
pub use counter_records::{PrintedCard, ReadingsTaken, Whose};
pub use documents::{list_doc, record_doc};
pub use error::JobError;
pub use finish::{FinishAsk, SawOrGrindAsk, drying_doc, saw_or_grind_doc, told_weighings};
pub use from_a_device::Sent;
pub use held_insides::HeldInsides;
pub use job::{BidAnswer, Job, Plans};
pub use ledger::{
    Appended, KeptEntry, KeptPosting, Period, ReadSlips, SLIP_COLUMNS, slip_cells, slips_from_rows,
    slips_from_text,
};
pub use look::{LookDraws, brightness_key, variety_key};
pub use own_weights::WeightOutcome;
pub use parcel::ParcelAnswer;
pub use parting::{PartShare, Parted, ShareRule};
pub use photo::{PHOTO_BYTES_MAX, PHOTOS_MAX, Photo, PhotoRecord};
pub use ports::{
    Clock, CounterStore, EvidenceReader, Holdings, LedgerStore, NoProgress, Ports, PriceReader,
    Progress, Stage, Store, StoreError, StoreFault, WheelReader,
};
pub use price::Finished;
pub use records::{
    EventRecord, EvidenceFile, EvidenceRecord, Happening, Imported, MeshFile, NewEvent, NewRun,
    NewStone, RunRecord, StoneNo, StoneRecord, Syntax, birth_mark, fingerprint, sha256,
};
pub use settings::Settings;
pub use sheet::SheetPrint;
pub use side::{BarTraceAsk, SeenFrom, trace_bar};
pub use stone_file::{FORMAT as STONE_FILE_FORMAT, StoneFile};
pub use trace::{PhotoToTrace, ScaleBy, TraceAsk, trace, traced_evidence};
pub use wheels::WheelsInForce;

pub use opal_report::sheet::Paper;

/// A moment, as the records keep it.
pub use jiff::Timestamp;
