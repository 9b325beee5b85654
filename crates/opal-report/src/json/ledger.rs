//! `opalwright-slip/1`, `opalwright-entries/1`, `opalwright-ledger/1`: what is
//! recorded, what stands in the books, and what it comes to.

use opal_ledger::{Costs, Entry, Outcome};
use opal_units::Money;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// The name of the format of entries, with its version.
pub const ENTRIES_FORMAT: &str = "opalwright-entries/1";
/// The name of the format of the ledger, with its version.
pub const LEDGER_FORMAT: &str = "opalwright-ledger/1";

/// What happened.
#[derive(Clone, Copy, Debug, Default, Eq, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum SlipWhat {
    /// A stone or a parcel was bought.
    #[default]
    Bought,
    /// Something was used up.
    Spent,
    /// The cutter worked.
    Worked,
    /// A fee was paid.
    Fee,
    /// A stone was sawn, or a bag opened.
    Split,
    /// A stone or a parcel was sold.
    Sold,
    /// A stone came back.
    Returned,
    /// A stone is no more.
    Lost,
    /// An entry was wrong.
    Corrected,
}

/// One thing that happened, as a person fills it in. Amounts are decimal texts.
#[derive(Clone, Debug, Default, Eq, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SlipDoc {
    /// What happened.
    pub what: SlipWhat,
    /// The day, as 2026-03-04; today where left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub date: Option<String>,
    /// The stone, by name or number.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stone: Option<String>,
    /// The parcel, by its name.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub parcel: Option<String>,
    /// The price, the fee, what was spent, or what was given back (for a return the
    /// whole price where left out).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub amount: Option<String>,
    /// Its currency, ISO 4217 code; the books' own where left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub currency: Option<String>,
    /// What one unit of that currency was worth in the books' own on that day.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rate: Option<String>,
    /// `sold`: what the market kept of the price, in the same currency.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub fee: Option<String>,
    /// `fee`: `buying` or `selling`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub side: Option<SlipSide>,
    /// `worked`: how long, whole minutes.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub minutes: Option<u32>,
    /// `worked`: your rate for an hour; the price book's where left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub hourly: Option<String>,
    /// `returned`: number of the sale. `corrected`: number of the wrong entry.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub entry: Option<u64>,
    /// `split`: what it became; name the stone itself where some of it stays.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub parts: Vec<PartDoc>,
    /// `split`: what the shares are; left out, they are yours where given and the
    /// expected values of the kept bids where not.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub shares_by: Option<SharesBy>,
    /// Your own words.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

/// A part of what was split.
#[derive(Clone, Debug, Default, Eq, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PartDoc {
    /// The stone, by name or number.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stone: Option<String>,
    /// The parcel, by its name.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub parcel: Option<String>,
    /// Its share of the cost: only the proportions count.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub share: Option<u64>,
}

/// Which side of the trade a fee belongs to.
#[derive(Clone, Copy, Debug, Eq, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum SlipSide {
    /// Freight, duty, buyer's premium: part of what the stone cost.
    Buying,
    /// Listing, commission, card fee: set against the sale.
    Selling,
}

/// What a cost was shared out by.
#[derive(Clone, Copy, Debug, Eq, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum SharesBy {
    /// What each part is expected to bring, in minor units.
    ExpectedValue,
    /// Weight, where nothing is expected of any part.
    Weight,
    /// Shares that the cutter stated.
    Stated,
}

/// An amount put to an account, in the currency of the books.
#[derive(Clone, Debug, Eq, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct PostingDoc {
    /// The account.
    pub account: String,
    /// Above 0: it comes in or is spent (debit). Below 0: it goes out or is earned
    /// (credit).
    pub amount: String,
}

/// An entry of the books.
#[derive(Clone, Debug, Eq, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct EntryDoc {
    /// Its number: the order of the books.
    pub number: u64,
    /// When it was recorded, by this computer's clock.
    pub recorded: String,
    /// What happened.
    pub slip: SlipDoc,
    /// What it moved; sums to zero.
    pub postings: Vec<PostingDoc>,
    /// True when a later entry took it back.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub corrected: bool,
}

/// Entries of the books, by number.
#[derive(Clone, Debug, Eq, PartialEq, Serialize, Deserialize, JsonSchema)]
#[schemars(title = "opalwright-entries/1")]
pub struct EntriesDoc {
    /// `opalwright-entries/1`.
    pub format: String,
    /// The currency of the books.
    pub currency: String,
    /// The entries.
    pub entries: Vec<EntryDoc>,
}

/// What was earned. Amounts are in the currency of the books.
#[derive(Clone, Debug, Eq, PartialEq, Serialize, JsonSchema)]
pub struct OutcomeDoc {
    /// Sales that stand.
    pub sold: i64,
    /// Taken for them, less what was given back.
    pub sales: String,
    /// What it had cost.
    pub cost: CostsDoc,
    /// Fees of selling.
    pub fees: String,
    /// Cost of what was written off.
    pub lost: String,
    /// What no single stone can be charged with.
    pub overhead: String,
    /// What is left after all of these.
    pub profit: String,
    /// What is left when your own time costs nothing.
    pub profit_before_time: String,
}

/// A cost by what it was for.
#[derive(Clone, Debug, Eq, PartialEq, Serialize, JsonSchema)]
pub struct CostsDoc {
    /// The price of the rough, or of the stone.
    pub bought: String,
    /// Fees and freight of the purchase.
    pub brought_in: String,
    /// What was used up.
    pub consumables: String,
    /// Your own time.
    pub time: String,
    /// All of it.
    pub total: String,
}

/// What a stone, or several, should still bring after the work and the fee: out of
/// the bids that were kept.
#[derive(Clone, Debug, Eq, PartialEq, Serialize, JsonSchema)]
pub struct ExpectedDoc {
    /// The mean.
    pub mean: String,
    /// One chance in twenty lies below. For several stones these are summed as if all
    /// went ill together: the cautious reading.
    pub low: String,
    /// One chance in twenty lies above; for several, as if all went well together.
    pub high: String,
}

/// What is held of a group.
#[derive(Clone, Debug, Eq, PartialEq, Serialize, JsonSchema)]
pub struct HeldDoc {
    /// How many stones and parcels.
    pub pieces: usize,
    /// What they cost so far.
    pub cost: CostsDoc,
    /// What those that were worked out should still bring.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub expected: Option<ExpectedDoc>,
    /// How many were not worked out.
    pub not_worked_out: usize,
}

/// A stone, a parcel, an origin or a month.
#[derive(Clone, Debug, Eq, PartialEq, Serialize, JsonSchema)]
pub struct GroupDoc {
    /// Its name.
    pub name: String,
    /// What was earned with it.
    pub outcome: OutcomeDoc,
    /// What of it is still held.
    pub held: HeldDoc,
}

/// A stone or parcel that is held.
#[derive(Clone, Debug, Eq, PartialEq, Serialize, JsonSchema)]
pub struct HeldItemDoc {
    /// Its name.
    pub name: String,
    /// Its number, for a stone of the store.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub number: Option<i64>,
    /// The parcel that it came out of, or that it is.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub parcel: Option<String>,
    /// Where it was found, as told.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub origin: Option<String>,
    /// The first day that the books name it.
    pub since: String,
    /// What it cost so far.
    pub cost: CostsDoc,
    /// What it should still bring.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub expected: Option<ExpectedDoc>,
    /// The day that this was worked out.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub worked_out: Option<String>,
}

/// What stands on one kind of account.
#[derive(Clone, Debug, Eq, PartialEq, Serialize, JsonSchema)]
pub struct BalanceDoc {
    /// `cash`, `own-time`, `held`, `sales`, `sold-cost`, `fees`, `lost` or `overhead`.
    pub account: String,
    /// What stands there; all of them sum to zero.
    pub amount: String,
}

/// What the books come to.
#[derive(Clone, Debug, Eq, PartialEq, Serialize, JsonSchema)]
#[schemars(title = "opalwright-ledger/1")]
pub struct LedgerDoc {
    /// `opalwright-ledger/1`.
    pub format: String,
    /// The currency of the books: of every amount here.
    pub currency: String,
    /// First day that counts, where one was asked for.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub from: Option<String>,
    /// Last day that counts, where one was asked for; what is held, is held at its end.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub to: Option<String>,
    /// How many entries count.
    pub entries: usize,
    /// What was earned in all.
    pub outcome: OutcomeDoc,
    /// What is held in all.
    pub held: HeldDoc,
    /// By stone; the profits sum to the whole.
    pub by_stone: Vec<GroupDoc>,
    /// By parcel.
    pub by_parcel: Vec<GroupDoc>,
    /// By origin.
    pub by_origin: Vec<GroupDoc>,
    /// By month; held is what came in that month.
    pub by_month: Vec<GroupDoc>,
    /// Everything that is held.
    pub items: Vec<HeldItemDoc>,
    /// What stands on the accounts at the end.
    pub balances: Vec<BalanceDoc>,
    /// What the figures rest on.
    pub rests_on: Vec<String>,
    /// What the cutter should know.
    pub warnings: Vec<String>,
}

impl From<&Costs> for CostsDoc {
    fn from(costs: &Costs) -> Self {
        Self {
            bought: costs.bought.amount_text(),
            brought_in: costs.brought_in.amount_text(),
            consumables: costs.consumables.amount_text(),
            time: costs.time.amount_text(),
            total: costs.total().amount_text(),
        }
    }
}

impl From<&Outcome> for OutcomeDoc {
    fn from(outcome: &Outcome) -> Self {
        Self {
            sold: outcome.n_sold,
            sales: outcome.sales.amount_text(),
            cost: CostsDoc::from(&outcome.sold_cost),
            fees: outcome.fees.amount_text(),
            lost: outcome.lost.total().amount_text(),
            overhead: outcome.overhead.total().amount_text(),
            profit: outcome.profit().amount_text(),
            profit_before_time: outcome.profit_before_time().amount_text(),
        }
    }
}

impl EntryDoc {
    /// An entry whose slip was put into words before.
    #[must_use]
    pub fn new(entry: &Entry, slip: SlipDoc, recorded: String, corrected: bool) -> Self {
        Self {
            number: entry.number,
            recorded,
            slip,
            postings: entry
                .postings
                .iter()
                .map(|posting| PostingDoc {
                    account: posting.account.to_string(),
                    amount: posting.amount.amount_text(),
                })
                .collect(),
            corrected,
        }
    }
}

impl ExpectedDoc {
    /// From the mean and the two bounds.
    #[must_use]
    pub fn new([mean, low, high]: [Money; 3]) -> Self {
        Self {
            mean: mean.amount_text(),
            low: low.amount_text(),
            high: high.amount_text(),
        }
    }
}
