//! Entries as the store keeps them.
//!
//! The body is the slip with nothing left out, stones by their marks. Shapes are only
//! ever added to; the postings stand beside it, so that a later version's rules
//! cannot change what was booked.

use super::slip;
use crate::error::JobError;
use jiff::Timestamp;
use opal_evidence::{Fault, Faults};
use opal_ledger::{Entry, Posting};
use opal_report::json::SlipDoc;
use opal_units::{Currency, Money};

/// An entry as the store keeps it.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct KeptEntry {
    /// Its number, counted from 1 without a gap.
    pub number: u64,
    /// When it was recorded.
    pub recorded: Timestamp,
    /// The currency of its postings.
    pub currency: String,
    /// What happened (a JSON object).
    pub body: String,
    /// What it moved.
    pub postings: Vec<KeptPosting>,
}

/// A posting as the store keeps it.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct KeptPosting {
    /// The account.
    pub account: String,
    /// How much, in minor units.
    pub minor: i64,
}

/// What became of entries that were to be added.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum Appended {
    /// They stand on the disk.
    Done,
    /// Another program added entries first; nothing was added.
    GrownMeanwhile,
}

impl KeptEntry {
    pub(super) fn new(entry: &Entry, home: Currency, now: Timestamp) -> Result<Self, JobError> {
        Ok(Self {
            number: entry.number,
            recorded: now,
            currency: home.code().to_owned(),
            body: serde_json::to_string(&slip::by_mark(entry))?,
            postings: entry
                .postings
                .iter()
                .map(|posting| KeptPosting {
                    account: posting.account.to_string(),
                    minor: posting.amount.minor(),
                })
                .collect(),
        })
    }

    pub(super) fn read(&self, home: Currency) -> Result<Entry, Faults> {
        let unreadable = |what: String| {
            Faults::from(Fault::new(
                format!("entry {}", self.number),
                "not readable",
                what,
            ))
        };
        let slip: SlipDoc =
            serde_json::from_str(&self.body).map_err(|error| unreadable(error.to_string()))?;
        let draft = slip::of_marks(&slip, home)?;
        let postings = self.postings.iter().map(|posting| {
            let account = posting.account.parse();
            let currency = Currency::new(&self.currency);
            match (account, currency) {
                (Ok(account), Ok(currency)) => Ok(Posting {
                    account,
                    amount: Money::from_minor(posting.minor, currency),
                }),
                _ => Err(unreadable(format!("account '{}'", posting.account))),
            }
        });
        Ok(Entry {
            number: self.number,
            date: draft.date,
            event: draft.event,
            note: draft.note,
            postings: postings.collect::<Result<_, _>>()?,
        })
    }
}
