//! The rules of the books: what each event moves, and what speaks against it.

use crate::account::{Account, Cost, Item};
use crate::books::{Books, Standing};
use crate::entry::{Event, Part, Posting, Side};
use crate::rate::Paid;
use opal_evidence::{Fault, Faults};
use opal_units::{Money, MoneyError};

/// What an event moves.
pub(crate) fn postings(books: &Books, event: &Event) -> Result<Vec<Posting>, Faults> {
    let mut slip = Slip {
        books,
        postings: Vec::new(),
        faults: Vec::new(),
    };
    slip.write(event);
    if slip.faults.is_empty() {
        Ok(slip.postings)
    } else {
        Err(Faults(slip.faults))
    }
}

/// An entry while it is written.
struct Slip<'a> {
    books: &'a Books,
    postings: Vec<Posting>,
    faults: Vec<Fault>,
}

impl Slip<'_> {
    fn write(&mut self, event: &Event) {
        match event {
            Event::Bought { item, price } => self.bought(item, price),
            Event::Spent { on, amount } => self.spent(on.as_ref(), Cost::Consumables, amount),
            Event::Fee {
                on,
                amount,
                side: Side::Buying,
            } => self.spent(on.as_ref(), Cost::BroughtIn, amount),
            Event::Fee {
                on,
                amount,
                side: Side::Selling,
            } => self.selling_fee(on.as_ref(), amount),
            Event::Worked {
                on,
                minutes,
                hourly,
            } => self.worked(on.as_ref(), *minutes, *hourly),
            Event::Split { from, parts, .. } => self.split(from, parts),
            Event::Sold { item, price, fee } => self.sold(item, price, fee.as_ref()),
            Event::Returned { sale, refund } => self.returned(*sale, refund),
            Event::Lost { item } => {
                self.must_be_held("item", item);
                self.hand_over(item, Account::Lost);
            }
            Event::Corrected { entry } => self.corrected(*entry),
        }
    }

    fn fault(&mut self, field: &str, value: impl std::fmt::Display, limit: impl Into<String>) {
        self.faults.push(Fault::new(field, value, limit));
    }

    fn put(&mut self, account: Account, amount: Money) {
        if amount.minor() != 0 {
            self.postings.push(Posting { account, amount });
        }
    }

    /// From one account to another.
    fn moves(&mut self, from: Account, to: Account, amount: Money) {
        match amount.negated() {
            Ok(opposite) => {
                self.put(to, amount);
                self.put(from, opposite);
            }
            Err(error) => self.fault("amount", amount, error.to_string()),
        }
    }

    /// The amount in the books' currency, where it may be booked.
    fn home(&mut self, field: &str, paid: &Paid, least_minor: i64) -> Option<Money> {
        if paid.amount.minor() < least_minor {
            let limit = if least_minor > 0 {
                "it must be above 0"
            } else {
                "it must not be below 0"
            };
            self.fault(field, paid.amount, limit);
            return None;
        }
        match paid.in_home(self.books.home()) {
            Ok(amount) => Some(amount),
            Err(error) => {
                self.fault(field, paid.amount, error.to_string());
                None
            }
        }
    }

    /// A stone that the books do not name is held at no cost; a parcel is known by
    /// its purchase alone, so that a mistyped name does not make one.
    fn must_be_held(&mut self, field: &str, item: &Item) {
        let limit = match self.books.standing(item) {
            Some(Standing::Held) => return,
            None if matches!(item, Item::Stone(_)) => return,
            None => "no such parcel was bought".to_owned(),
            Some(Standing::Sold(number)) => {
                format!("it was sold (entry {number}); a return brings it back")
            }
            Some(Standing::Lost(number)) => {
                format!("it was written off (entry {number}); correct that entry first")
            }
            Some(Standing::Parted(number)) => {
                format!("it was parted (entry {number}); name one of its parts")
            }
        };
        self.fault(field, item, limit);
    }

    fn bought(&mut self, item: &Item, price: &Paid) {
        let bought = self.books.entries().iter().any(|entry| {
            matches!(&entry.event, Event::Bought { item: there, .. } if there == item)
                && !self.books.is_corrected(entry.number)
        });
        let came_with_another = self.books.line_of(item).nth(1).is_some();
        match self.books.standing(item) {
            Some(Standing::Held) if bought || came_with_another => {
                self.fault("item", item, "it was bought already and is still held");
            }
            Some(Standing::Parted(number)) => {
                let limit = format!("it was bought already, and parted (entry {number})");
                self.fault("item", item, limit);
            }
            _ => {}
        }
        if let Some(amount) = self.home("price", price, 0) {
            let held = Account::Held(Cost::Bought, item.clone());
            self.moves(Account::Cash, held, amount);
        }
    }

    fn cost_account(&mut self, on: Option<&Item>, cost: Cost) -> Account {
        match on {
            Some(item) => {
                self.must_be_held("item", item);
                Account::Held(cost, item.clone())
            }
            None => Account::Overhead(cost),
        }
    }

    fn spent(&mut self, on: Option<&Item>, cost: Cost, amount: &Paid) {
        let account = self.cost_account(on, cost);
        if let Some(amount) = self.home("amount", amount, 1) {
            self.moves(Account::Cash, account, amount);
        }
    }

    fn selling_fee(&mut self, on: Option<&Item>, amount: &Paid) {
        let account = match on {
            Some(item) => {
                if !matches!(self.books.standing(item), Some(Standing::Sold(_))) {
                    self.must_be_held("item", item);
                }
                Account::Fees(item.clone())
            }
            None => Account::Overhead(Cost::BroughtIn),
        };
        if let Some(amount) = self.home("amount", amount, 1) {
            self.moves(Account::Cash, account, amount);
        }
    }

    fn worked(&mut self, on: Option<&Item>, minutes: u32, hourly: Money) {
        let account = self.cost_account(on, Cost::Time);
        if minutes == 0 {
            self.fault("minutes", minutes, "it must be above 0");
        }
        if hourly.currency() != self.books.home() {
            let limit = format!("the books are in {}", self.books.home());
            self.fault("hourly", hourly, limit);
        } else if hourly.minor() < 0 {
            self.fault("hourly", hourly, "it must not be below 0");
        } else {
            // To the nearest minor unit, ties up: neither factor is below 0.
            let minor = (i128::from(hourly.minor()) * i128::from(minutes) + 30) / 60;
            match i64::try_from(minor) {
                Ok(minor) => {
                    let amount = Money::from_minor(minor, self.books.home());
                    self.moves(Account::OwnTime, account, amount);
                }
                Err(_) => self.fault("hourly", hourly, MoneyError::TooLarge.to_string()),
            }
        }
    }

    fn split(&mut self, from: &Item, parts: &[Part]) {
        self.must_be_held("from", from);
        for (k, part) in parts.iter().enumerate() {
            let field = format!("part[{k}]");
            if parts[..k].iter().any(|other| other.item == part.item) {
                self.fault(&field, &part.item, "it is named twice");
            } else if part.item != *from && self.books.line_of(from).any(|item| *item == part.item)
            {
                self.fault(&field, &part.item, "it is what the other was parted from");
            } else if self.books.standing(&part.item).is_some() {
                self.must_be_held(&field, &part.item);
            }
        }
        if !parts.iter().any(|part| part.item != *from) {
            self.fault("parts", parts.len(), "name at least one new part");
            return;
        }
        let weights: Vec<u64> = parts.iter().map(|part| part.weight).collect();
        for cost in Cost::ALL {
            let held = Account::Held(cost, from.clone());
            let amount = self.books.balance(&held);
            let shares = match amount.share_out(&weights) {
                Ok(shares) => shares,
                Err(error) => return self.fault("parts", "without a share", error.to_string()),
            };
            for (part, share) in parts.iter().zip(shares) {
                if part.item != *from {
                    let to = Account::Held(cost, part.item.clone());
                    self.moves(held.clone(), to, share);
                }
            }
        }
    }

    /// All that an item is held at, to the accounts of its end.
    fn hand_over(&mut self, item: &Item, end: impl Fn(Cost, Item) -> Account) {
        for cost in Cost::ALL {
            let held = Account::Held(cost, item.clone());
            let amount = self.books.balance(&held);
            self.moves(held, end(cost, item.clone()), amount);
        }
    }

    fn sold(&mut self, item: &Item, price: &Paid, fee: Option<&Paid>) {
        self.must_be_held("item", item);
        if let Some(amount) = self.home("price", price, 0) {
            self.moves(Account::Sales(item.clone()), Account::Cash, amount);
        }
        if let Some(amount) = fee.and_then(|fee| self.home("fee", fee, 0)) {
            self.moves(Account::Cash, Account::Fees(item.clone()), amount);
        }
        self.hand_over(item, Account::SoldCost);
    }

    fn returned(&mut self, sale: u64, refund: &Paid) {
        let entry = self.books.numbered(sale).map(|entry| &entry.event);
        let Some(Event::Sold { item, price, .. }) = entry else {
            return self.fault("sale", format!("entry {sale}"), "it is no sale");
        };
        if self.books.standing(item) != Some(Standing::Sold(sale)) {
            let limit = "the stone of that sale came back already, or the sale was corrected";
            self.fault("sale", format!("entry {sale}"), limit);
        }
        if refund.amount.currency() != price.amount.currency() {
            let limit = format!("it was sold in {}", price.amount.currency());
            self.fault("refund", refund.amount, limit);
        } else if refund.amount.minor() > price.amount.minor() {
            let limit = format!("it was sold for {}", price.amount);
            self.fault("refund", refund.amount, limit);
        }
        if let Some(amount) = self.home("refund", refund, 0) {
            self.moves(Account::Cash, Account::Sales(item.clone()), amount);
        }
        // It comes back at what it had cost.
        let entry = self.books.numbered(sale).map_or(&[][..], |e| &e.postings);
        for posting in entry {
            if let Account::SoldCost(cost, item) = &posting.account {
                let held = Account::Held(*cost, item.clone());
                self.moves(posting.account.clone(), held, posting.amount);
            }
        }
    }

    fn corrected(&mut self, number: u64) {
        let Some(wrong) = self.books.numbered(number) else {
            return self.fault("entry", number, "there is no such entry");
        };
        if matches!(wrong.event, Event::Corrected { .. }) {
            let limit = "it is a correction itself; record what happened anew";
            return self.fault("entry", number, limit);
        }
        if self.books.is_corrected(number) {
            return self.fault("entry", number, "it was corrected already");
        }
        let cost_free = matches!(
            wrong.event,
            Event::Fee {
                side: Side::Selling,
                ..
            }
        );
        let items: Vec<&Item> = wrong
            .postings
            .iter()
            .filter_map(|posting| posting.account.item())
            .chain(wrong.event.items())
            .collect();
        let makes_held = matches!(
            wrong.event,
            Event::Bought { .. } | Event::Split { .. } | Event::Returned { .. }
        );
        // What was sold, lost or parted later took its cost from here; and what was put
        // into a piece later would lie on nothing, were it not held.
        let resting = self.books.entries().iter().rfind(|later| {
            later.number > number
                && !self.books.is_corrected(later.number)
                && match later.event {
                    Event::Sold { .. }
                    | Event::Lost { .. }
                    | Event::Split { .. }
                    | Event::Returned { .. } => true,
                    Event::Spent { .. } | Event::Worked { .. } | Event::Fee { .. } => makes_held,
                    Event::Bought { .. } | Event::Corrected { .. } => false,
                }
                && items.iter().any(|item| later.concerns(item))
        });
        if let Some(later) = resting.filter(|_| !cost_free) {
            let limit = format!("entry {} rests on it; correct that one first", later.number);
            return self.fault("entry", number, limit);
        }
        for posting in &wrong.postings {
            match posting.amount.negated() {
                Ok(opposite) => self.put(posting.account.clone(), opposite),
                Err(error) => self.fault("amount", posting.amount, error.to_string()),
            }
        }
    }
}
