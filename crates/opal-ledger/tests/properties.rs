//! Whatever is recorded in whatever order, the books close.

use jiff::civil::date;
use opal_ledger::{
    Account, Basis, Books, Draft, Event, Item, Outcome, Paid, Part, Rate, Side, Standing,
};
use opal_units::{Currency, Money};
use proptest::prelude::*;

fn aud() -> Currency {
    Currency::new("AUD").expect("a code")
}

fn items() -> Vec<Item> {
    let stones = ["a", "b", "c", "d", "e"].map(|mark| Item::Stone(mark.to_owned()));
    let parcels = ["bag", "box"].map(|name| Item::Parcel(name.to_owned()));
    stones.into_iter().chain(parcels).collect()
}

fn item() -> impl Strategy<Value = Item> {
    proptest::sample::select(items())
}

fn paid() -> impl Strategy<Value = Paid> {
    let rate = (1_u32..30_000).prop_map(|n| -> Rate {
        let text = format!("{}.{:04}", n / 10_000, n % 10_000);
        text.parse().expect("above 0")
    });
    (0_i64..200_000, proptest::option::of(rate)).prop_map(|(minor, rate)| {
        let code = if rate.is_some() { "USD" } else { "AUD" };
        let currency = Currency::new(code).expect("a code");
        Paid {
            amount: Money::from_minor(minor, currency),
            rate,
        }
    })
}

fn event() -> impl Strategy<Value = Event> {
    let on = || proptest::option::weighted(0.8, item());
    let side = || proptest::sample::select(vec![Side::Buying, Side::Selling]);
    let parts = proptest::collection::vec(
        (item(), 0_u64..1000).prop_map(|(item, weight)| Part { item, weight }),
        1..4,
    );
    prop_oneof![
        3 => (item(), paid()).prop_map(|(item, price)| Event::Bought { item, price }),
        3 => (on(), paid()).prop_map(|(on, amount)| Event::Spent { on, amount }),
        2 => (on(), paid(), side()).prop_map(|(on, amount, side)| Event::Fee { on, amount, side }),
        3 => (on(), 0_u32..500, 0_i64..10_000).prop_map(|(on, minutes, hourly)| Event::Worked {
            on,
            minutes,
            hourly: Money::from_minor(hourly, aud()),
        }),
        3 => (item(), parts).prop_map(|(from, parts)| Event::Split {
            from,
            parts,
            basis: Basis::Stated,
        }),
        4 => (item(), paid(), proptest::option::of(paid()))
            .prop_map(|(item, price, fee)| Event::Sold { item, price, fee }),
        2 => (1_u64..40, paid()).prop_map(|(sale, refund)| Event::Returned { sale, refund }),
        1 => item().prop_map(|item| Event::Lost { item }),
        3 => (1_u64..40).prop_map(|entry| Event::Corrected { entry }),
    ]
}

fn drafts() -> impl Strategy<Value = Vec<Draft>> {
    let draft = (event(), 1_i8..=12, 1_i8..=28).prop_map(|(event, month, day)| Draft {
        date: date(2026, month, day),
        event,
        note: None,
    });
    proptest::collection::vec(draft, 1..60)
}

/// Records what is allowed.
fn recorded(drafts: &[Draft]) -> Books {
    let mut books = Books::new(aud());
    for draft in drafts {
        if let Ok(entry) = books.entry(draft) {
            books.take(entry).expect("it was checked");
        }
    }
    books
}

fn total(amounts: impl Iterator<Item = Money>) -> i64 {
    amounts.map(Money::minor).sum()
}

fn profits<'a>(groups: impl Iterator<Item = &'a Outcome>) -> (i64, i64) {
    groups.fold((0, 0), |(profit, n), group| {
        (profit + group.profit().minor(), n + group.n_sold)
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(256))]

    #[test]
    fn the_books_close(drafts in drafts()) {
        let books = recorded(&drafts);
        // Every entry, and so the whole, sums to zero.
        for entry in books.entries() {
            prop_assert_eq!(total(entry.postings.iter().map(|p| p.amount)), 0);
        }
        prop_assert_eq!(total(books.balances().map(|(_, amount)| amount)), 0);
        // What is there is what was earned and what is owed for time.
        let held = total(books.balances().filter_map(|(account, amount)| {
            matches!(account, Account::Held(..)).then_some(amount)
        }));
        let there = books.balance(&Account::Cash).minor() + held;
        let owed = -books.balance(&Account::OwnTime).minor();
        prop_assert_eq!(there, owed + books.outcome().profit().minor());
        // Cost lies on what is held, and nowhere else.
        prop_assert_eq!(held, total(books.held().iter().map(|(_, costs)| costs.total())));
        for (account, amount) in books.balances() {
            if matches!(account, Account::Held(..)) {
                prop_assert!(amount.minor() >= 0, "{}: {}", account, amount);
            }
        }
    }

    #[test]
    fn profits_of_the_parts_are_the_profit_of_the_whole(drafts in drafts()) {
        let books = recorded(&drafts);
        let whole = books.outcome();
        let whole = (whole.profit().minor(), whole.n_sold);
        let by_stone = books.outcomes(|_, item| Some(item.cloned()));
        let by_parcel =
            books.outcomes(|_, item| Some(item.and_then(|item| books.parcel_of(item)).map(str::to_owned)));
        let by_month = books.outcomes(|entry, _| Some(entry.date.first_of_month()));
        prop_assert_eq!(profits(by_stone.values()), whole);
        prop_assert_eq!(profits(by_parcel.values()), whole);
        prop_assert_eq!(profits(by_month.values()), whole);
        let sold = items()
            .iter()
            .filter(|item| matches!(books.standing(item), Some(Standing::Sold(_))))
            .count();
        prop_assert!(whole.1 >= i64::try_from(sold).expect("few"));
    }

    #[test]
    fn kept_entries_give_the_same_books(drafts in drafts()) {
        let books = recorded(&drafts);
        let again = Books::from_entries(aud(), books.entries().to_vec()).expect("sound");
        prop_assert_eq!(again, books);
    }

    #[test]
    fn a_split_only_moves_cost(drafts in drafts()) {
        let mut books = Books::new(aud());
        let cost = |books: &Books| total(books.held().iter().map(|(_, costs)| costs.total()));
        for draft in &drafts {
            let Ok(entry) = books.entry(draft) else { continue };
            let before = (cost(&books), books.outcome());
            books.take(entry).expect("it was checked");
            if matches!(draft.event, Event::Split { .. }) {
                prop_assert_eq!(before, (cost(&books), books.outcome()));
            }
        }
    }
}
