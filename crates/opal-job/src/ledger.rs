//! The use cases of the books: record what happened, and see what it came to.

mod cuts;
mod expected;
mod export;
mod kept;
mod names;
mod slip;
mod summary;

pub(crate) use cuts::CostMove;
pub use export::{ReadSlips, SLIP_COLUMNS, slip_cells, slips_from_rows, slips_from_text};
pub use kept::{Appended, KeptEntry, KeptPosting};

use crate::bench::Bench;
use crate::error::JobError;
use crate::ports::{StoreError, StoreFault};
use crate::records::{StoneNo, StoneRecord};
use jiff::Timestamp;
use jiff::civil::Date;
use names::Names;
use opal_evidence::{Fault, Faults};
use opal_ledger::{Books, Entry, Event, Item, Standing};
use opal_report::json::{ENTRIES_FORMAT, EntriesDoc, EntryDoc, LedgerDoc, SlipDoc};
use opal_units::{Currency, Money};
use serde_json::Value;
use slip::Desk;
use std::collections::BTreeMap;

/// How often another program may get in between before it is told. Chosen: because a
/// try takes milliseconds.
const TRIES: usize = 50;

/// The books as they were read, with when each entry was recorded.
struct Opened {
    books: Books,
    recorded: Vec<Timestamp>,
}

/// The days that count: all of them where nothing is said.
#[derive(Clone, Copy, Debug, Default, Eq, PartialEq)]
pub struct Period {
    /// The first.
    pub from: Option<Date>,
    /// The last.
    pub to: Option<Date>,
}

impl Period {
    /// True when a day counts.
    #[must_use]
    pub fn holds(&self, day: Date) -> bool {
        self.from.is_none_or(|from| from <= day) && self.to.is_none_or(|to| day <= to)
    }

    /// A year such as `2026`, or a month such as `2026-03`.
    ///
    /// # Errors
    /// It is neither.
    pub fn parse(text: &str) -> Result<Self, Faults> {
        let refuse = || {
            Faults::from(Fault::new(
                "period",
                format!("'{text}'"),
                "it must be a year such as 2026, or a month such as 2026-03",
            ))
        };
        let parts: Vec<&str> = text.split('-').collect();
        let year = |text: &str| text.parse::<i16>().ok().filter(|_| text.len() == 4);
        let (first, last) = match parts.as_slice() {
            [y] => {
                let first = year(y).and_then(|y| Date::new(y, 1, 1).ok());
                (first, first.map(Date::last_of_year))
            }
            [y, m] if m.len() == 2 => {
                let first = year(y)
                    .zip(m.parse::<i8>().ok())
                    .and_then(|(y, m)| Date::new(y, m, 1).ok());
                (first, first.map(Date::last_of_month))
            }
            _ => (None, None),
        };
        match (first, last) {
            (Some(_), Some(_)) => Ok(Self {
                from: first,
                to: last,
            }),
            _ => Err(refuse()),
        }
    }
}

impl Bench {
    /// The books. Where nothing was ever booked they are empty, in the currency of
    /// the price book; the first entry settles it.
    fn books(&self) -> Result<Opened, JobError> {
        let kept = self.ports().store.ledger()?;
        let Some(first) = kept.first() else {
            return Ok(Opened {
                books: Books::new(self.price_book()?.settings.currency()),
                recorded: Vec::new(),
            });
        };
        let damaged = |what: String| {
            StoreError::new(
                StoreFault::Damaged,
                format!("the books in the store do not read: {what}"),
            )
        };
        let home = Currency::new(&first.currency).map_err(|error| damaged(error.to_string()))?;
        let recorded = kept.iter().map(|entry| entry.recorded).collect();
        let entries: Result<Vec<Entry>, Faults> =
            kept.iter().map(|entry| entry.read(home)).collect();
        let books = entries.and_then(|entries| Books::from_entries(home, entries));
        Ok(Opened {
            books: books.map_err(|faults| damaged(faults.to_string()))?,
            recorded,
        })
    }

    /// Records what happened: all of it, or nothing.
    ///
    /// What was recorded stands on the disk when this comes back.
    ///
    /// # Errors
    /// Everything that speaks against it, each slip with its place where there are
    /// several; the store fails.
    pub fn book(&self, slips: &[SlipDoc]) -> Result<EntriesDoc, JobError> {
        self.book_checked(slips, None, |_, _| Vec::new())
    }

    /// As [`Bench::book`], where the books hold `after` entries and no more: whoever sends
    /// slips again, as their answer was lost, does not book them twice.
    ///
    /// # Errors
    /// As [`Bench::book`]; the books have grown since.
    pub fn book_after(&self, slips: &[SlipDoc], after: u64) -> Result<EntriesDoc, JobError> {
        self.book_checked(slips, Some(after), |_, _| Vec::new())
    }

    /// As [`Bench::book`], with a further look at each entry before it is kept.
    fn book_checked(
        &self,
        slips: &[SlipDoc],
        after: Option<u64>,
        look: impl Fn(usize, &Entry) -> Vec<Fault>,
    ) -> Result<EntriesDoc, JobError> {
        let names = Names::new(self.ports().store.stones()?);
        for _ in 0..TRIES {
            let opened = self.books()?;
            let mut books = opened.books;
            let n_before = books.entries().len();
            if let Some(after) = after.filter(|after| *after != n_before as u64) {
                let limit = format!(
                    "the books hold {n_before} entries by now: look whether this stands there \
                     already"
                );
                return Err(Faults::from(Fault::new("after", after, limit)).into());
            }
            let mut faults = Vec::new();
            // What a faulty slip concerns is not judged further: the rest would only
            // repeat the fault.
            let mut doubtful: Vec<Item> = Vec::new();
            for (k, slip) in slips.iter().enumerate() {
                let mut told = |list: Vec<Fault>| {
                    faults.extend(list.into_iter().map(|fault| placed(fault, k, slips.len())));
                };
                let draft = match slip::draft(slip, &self.desk(&books, &names)) {
                    Ok(draft) => draft,
                    Err(list) => {
                        told(list.0);
                        doubtful.extend(slip::items(slip, &names));
                        continue;
                    }
                };
                let items: Vec<Item> = draft.event.items().into_iter().cloned().collect();
                if items.iter().any(|item| doubtful.contains(item))
                    || (!doubtful.is_empty() && slip.entry.is_some())
                {
                    doubtful.extend(items);
                    continue;
                }
                let entry = books.entry(&draft).and_then(|entry| {
                    let list = look(k, &entry);
                    books.take(entry)?;
                    if list.is_empty() {
                        Ok(())
                    } else {
                        Err(Faults(list))
                    }
                });
                if let Err(list) = entry {
                    told(self.in_names(list, &names).0);
                    doubtful.extend(items);
                }
            }
            if !faults.is_empty() {
                return Err(Faults(faults).into());
            }
            let now = self.ports().clock.now();
            let fresh = &books.entries()[n_before..];
            let kept: Vec<KeptEntry> = fresh
                .iter()
                .map(|entry| KeptEntry::new(entry, books.home(), now))
                .collect::<Result<_, _>>()?;
            match self.ports().store.add_to_ledger(&kept)? {
                Appended::Done => {
                    let docs = fresh.iter().map(|entry| {
                        let slip = slip::words(entry, &names);
                        EntryDoc::new(entry, slip, now.to_string(), false)
                    });
                    return Ok(EntriesDoc {
                        format: ENTRIES_FORMAT.to_owned(),
                        currency: books.home().code().to_owned(),
                        entries: docs.map(|doc| names.in_accounts(doc)).collect(),
                    });
                }
                Appended::GrownMeanwhile => {}
            }
        }
        Err(outpaced())
    }

    /// A fault as people name things.
    fn in_names(&self, faults: Faults, names: &Names) -> Faults {
        Faults(
            faults
                .0
                .into_iter()
                .map(|fault| Fault {
                    value: names.in_text(&fault.value),
                    ..fault
                })
                .collect(),
        )
    }

    fn desk<'a>(&'a self, books: &'a Books, names: &'a Names) -> Desk<'a> {
        Desk {
            bench: self,
            books,
            names,
            today: self.ports().clock.today(),
        }
    }

    /// The cutter's own rate out of the price book, where it is in this currency.
    fn own_rate(&self, home: Currency) -> Result<Option<Money>, JobError> {
        let settings = self.price_book()?.settings;
        if settings.currency() != home {
            return Ok(None);
        }
        let rate = settings.costs.labour_per_hour;
        Ok(Some(Money::from_major_rounded(rate, home)?))
    }

    /// Every entry of the books, or those of a period.
    ///
    /// # Errors
    /// The store fails, or its books do not add up.
    pub fn entries_doc(&self, period: Period) -> Result<EntriesDoc, JobError> {
        let Opened { books, recorded } = self.books()?;
        let names = Names::new(self.ports().store.stones()?);
        let entries = books
            .entries()
            .iter()
            .zip(&recorded)
            .filter(|(entry, _)| period.holds(entry.date))
            .map(|(entry, at)| {
                let slip = slip::words(entry, &names);
                let corrected = books.is_corrected(entry.number);
                names.in_accounts(EntryDoc::new(entry, slip, at.to_string(), corrected))
            })
            .collect();
        Ok(EntriesDoc {
            format: ENTRIES_FORMAT.to_owned(),
            currency: books.home().code().to_owned(),
            entries,
        })
    }

    /// The entries of one stone as a document; `None` where there is none.
    pub(crate) fn books_of(&self, stone: &StoneRecord) -> Result<Option<Value>, JobError> {
        let books = self.books()?.books;
        let item = item_of(stone);
        let numbers: Vec<u64> = books
            .entries()
            .iter()
            .filter(|entry| entry.event.items().contains(&&item))
            .map(|entry| entry.number)
            .collect();
        if numbers.is_empty() {
            return Ok(None);
        }
        let mut doc = self.entries_doc(Period::default())?;
        doc.entries.retain(|entry| numbers.contains(&entry.number));
        Ok(Some(serde_json::to_value(doc)?))
    }

    /// What the books come to.
    ///
    /// # Errors
    /// The store fails, or its books do not add up.
    pub fn ledger_doc(&self, period: Period) -> Result<LedgerDoc, JobError> {
        let opened = self.books()?;
        let stones = self.ports().store.stones()?;
        summary::ledger_doc(self, &opened, stones, period)
    }

    /// Stones that were sold and stayed sold: which, when, and for how much in the
    /// books' currency.
    pub(crate) fn sold(&self) -> Result<Vec<(StoneNo, Date, Money)>, JobError> {
        let books = self.books()?.books;
        let names = Names::new(self.ports().store.stones()?);
        let came_back = |number: u64| {
            books.entries().iter().any(|entry| {
                matches!(&entry.event, Event::Returned { sale, .. } if *sale == number)
                    && !books.is_corrected(entry.number)
            })
        };
        let mut sold = Vec::new();
        for entry in books.entries() {
            let Event::Sold { item, price, .. } = &entry.event else {
                continue;
            };
            if books.is_corrected(entry.number) || came_back(entry.number) {
                continue;
            }
            if let (Some(no), Ok(amount)) = (names.number(item), price.in_home(books.home())) {
                sold.push((no, entry.date, amount));
            }
        }
        Ok(sold)
    }

    /// Minutes that were booked on each stone.
    pub(crate) fn minutes_worked(&self) -> Result<BTreeMap<StoneNo, f64>, JobError> {
        let books = self.books()?.books;
        let names = Names::new(self.ports().store.stones()?);
        let mut worked = BTreeMap::new();
        for entry in books.entries() {
            if let Event::Worked {
                on: Some(item),
                minutes,
                ..
            } = &entry.event
                && !books.is_corrected(entry.number)
                && let Some(no) = names.number(item)
            {
                *worked.entry(no).or_default() += f64::from(*minutes);
            }
        }
        Ok(worked)
    }

    /// What a held stone has cost so far; `None` where the books do not hold it.
    pub(crate) fn cost_so_far(&self, stone: &StoneRecord) -> Result<Option<Money>, JobError> {
        let books = self.books()?.books;
        let item = item_of(stone);
        let held = books.standing(&item) == Some(Standing::Held);
        Ok(held.then(|| books.cost_of(&item).total()))
    }

    /// True for each stone that was bought, or parted from one that was.
    pub(crate) fn bought(&self) -> Result<impl Fn(&StoneRecord) -> bool, JobError> {
        let books = self.books()?.books;
        Ok(move |stone: &StoneRecord| books.standing(&item_of(stone)).is_some())
    }

    /// True for each stone that was written off, or parted.
    pub(crate) fn gone(&self) -> Result<impl Fn(&StoneRecord) -> bool, JobError> {
        let books = self.books()?.books;
        Ok(move |stone: &StoneRecord| {
            let standing = books.standing(&item_of(stone));
            matches!(standing, Some(Standing::Lost(_) | Standing::Parted(_)))
        })
    }

    /// Where a stone was found, as its evidence tells.
    fn origin(&self, no: StoneNo) -> Result<Option<String>, JobError> {
        Ok(self.open_number(no)?.evidence.piece.origin)
    }
}

fn item_of(stone: &StoneRecord) -> Item {
    Item::Stone(stone.mark.clone())
}

/// Every one of the [`TRIES`] came too late.
fn outpaced() -> JobError {
    StoreError::new(
        StoreFault::Locked,
        "another program keeps writing to the books; nothing was recorded",
    )
    .into()
}

/// A fault with the place of its slip, counted from 1, where there are several.
fn placed(mut fault: Fault, k: usize, of: usize) -> Fault {
    if of > 1 {
        fault.field = format!("entry[{}].{}", k + 1, fault.field);
    }
    fault
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    #[test]
    fn periods_are_years_and_months() {
        let march = Period::parse("2026-03").expect("a month");
        assert!(march.holds(date(2026, 3, 31)) && !march.holds(date(2026, 4, 1)));
        let year = Period::parse("2024").expect("a year");
        assert!(year.holds(date(2024, 12, 31)) && !year.holds(date(2023, 12, 31)));
        for text in ["", "26", "2026-13", "2026-3", "2026-03-04", "march"] {
            assert!(Period::parse(text).is_err(), "{text}");
        }
    }
}
