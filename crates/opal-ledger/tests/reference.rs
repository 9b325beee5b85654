//! Invented books against the same books kept in Python with `decimal` and
//! `fractions` (`tests/reference/ledger.py`): piece by piece, without accounts.

use jiff::civil::date;
use opal_ledger::{Basis, Books, Draft, Event, Item, Paid, Part, Side};
use opal_units::{Currency, Money};
use serde_json::Value;
use std::collections::BTreeMap;

fn aud() -> Currency {
    Currency::new("AUD").expect("a code")
}

fn text<'a>(event: &'a Value, field: &str) -> &'a str {
    event[field].as_str().expect("a text")
}

fn money(event: &Value, field: &str) -> Money {
    Money::parse(text(event, field), aud()).expect("an amount")
}

fn paid(event: &Value) -> Paid {
    let currency = Currency::new(text(event, "code")).expect("a code");
    Paid {
        amount: Money::parse(text(event, "amount"), currency).expect("an amount"),
        rate: event["rate"]
            .as_str()
            .map(|rate| rate.parse().expect("a rate")),
    }
}

fn parcel(name: &str) -> Item {
    Item::Parcel(name.to_owned())
}

fn event(told: &Value) -> Event {
    let named = || told["item"].as_str().map(parcel);
    let item = || named().expect("a name");
    match text(told, "what") {
        "bought" => Event::Bought {
            item: item(),
            price: paid(told),
        },
        "spent" => Event::Spent {
            on: named(),
            amount: paid(told),
        },
        "fee" => Event::Fee {
            on: named(),
            amount: paid(told),
            side: Side::Buying,
        },
        "worked" => Event::Worked {
            on: named(),
            minutes: u32::try_from(told["minutes"].as_u64().expect("minutes")).expect("few"),
            hourly: money(told, "hourly"),
        },
        "split" => Event::Split {
            from: item(),
            parts: told["parts"]
                .as_array()
                .expect("parts")
                .iter()
                .map(|part| Part {
                    item: parcel(part[0].as_str().expect("a name")),
                    weight: part[1].as_u64().expect("a weight"),
                })
                .collect(),
            basis: Basis::Stated,
        },
        "sold" => Event::Sold {
            item: item(),
            price: paid(told),
            fee: Some(Paid::plain(money(told, "fee"))),
        },
        "returned" => Event::Returned {
            sale: told["sale"].as_u64().expect("a number"),
            refund: paid(told),
        },
        "lost" => Event::Lost { item: item() },
        other => unreachable!("{other}"),
    }
}

fn cents(text: &str) -> i64 {
    Money::parse(text, aud()).expect("an amount").minor()
}

/// The amounts of a list by name; noughts do not count.
fn list(values: &Value) -> BTreeMap<String, i64> {
    let map = values.as_object().expect("a list");
    map.iter()
        .map(|(name, amount)| (name.clone(), cents(amount.as_str().expect("a text"))))
        .filter(|(_, amount)| *amount != 0)
        .collect()
}

fn name(item: Option<&Item>) -> String {
    match item {
        Some(Item::Parcel(name)) => name.clone(),
        _ => "-".to_owned(),
    }
}

#[test]
fn the_books_come_to_what_python_came_to() {
    let path = concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/../../tests/reference/ledger.json"
    );
    let text = std::fs::read_to_string(path).expect("checked in");
    let reference: Value = serde_json::from_str(&text).expect("JSON");
    let mut books = Books::new(aud());
    for told in reference["events"].as_array().expect("a list") {
        let draft = Draft {
            date: date(2026, 3, 4),
            event: event(told),
            note: None,
        };
        let entry = books
            .entry(&draft)
            .unwrap_or_else(|faults| unreachable!("{told}: {faults}"));
        books.take(entry).expect("the next");
    }
    let profit: BTreeMap<String, i64> = books
        .outcomes(|_, item| Some(name(item)))
        .into_iter()
        .map(|(name, outcome)| (name, outcome.profit().minor()))
        .filter(|(_, amount)| *amount != 0)
        .collect();
    assert_eq!(profit, list(&reference["profit"]));
    let held: BTreeMap<String, i64> = books
        .held()
        .into_iter()
        .map(|(item, costs)| (name(Some(item)), costs.total().minor()))
        .filter(|(_, amount)| *amount != 0)
        .collect();
    assert_eq!(held, list(&reference["held"]));
    let time: i64 = books
        .held()
        .iter()
        .map(|(_, costs)| costs.time.minor())
        .sum();
    assert_eq!(
        time,
        cents(reference["time_held"].as_str().expect("a text"))
    );
    assert_eq!(
        books.outcome().profit().minor(),
        cents(reference["profit_of_all"].as_str().expect("a text"))
    );
}
