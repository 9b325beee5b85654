//! The books as they stand.

use crate::account::{Account, Cost, Item};
use crate::entry::{Draft, Entry, Event};
use crate::outcome::Costs;
use crate::post::postings;
use jiff::civil::Date;
use opal_evidence::{Fault, Faults};
use opal_units::{Currency, Money};
use std::collections::{BTreeMap, BTreeSet};

/// How an item stands.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum Standing {
    /// It is there.
    Held,
    /// The entry of this number sold it.
    Sold(u64),
    /// The entry of this number wrote it off.
    Lost(u64),
    /// The entry of this number parted it: its parts stand in its place.
    Parted(u64),
}

/// All entries, and what they add up to.
#[derive(Clone, Debug, PartialEq)]
pub struct Books {
    home: Currency,
    entries: Vec<Entry>,
    balances: BTreeMap<Account, i64>,
    /// Sum of the sizes of all postings. It fits, so every sum of some of them does.
    turnover: i64,
    corrected: BTreeSet<u64>,
    standings: BTreeMap<Item, Standing>,
    parents: BTreeMap<Item, Item>,
}

impl Books {
    /// Books without an entry, in this currency.
    #[must_use]
    pub fn new(home: Currency) -> Self {
        Self {
            home,
            entries: Vec::new(),
            balances: BTreeMap::new(),
            turnover: 0,
            corrected: BTreeSet::new(),
            standings: BTreeMap::new(),
            parents: BTreeMap::new(),
        }
    }

    /// Books out of the entries that were kept.
    ///
    /// # Errors
    /// Entries that are missing, do not sum to zero or are in another currency; all
    /// of them, each with its number.
    pub fn from_entries(home: Currency, entries: Vec<Entry>) -> Result<Self, Faults> {
        let mut books = Self::new(home);
        let mut faults = Vec::new();
        for entry in entries {
            if let Err(fault) = books.take(entry) {
                faults.push(fault);
            }
        }
        if faults.is_empty() {
            Ok(books)
        } else {
            Err(Faults(faults))
        }
    }

    /// The books with only what is dated up to this day.
    #[must_use]
    pub fn as_of(&self, day: Date) -> Self {
        let mut books = Self::new(self.home);
        for entry in self.entries.iter().filter(|entry| entry.date <= day) {
            books.apply(entry.clone());
        }
        books
    }

    /// What an event would be as the next entry.
    ///
    /// # Errors
    /// Everything that speaks against it.
    pub fn entry(&self, draft: &Draft) -> Result<Entry, Faults> {
        let postings = postings(self, &draft.event)?;
        let entry = Entry {
            number: self.next_number(),
            date: draft.date,
            event: draft.event.clone(),
            note: draft.note.clone(),
            postings,
        };
        self.check(&entry)?;
        Ok(entry)
    }

    /// Adds an entry.
    ///
    /// # Errors
    /// Its number is not the next one, it does not sum to zero, or it is in another
    /// currency.
    pub fn take(&mut self, entry: Entry) -> Result<(), Fault> {
        self.check(&entry)?;
        self.apply(entry);
        Ok(())
    }

    fn check(&self, entry: &Entry) -> Result<(), Fault> {
        let refuse = |field: &str, value: String, limit: &str| {
            Err(Fault::new(
                format!("entry {}: {field}", entry.number),
                value,
                limit,
            ))
        };
        if entry.number != self.next_number() {
            let next = format!(
                "the next number is {}; an entry is missing",
                self.next_number()
            );
            return refuse("number", entry.number.to_string(), &next);
        }
        let mut sum = 0_i64;
        let mut turnover = self.turnover;
        for posting in &entry.postings {
            if posting.amount.currency() != self.home {
                let limit = format!("the books are in {}", self.home);
                return refuse("currency", posting.amount.currency().to_string(), &limit);
            }
            let grown = i64::try_from(posting.amount.minor().unsigned_abs())
                .ok()
                .and_then(|size| turnover.checked_add(size));
            let Some(grown) = grown else {
                let limit = "the sum of all amounts is larger than can be kept exactly";
                return refuse("amount", posting.amount.to_string(), limit);
            };
            turnover = grown;
            sum += posting.amount.minor();
        }
        if sum != 0 {
            let sum = Money::from_minor(sum, self.home).to_string();
            return refuse("sum of the postings", sum, "it must be 0");
        }
        Ok(())
    }

    fn apply(&mut self, entry: Entry) {
        for posting in &entry.postings {
            let minor = posting.amount.minor();
            self.turnover = self.turnover.saturating_add(minor.saturating_abs());
            *self.balances.entry(posting.account.clone()).or_default() += minor;
        }
        if let Event::Corrected { entry: wrong } = entry.event {
            self.corrected.insert(wrong);
            self.entries.push(entry);
            self.stand_anew();
        } else {
            self.stand(&entry);
            self.entries.push(entry);
        }
    }

    /// The standings from the entries that were not taken back.
    fn stand_anew(&mut self) {
        self.standings.clear();
        self.parents.clear();
        for k in 0..self.entries.len() {
            let entry = self.entries[k].clone();
            if !self.corrected.contains(&entry.number) {
                self.stand(&entry);
            }
        }
    }

    fn stand(&mut self, entry: &Entry) {
        let number = entry.number;
        let mut set = |item: &Item, standing| {
            self.standings.insert(item.clone(), standing);
        };
        match &entry.event {
            Event::Bought { item, .. } => set(item, Standing::Held),
            Event::Sold { item, .. } => set(item, Standing::Sold(number)),
            Event::Lost { item } => set(item, Standing::Lost(number)),
            Event::Split { from, parts, .. } => {
                set(from, Standing::Parted(number));
                for part in parts {
                    set(&part.item, Standing::Held);
                    if part.item != *from {
                        self.parents.insert(part.item.clone(), from.clone());
                    }
                }
            }
            Event::Returned { sale, .. } => {
                if let Some(item) = self.sold_by(*sale).cloned() {
                    self.standings.insert(item, Standing::Held);
                }
            }
            Event::Spent { on, .. } | Event::Worked { on, .. } => {
                if let Some(item) = on {
                    set(item, Standing::Held);
                }
            }
            // A fee may come after the sale.
            Event::Fee { on, .. } => {
                if let Some(item) = on {
                    self.standings.entry(item.clone()).or_insert(Standing::Held);
                }
            }
            Event::Corrected { .. } => {}
        }
    }

    /// The item that an entry sold.
    pub(crate) fn sold_by(&self, number: u64) -> Option<&Item> {
        match &self.numbered(number)?.event {
            Event::Sold { item, .. } => Some(item),
            _ => None,
        }
    }

    fn next_number(&self) -> u64 {
        self.entries.last().map_or(1, |entry| entry.number + 1)
    }

    /// The currency of the books.
    #[must_use]
    pub const fn home(&self) -> Currency {
        self.home
    }

    /// All entries, by number.
    #[must_use]
    pub fn entries(&self) -> &[Entry] {
        &self.entries
    }

    /// The entry of a number.
    #[must_use]
    pub fn numbered(&self, number: u64) -> Option<&Entry> {
        let at = self
            .entries
            .binary_search_by_key(&number, |entry| entry.number)
            .ok()?;
        self.entries.get(at)
    }

    /// True when a later entry took this one back.
    #[must_use]
    pub fn is_corrected(&self, number: u64) -> bool {
        self.corrected.contains(&number)
    }

    /// What stands on an account.
    #[must_use]
    pub fn balance(&self, account: &Account) -> Money {
        let minor = self.balances.get(account).copied().unwrap_or(0);
        Money::from_minor(minor, self.home)
    }

    /// Every account that was ever used, with what stands on it: sums to zero.
    pub fn balances(&self) -> impl Iterator<Item = (&Account, Money)> {
        self.balances
            .iter()
            .map(|(account, &minor)| (account, Money::from_minor(minor, self.home)))
    }

    /// How an item stands; `None` where the books do not name it.
    #[must_use]
    pub fn standing(&self, item: &Item) -> Option<Standing> {
        self.standings.get(item).copied()
    }

    /// What an item is held at.
    #[must_use]
    pub fn cost_of(&self, item: &Item) -> Costs {
        Costs::from(Cost::ALL.map(|cost| self.balance(&Account::Held(cost, item.clone()))))
    }

    /// Everything that is held, with what it cost.
    #[must_use]
    pub fn held(&self) -> Vec<(&Item, Costs)> {
        self.standings
            .iter()
            .filter(|(_, standing)| **standing == Standing::Held)
            .map(|(item, _)| (item, self.cost_of(item)))
            .collect()
    }

    /// The item itself, then what it was parted from, up to what was bought.
    pub fn line_of<'a>(&'a self, item: &'a Item) -> impl Iterator<Item = &'a Item> {
        std::iter::successors(Some(item), |item| self.parents.get(*item))
    }

    /// The parcel that an item came out of, or that it is.
    #[must_use]
    pub fn parcel_of<'a>(&'a self, item: &'a Item) -> Option<&'a str> {
        self.line_of(item).find_map(|item| match item {
            Item::Parcel(name) => Some(name.as_str()),
            Item::Stone(_) => None,
        })
    }
}
