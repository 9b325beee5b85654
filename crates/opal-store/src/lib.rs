//! Stones, events, runs and the books in one SQLite file.
//!
//! Layer 10. Write-ahead log with full sync, so that a power cut at the bench
//! loses nothing that was confirmed; the schema only grows; records are only
//! ever added to, and the database itself refuses anything else.

mod backup;
mod counter;
mod fault;
mod ledger;
mod open;
mod rows;
mod stones;

pub use open::SqliteStore;
