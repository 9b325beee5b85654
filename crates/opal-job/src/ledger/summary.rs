//! What the books come to, as a document.

use super::names::Names;
use super::{Opened, Period};
use crate::bench::Bench;
use crate::error::JobError;
use crate::ledger::expected::Expected;
use crate::records::StoneRecord;
use jiff::civil::Date;
use opal_ledger::{Account, Books, Costs, Entry, Item, Outcome};
use opal_report::json::{
    BalanceDoc, CostsDoc, ExpectedDoc, GroupDoc, HeldDoc, HeldItemDoc, LEDGER_FORMAT, LedgerDoc,
    OutcomeDoc,
};
use opal_units::Money;
use std::collections::{BTreeMap, BTreeSet};

/// What no single stone can be charged with, as a group.
const NO_STONE: &str = "no single stone";
/// Stones that came out of no parcel, as a group.
const SINGLY: &str = "bought singly";
/// Stones of which nobody said where they were found.
const NO_ORIGIN: &str = "origin not told";

/// Something that is held.
struct Held {
    item: Item,
    costs: Costs,
    since: Date,
    expected: Option<Expected>,
}

/// What is known of the items beside the books.
struct Facts {
    names: Names,
    origins: BTreeMap<Item, String>,
}

impl Facts {
    fn origin<'a>(&'a self, books: &'a Books, item: &'a Item) -> Option<&'a str> {
        books
            .line_of(item)
            .find_map(|item| self.origins.get(item))
            .map(String::as_str)
    }
}

pub(super) fn ledger_doc(
    bench: &Bench,
    opened: &Opened,
    stones: Vec<StoneRecord>,
    period: Period,
) -> Result<LedgerDoc, JobError> {
    let all = &opened.books;
    let at_end = match period.to {
        Some(to) => all.as_of(to),
        None => all.clone(),
    };
    let facts = Facts {
        origins: origins(bench, all, &stones)?,
        names: Names::new(stones),
    };
    let held = held(bench, &at_end, &facts.names)?;
    let counts = |entry: &Entry| period.holds(entry.date);
    let grouped = |key: &dyn Fn(&Entry, Option<&Item>) -> String| {
        all.outcomes(|entry, item| counts(entry).then(|| key(entry, item)))
    };
    let by_stone = |item: Option<&Item>| item.map_or(NO_STONE.to_owned(), |i| facts.names.name(i));
    let by_parcel = |item: Option<&Item>| match item {
        None => NO_STONE.to_owned(),
        Some(item) => all.parcel_of(item).unwrap_or(SINGLY).to_owned(),
    };
    let by_origin = |item: Option<&Item>| match item {
        None => NO_STONE.to_owned(),
        Some(item) => facts.origin(all, item).unwrap_or(NO_ORIGIN).to_owned(),
    };
    let month = |day: Date| format!("{:04}-{:02}", day.year(), day.month());
    let outcome = all
        .outcomes(|entry, _| counts(entry).then_some(()))
        .remove(&())
        .unwrap_or_else(|| Outcome::zero(all.home()));
    let groups = |outcomes: BTreeMap<String, Outcome>, key: &dyn Fn(&Held) -> String| {
        joined(outcomes, &held, key, all)
    };
    let mut stone_by_stone = groups(grouped(&|_, item| by_stone(item)), &|h| {
        by_stone(Some(&h.item))
    });
    stone_by_stone.sort_by_key(|group| facts.names.place(&group.name));
    let mut items: Vec<HeldItemDoc> = held
        .iter()
        .map(|held| item_doc(held, &at_end, &facts))
        .collect();
    items.sort_by_key(|item| facts.names.place(&item.name));
    Ok(LedgerDoc {
        format: LEDGER_FORMAT.to_owned(),
        currency: all.home().code().to_owned(),
        from: period.from.map(|day| day.to_string()),
        to: period.to.map(|day| day.to_string()),
        entries: all.entries().iter().filter(|entry| counts(entry)).count(),
        outcome: OutcomeDoc::from(&outcome),
        held: held_doc(&held.iter().collect::<Vec<_>>(), all),
        by_stone: stone_by_stone,
        by_parcel: groups(grouped(&|_, item| by_parcel(item)), &|h| {
            by_parcel(Some(&h.item))
        }),
        by_origin: groups(grouped(&|_, item| by_origin(item)), &|h| {
            by_origin(Some(&h.item))
        }),
        by_month: groups(grouped(&|entry, _| month(entry.date)), &|h| month(h.since)),
        items,
        balances: balances(&at_end),
        rests_on: rests_on(&held),
        warnings: warnings(opened, &held),
    })
}

/// Where the stones of the books were found.
fn origins(
    bench: &Bench,
    books: &Books,
    stones: &[StoneRecord],
) -> Result<BTreeMap<Item, String>, JobError> {
    let named: BTreeSet<&Item> = books
        .balances()
        .filter_map(|(account, _)| account.item())
        .collect();
    let mut origins = BTreeMap::new();
    for stone in stones {
        let item = Item::Stone(stone.mark.clone());
        if named.contains(&item)
            && let Some(origin) = bench.origin(stone.no)?
        {
            origins.insert(item, origin);
        }
    }
    Ok(origins)
}

fn held(bench: &Bench, books: &Books, names: &Names) -> Result<Vec<Held>, JobError> {
    let mut since: BTreeMap<&Item, Date> = BTreeMap::new();
    for entry in books.entries() {
        let posted = entry.postings.iter().filter_map(|p| p.account.item());
        for item in entry.event.items().into_iter().chain(posted) {
            let first = since.entry(item).or_insert(entry.date);
            *first = entry.date.min(*first);
        }
    }
    books
        .held()
        .into_iter()
        .map(|(item, costs)| {
            let expected = match names.number(item) {
                Some(no) => bench.expected(no)?,
                None => None,
            };
            Ok(Held {
                item: item.clone(),
                costs,
                since: since.get(item).copied().unwrap_or_default(),
                expected: expected.filter(|e| e.mean.currency() == books.home()),
            })
        })
        .collect()
}

fn expected_doc(expected: &Expected) -> ExpectedDoc {
    ExpectedDoc::new([expected.mean, expected.low, expected.high])
}

fn item_doc(held: &Held, books: &Books, facts: &Facts) -> HeldItemDoc {
    let text = |text: &str| text.to_owned();
    HeldItemDoc {
        name: facts.names.name(&held.item),
        number: facts.names.number(&held.item).map(|no| no.0),
        parcel: books.parcel_of(&held.item).map(text),
        origin: facts.origin(books, &held.item).map(text),
        since: held.since.to_string(),
        cost: CostsDoc::from(&held.costs),
        expected: held.expected.as_ref().map(expected_doc),
        worked_out: held
            .expected
            .map(|expected| expected.at.to_string().chars().take(10).collect()),
    }
}

/// Sums below what the books can hold: each was one amount of them, or a forecast.
fn sum(amounts: impl Iterator<Item = Money>, books: &Books) -> Money {
    let minor = amounts.fold(0_i64, |sum, amount| sum.saturating_add(amount.minor()));
    Money::from_minor(minor, books.home())
}

fn held_doc(held: &[&Held], books: &Books) -> HeldDoc {
    let cost = |part: fn(&Costs) -> Money| sum(held.iter().map(|held| part(&held.costs)), books);
    let costs = Costs {
        bought: cost(|costs| costs.bought),
        brought_in: cost(|costs| costs.brought_in),
        consumables: cost(|costs| costs.consumables),
        time: cost(|costs| costs.time),
    };
    let expected: Vec<&Expected> = held.iter().filter_map(|h| h.expected.as_ref()).collect();
    let total = |part: fn(&Expected) -> Money| sum(expected.iter().map(|e| part(e)), books);
    HeldDoc {
        pieces: held.len(),
        cost: CostsDoc::from(&costs),
        expected: (!expected.is_empty())
            .then(|| ExpectedDoc::new([total(|e| e.mean), total(|e| e.low), total(|e| e.high)])),
        not_worked_out: held.len() - expected.len(),
    }
}

/// What was earned and what is held, group by group.
fn joined(
    outcomes: BTreeMap<String, Outcome>,
    held: &[Held],
    key: &dyn Fn(&Held) -> String,
    books: &Books,
) -> Vec<GroupDoc> {
    let mut groups: BTreeMap<String, (Outcome, Vec<&Held>)> = outcomes
        .into_iter()
        .map(|(name, outcome)| (name, (outcome, Vec::new())))
        .collect();
    for held in held {
        groups
            .entry(key(held))
            .or_insert_with(|| (Outcome::zero(books.home()), Vec::new()))
            .1
            .push(held);
    }
    groups
        .into_iter()
        .map(|(name, (outcome, held))| GroupDoc {
            name,
            outcome: OutcomeDoc::from(&outcome),
            held: held_doc(&held, books),
        })
        .collect()
}

/// What stands on each kind of account.
fn balances(books: &Books) -> Vec<BalanceDoc> {
    let kind = |account: &Account| {
        let text = account.to_string();
        text.split('/').next().unwrap_or_default().to_owned()
    };
    let mut sums: BTreeMap<String, i64> = BTreeMap::new();
    for (account, amount) in books.balances() {
        *sums.entry(kind(account)).or_default() += amount.minor();
    }
    sums.into_iter()
        .map(|(account, minor)| BalanceDoc {
            account,
            amount: Money::from_minor(minor, books.home()).amount_text(),
        })
        .collect()
}

fn rests_on(held: &[Held]) -> Vec<String> {
    let mut list = vec![
        "Amounts that were paid, taken and worked are what you recorded, exact to the minor unit; \
         other currencies stand at the rate of their day."
            .to_owned(),
        "What is held stands at what it cost: its price, what it took to bring it in, what was \
         used up on it, and your own time."
            .to_owned(),
    ];
    if held.iter().any(|held| held.expected.is_some()) {
        list.push(
            "What is held should still bring what its last worked-out bid expects, after the work \
             to come and the fee; work that was done since then is not taken off again. The bounds \
             of several stones are summed as if all went ill, or well, together."
                .to_owned(),
        );
    }
    list
}

fn warnings(opened: &Opened, held: &[Held]) -> Vec<String> {
    let mut list = Vec::new();
    let back = opened.recorded.windows(2).position(|two| two[1] < two[0]);
    if let Some(k) = back {
        list.push(format!(
            "Entry {} was recorded when this computer's clock stood earlier than at entry {}. The \
             books go by the numbers; look over the dates.",
            k + 2,
            k + 1
        ));
    }
    let missing = held.iter().filter(|held| held.expected.is_none()).count();
    if missing > 0 {
        list.push(format!(
            "{missing} of {} held pieces have no worked-out value, and count at nothing in what \
             is expected.",
            held.len()
        ));
    }
    list
}
