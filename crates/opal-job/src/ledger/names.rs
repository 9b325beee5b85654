//! Stones as people name them, and as the books do.

use crate::records::{StoneNo, StoneRecord};
use opal_ledger::{Account, Item};
use opal_report::json::EntryDoc;

/// The stones of the store by mark, name and number.
pub(super) struct Names {
    stones: Vec<StoneRecord>,
}

impl Names {
    pub(super) fn new(stones: Vec<StoneRecord>) -> Self {
        Self { stones }
    }

    /// The stone of a name (capitals aside) or number; a name that looks like a
    /// number wins over the number.
    pub(super) fn find(&self, name_or_no: &str) -> Option<Item> {
        let name = name_or_no.trim();
        let by_name = |stone: &&StoneRecord| stone.name.eq_ignore_ascii_case(name);
        let by_no = |stone: &&StoneRecord| name.parse() == Ok(stone.no.0);
        self.stones
            .iter()
            .find(by_name)
            .or_else(|| self.stones.iter().find(by_no))
            .map(|stone| Item::Stone(stone.mark.clone()))
    }

    fn record(&self, item: &Item) -> Option<&StoneRecord> {
        match item {
            Item::Stone(mark) => self.stones.iter().find(|stone| stone.mark == *mark),
            Item::Parcel(_) => None,
        }
    }

    pub(super) fn number(&self, item: &Item) -> Option<StoneNo> {
        self.record(item).map(|stone| stone.no)
    }

    /// Where a name stands in a list: stones in the order of their numbers, all others
    /// behind them.
    pub(super) fn place(&self, name: &str) -> usize {
        let found = self.stones.iter().position(|stone| stone.name == name);
        found.unwrap_or(usize::MAX)
    }

    /// A stone that is not in this store is called by the start of its mark.
    pub(super) fn name(&self, item: &Item) -> String {
        match (item, self.record(item)) {
            (_, Some(stone)) => stone.name.clone(),
            (Item::Parcel(name), None) => name.clone(),
            (Item::Stone(mark), None) => mark.clone(),
        }
    }

    /// A text in which an item may stand as the books name it.
    pub(super) fn in_text(&self, text: &str) -> String {
        match text.parse::<Item>() {
            Ok(Item::Parcel(name)) => format!("parcel '{name}'"),
            Ok(item) => format!("stone '{}'", self.name(&item)),
            Err(_) => text.to_owned(),
        }
    }

    /// The accounts of an entry with the stones' names in the place of their marks.
    pub(super) fn in_accounts(&self, mut doc: EntryDoc) -> EntryDoc {
        for posting in &mut doc.postings {
            if let Ok(account) = posting.account.parse::<Account>()
                && let Some(item @ Item::Stone(mark)) = account.item()
            {
                posting.account = posting.account.replace(mark.as_str(), &self.name(item));
            }
        }
        doc
    }
}
