//! What the page needs of the program behind it.

use crate::counter::Counter;
use crate::dealing::Dealing;
use crate::housekeeping::Housekeeping;
use crate::pairing::DeviceBook;
use crate::shapes::{Forecast, PriceLook, StoneCard, StonePage};
use crate::studies::Studies;
use crate::tracing::Tracing;
use crate::wheel::AtTheWheel;
use opal_evidence::Faults;
use serde_json::Value;
use thiserror::Error;

/// A stone's number in the store.
pub type StoneNumber = i64;

/// A file that came along with the evidence: a scan, by the name that the
/// evidence calls it.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct NamedFile {
    /// The name, without any folder.
    pub name: String,
    /// What is in it.
    pub bytes: Vec<u8>,
}

/// A file to hand to the browser.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct Download {
    /// The name to save it under.
    pub name: String,
    /// Its media type, such as `application/pdf`.
    pub media_type: &'static str,
    /// What is in it.
    pub bytes: Vec<u8>,
}

/// Why the workbench could not do what was asked.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum WorkbenchError {
    /// There is no such stone, plan or file.
    #[error("{0}")]
    NotFound(String),
    /// What was sent is not right: all of it, each with its place.
    #[error("{0}")]
    Faults(Faults),
    /// It cannot be done in the state that things are in, such as a forecast
    /// asked for before it was computed.
    #[error("{0}")]
    NotNow(String),
    /// The person stopped it.
    #[error("stopped before it was done; nothing was kept of it")]
    Cancelled,
    /// The store cannot be read or written: locked, read-only, full.
    #[error("{0}")]
    Store(String),
    /// A fault of the program itself.
    #[error("{0}")]
    Internal(String),
}

/// Hears how far long work has come, and says when to stop.
pub trait Watch: Sync {
    /// `share` of the whole is done (0..=1); `step` says in a few plain words
    /// what is being done now.
    fn at(&self, step: &str, share: f64);
    /// True once the person asked to stop. Looked at often.
    fn cancelled(&self) -> bool;
}

/// The program behind the page. Calls may block; the server makes them on
/// threads of their own, several at a time.
pub trait Workbench:
    AtTheWheel
    + Counter
    + Dealing
    + DeviceBook
    + Housekeeping
    + Studies
    + Tracing
    + Send
    + Sync
    + 'static
{
    /// All stones, the one touched last first.
    ///
    /// # Errors
    /// The store cannot be read.
    fn stones(&self) -> Result<Vec<StoneCard>, WorkbenchError>;

    /// Takes in a stone. `evidence` is an `opalwright-evidence/1` document as
    /// JSON; `files` holds the scan that it names, if any. Nothing is stored
    /// when there is a fault.
    ///
    /// # Errors
    /// All faults of the evidence at once; or the store cannot be written.
    fn take_in(&self, evidence: &Value, files: &[NamedFile])
    -> Result<StoneNumber, WorkbenchError>;

    /// Puts newer evidence in place of what a stone was taken in with. The
    /// older evidence stays on record.
    ///
    /// # Errors
    /// As [`Workbench::take_in`]; or no such stone.
    fn take_in_again(
        &self,
        stone: StoneNumber,
        evidence: &Value,
        files: &[NamedFile],
    ) -> Result<(), WorkbenchError>;

    /// A stone as it was taken in: its evidence, its shape, the weight check.
    /// Quick: no interiors are drawn for it.
    ///
    /// # Errors
    /// No such stone; or the store cannot be read.
    fn stone(&self, stone: StoneNumber) -> Result<StonePage, WorkbenchError>;

    /// Keeps what the cutter has decided of a stone (`WishesDoc` of the reports); the
    /// forecast is to be run again.
    ///
    /// # Errors
    /// No such stone; all that is wrong with it at once; the store cannot be written.
    fn set_wishes(&self, stone: StoneNumber, wishes: &Value) -> Result<(), WorkbenchError>;

    /// Runs interiors, plans, values and bid, or gives them back at once where
    /// nothing changed since they were last run.
    ///
    /// # Errors
    /// No such stone; stopped; or a step that could not be done, in plain words.
    fn run(&self, stone: StoneNumber, watch: &dyn Watch) -> Result<(), WorkbenchError>;

    /// What [`Workbench::run`] found; `None` where it has not been run since
    /// the evidence, prices or rules last changed.
    ///
    /// # Errors
    /// No such stone; or the store cannot be read.
    fn forecast(&self, stone: StoneNumber) -> Result<Option<Forecast>, WorkbenchError>;

    /// What would happen at a price of the cutter's own choice. `amount` is a
    /// decimal text in the price book's currency.
    ///
    /// # Errors
    /// Not an amount; no such stone; or not run yet.
    fn at_price(&self, stone: StoneNumber, amount: &str) -> Result<PriceLook, WorkbenchError>;

    /// The printable bench sheet of a plan, counted from 0, the best first.
    ///
    /// # Errors
    /// No such stone or plan; or not run yet.
    fn sheet(&self, stone: StoneNumber, plan: usize) -> Result<Download, WorkbenchError>;

    /// The whole stone as one file.
    ///
    /// # Errors
    /// No such stone; or the store cannot be read.
    fn export(&self, stone: StoneNumber) -> Result<Download, WorkbenchError>;

    /// The scan in the stone frame, where there is one.
    ///
    /// # Errors
    /// No such stone; or the store cannot be read.
    fn scan(
        &self,
        stone: StoneNumber,
    ) -> Result<Option<std::sync::Arc<opal_geom::TriMesh>>, WorkbenchError>;

    /// What the books come to over a year (`2026`), a month (`2026-03`) or all days: an
    /// `opalwright-ledger/1` document.
    ///
    /// # Errors
    /// No such period; the books cannot be read.
    fn ledger(&self, period: Option<&str>) -> Result<Value, WorkbenchError>;

    /// The entries of those days: an `opalwright-entries/1` document.
    ///
    /// # Errors
    /// As [`Workbench::ledger`].
    fn entries(&self, period: Option<&str>) -> Result<Value, WorkbenchError>;

    /// What those days came to, or what is held at their end, as a PDF.
    ///
    /// # Errors
    /// As [`Workbench::ledger`].
    fn ledger_pdf(&self, period: Option<&str>, held: bool) -> Result<Download, WorkbenchError>;

    /// The entries of those days as CSV.
    ///
    /// # Errors
    /// As [`Workbench::ledger`].
    fn entries_csv(&self, period: Option<&str>) -> Result<Download, WorkbenchError>;

    /// Books a list of slips, all of them or none, and gives the entries back. They
    /// stand on the disk then.
    ///
    /// # Errors
    /// All faults of the slips at once; the books cannot be written.
    fn book(&self, slips: &Value, after: Option<u64>) -> Result<Value, WorkbenchError>;

    /// The price book as the cutter's own text (`prices.toml`), with costs and
    /// limits.
    ///
    /// # Errors
    /// The store cannot be read.
    fn price_book(&self) -> Result<PriceBookText, WorkbenchError>;

    /// Puts a new price book in place. Nothing changes when there is a fault.
    ///
    /// # Errors
    /// All faults of the text at once; or the store cannot be written.
    fn set_price_book(&self, text: &str) -> Result<(), WorkbenchError>;

    /// Changes fields of the price book, named as faults name them; `None` takes a
    /// field or a row out. The rest of the text stays. Nothing changes when there is a
    /// fault.
    ///
    /// # Errors
    /// As [`Workbench::set_price_book`]; and every path that leads nowhere.
    fn change_price_book(&self, changes: &[(String, Option<Value>)]) -> Result<(), WorkbenchError>;
}

/// The price book as text.
#[derive(Clone, Debug, Eq, PartialEq, serde::Serialize, schemars::JsonSchema)]
pub struct PriceBookText {
    /// The text.
    pub text: String,
    /// The same fields as an `opalwright-prices/1` document, for a form.
    pub fields: Option<Value>,
    /// True while it is the invented example and not the cutter's own.
    pub example: bool,
    /// Its currency, ISO 4217 code.
    pub currency: String,
}
