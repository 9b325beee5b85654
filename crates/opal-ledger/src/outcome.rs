//! What was earned, by stone, parcel, origin, month or whatever is asked.

use crate::account::{Account, Cost, Item};
use crate::books::Books;
use crate::entry::{Entry, Event};
use opal_units::{Currency, Money};
use std::collections::BTreeMap;

/// A cost by what it was for.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub struct Costs {
    /// The price of the rough, or of the stone.
    pub bought: Money,
    /// Fees and freight of the purchase.
    pub brought_in: Money,
    /// What was used up.
    pub consumables: Money,
    /// The cutter's own time.
    pub time: Money,
}

impl From<[Money; 4]> for Costs {
    /// In the order of [`Cost::ALL`].
    fn from([bought, brought_in, consumables, time]: [Money; 4]) -> Self {
        Self {
            bought,
            brought_in,
            consumables,
            time,
        }
    }
}

impl Costs {
    fn zero(home: Currency) -> Self {
        Self::from([Money::from_minor(0, home); 4])
    }

    fn of(&mut self, cost: Cost) -> &mut Money {
        match cost {
            Cost::Bought => &mut self.bought,
            Cost::BroughtIn => &mut self.brought_in,
            Cost::Consumables => &mut self.consumables,
            Cost::Time => &mut self.time,
        }
    }

    /// All of it.
    #[must_use]
    pub fn total(&self) -> Money {
        [self.brought_in, self.consumables, self.time]
            .into_iter()
            .fold(self.bought, sum)
    }
}

/// What was earned.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub struct Outcome {
    /// Sales that stand: neither returned nor corrected within what was asked.
    pub n_sold: i64,
    /// Taken for what was sold, less what was given back.
    pub sales: Money,
    /// What it had cost.
    pub sold_cost: Costs,
    /// Fees of selling.
    pub fees: Money,
    /// Cost of what was written off.
    pub lost: Costs,
    /// What no single stone can be charged with.
    pub overhead: Costs,
}

impl Outcome {
    /// Nothing yet.
    #[must_use]
    pub fn zero(home: Currency) -> Self {
        let none = Money::from_minor(0, home);
        Self {
            n_sold: 0,
            sales: none,
            sold_cost: Costs::zero(home),
            fees: none,
            lost: Costs::zero(home),
            overhead: Costs::zero(home),
        }
    }

    /// What is left after all costs, the cutter's own time among them.
    #[must_use]
    pub fn profit(&self) -> Money {
        let costs = [
            self.sold_cost.total(),
            self.fees,
            self.lost.total(),
            self.overhead.total(),
        ];
        let minor = costs
            .into_iter()
            .fold(self.sales.minor(), |left, cost| left - cost.minor());
        Money::from_minor(minor, self.sales.currency())
    }

    /// What is left when the cutter's own time costs nothing.
    #[must_use]
    pub fn profit_before_time(&self) -> Money {
        [self.sold_cost.time, self.lost.time, self.overhead.time]
            .into_iter()
            .fold(self.profit(), sum)
    }

    fn add(&mut self, account: &Account, amount: Money) {
        match account {
            Account::Cash | Account::OwnTime | Account::Held(..) => {}
            Account::Sales(_) => {
                let minor = self.sales.minor() - amount.minor();
                self.sales = Money::from_minor(minor, amount.currency());
            }
            Account::Fees(_) => self.fees = sum(self.fees, amount),
            Account::SoldCost(cost, _) => add_to(self.sold_cost.of(*cost), amount),
            Account::Lost(cost, _) => add_to(self.lost.of(*cost), amount),
            Account::Overhead(cost) => add_to(self.overhead.of(*cost), amount),
        }
    }
}

/// Both are part of one set of books, whose turnover fits and has one currency.
fn sum(a: Money, b: Money) -> Money {
    Money::from_minor(a.minor() + b.minor(), a.currency())
}

fn add_to(place: &mut Money, amount: Money) {
    *place = sum(*place, amount);
}

impl Books {
    /// What was earned, grouped by what `key` makes of an entry and an item (`None`
    /// where it was for no single one); what has no key is left out.
    ///
    /// Every posting goes to one group at most, so that where all have a key the
    /// profits of the groups sum to the profit of the whole.
    pub fn outcomes<K: Ord>(
        &self,
        key: impl Fn(&Entry, Option<&Item>) -> Option<K>,
    ) -> BTreeMap<K, Outcome> {
        let mut groups = BTreeMap::new();
        for entry in self.entries() {
            let earned = entry.postings.iter().filter(|posting| {
                !matches!(
                    posting.account,
                    Account::Cash | Account::OwnTime | Account::Held(..)
                )
            });
            for posting in earned {
                if let Some(key) = key(entry, posting.account.item()) {
                    groups
                        .entry(key)
                        .or_insert_with(|| Outcome::zero(self.home()))
                        .add(&posting.account, posting.amount);
                }
            }
            let (item, step) = self.sale_counted(entry);
            if step != 0
                && let Some(key) = key(entry, item)
            {
                groups
                    .entry(key)
                    .or_insert_with(|| Outcome::zero(self.home()))
                    .n_sold += step;
            }
        }
        groups
    }

    /// The item whose sale an entry makes (+1) or takes back (−1).
    fn sale_counted(&self, entry: &Entry) -> (Option<&Item>, i64) {
        match &entry.event {
            Event::Sold { .. } => (self.sold_by(entry.number), 1),
            Event::Returned { sale, .. } => (self.sold_by(*sale), -1),
            Event::Corrected { entry: wrong } => match self.numbered(*wrong) {
                Some(wrong) => {
                    let (item, step) = self.sale_counted(wrong);
                    (item, -step)
                }
                None => (None, 0),
            },
            _ => (None, 0),
        }
    }

    /// What was earned in all.
    #[must_use]
    pub fn outcome(&self) -> Outcome {
        self.outcomes(|_, _| Some(()))
            .remove(&())
            .unwrap_or_else(|| Outcome::zero(self.home()))
    }
}
