//! What happened, and how it stands in the books.

use crate::account::{Account, Item};
use crate::rate::Paid;
use jiff::civil::Date;
use opal_units::Money;

/// What happened, in the trade's words.
#[derive(Clone, Debug, Eq, PartialEq)]
pub enum Event {
    /// It was bought.
    Bought {
        /// What.
        item: Item,
        /// For how much.
        price: Paid,
    },
    /// Something was used up.
    Spent {
        /// On what; on no single stone where left out.
        on: Option<Item>,
        /// How much it cost.
        amount: Paid,
    },
    /// The cutter worked.
    Worked {
        /// On what; on no single stone where left out.
        on: Option<Item>,
        /// How long, whole minutes.
        minutes: u32,
        /// The cutter's own rate, for an hour, in the books' currency.
        hourly: Money,
    },
    /// A fee was paid.
    Fee {
        /// For what; for no single stone where left out.
        on: Option<Item>,
        /// How much.
        amount: Paid,
        /// For buying or for selling.
        side: Side,
    },
    /// It was parted, by sawing or by opening the bag.
    Split {
        /// What.
        from: Item,
        /// Into what; what it stays itself is a part like the others.
        parts: Vec<Part>,
        /// What the weights are.
        basis: Basis,
    },
    /// It was sold.
    Sold {
        /// What.
        item: Item,
        /// For how much, the fee included.
        price: Paid,
        /// What the market kept of it.
        fee: Option<Paid>,
    },
    /// It came back, and money went back.
    Returned {
        /// Number of the entry that sold it.
        sale: u64,
        /// How much was given back, in the currency of the sale.
        refund: Paid,
    },
    /// It is no more: broken, ground away, stolen.
    Lost {
        /// What.
        item: Item,
    },
    /// An entry was wrong: it is taken back by its opposite, and stays on record.
    Corrected {
        /// Its number.
        entry: u64,
    },
}

/// Which side of the trade a fee belongs to.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum Side {
    /// Freight, duty, buyer's premium: part of what the stone cost.
    Buying,
    /// Listing, commission, card fee: set against the sale.
    Selling,
}

/// A part, and its weight in the sharing of the cost.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct Part {
    /// Which item it is.
    pub item: Item,
    /// Its weight: only the proportions count.
    pub weight: u64,
}

/// What the cost was shared out by.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum Basis {
    /// What each part is expected to bring, in minor units.
    ExpectedValue,
    /// Weight, where nothing is expected of any part.
    Weight,
    /// Shares that the cutter stated.
    Stated,
}

/// An event before it has its number.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct Draft {
    /// The day that it belongs to.
    pub date: Date,
    /// What happened.
    pub event: Event,
    /// The cutter's own words.
    pub note: Option<String>,
}

/// An amount put to an account.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct Posting {
    /// The account.
    pub account: Account,
    /// How much, in the books' currency.
    pub amount: Money,
}

/// An event in the books. Never changed.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct Entry {
    /// Its number, counted from 1 without a gap: the order of the books.
    pub number: u64,
    /// The day that it belongs to.
    pub date: Date,
    /// What happened.
    pub event: Event,
    /// The cutter's own words.
    pub note: Option<String>,
    /// What it moved; sums to zero.
    pub postings: Vec<Posting>,
}

impl Event {
    /// The key that records use.
    #[must_use]
    pub const fn key(&self) -> &'static str {
        match self {
            Self::Bought { .. } => "bought",
            Self::Spent { .. } => "spent",
            Self::Worked { .. } => "worked",
            Self::Fee { .. } => "fee",
            Self::Split { .. } => "split",
            Self::Sold { .. } => "sold",
            Self::Returned { .. } => "returned",
            Self::Lost { .. } => "lost",
            Self::Corrected { .. } => "corrected",
        }
    }

    /// The items that it names itself.
    #[must_use]
    pub fn items(&self) -> Vec<&Item> {
        match self {
            Self::Bought { item, .. } | Self::Sold { item, .. } | Self::Lost { item } => vec![item],
            Self::Spent { on, .. } | Self::Worked { on, .. } | Self::Fee { on, .. } => {
                on.iter().collect()
            }
            Self::Split { from, parts, .. } => {
                let parts = parts.iter().map(|part| &part.item);
                std::iter::once(from).chain(parts).collect()
            }
            Self::Returned { .. } | Self::Corrected { .. } => Vec::new(),
        }
    }
}

impl Entry {
    /// True when it concerns this item.
    #[must_use]
    pub fn concerns(&self, item: &Item) -> bool {
        self.event.items().contains(&item)
            || self
                .postings
                .iter()
                .any(|posting| posting.account.item() == Some(item))
    }
}
