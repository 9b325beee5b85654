//! The rules of the books, each on figures worked by hand.

use jiff::civil::{Date, date};
use opal_ledger::{
    Account, Basis, Books, Cost, Draft, Entry, Event, Item, Paid, Part, Side, Standing,
};
use opal_units::{Currency, Money};

fn aud() -> Currency {
    Currency::new("AUD").expect("a code")
}

fn money(text: &str) -> Money {
    Money::parse(text, aud()).expect("an amount")
}

fn paid(text: &str) -> Paid {
    Paid::plain(money(text))
}

fn stone(mark: &str) -> Item {
    Item::Stone(mark.to_owned())
}

fn day() -> Date {
    date(2026, 3, 4)
}

fn draft(event: Event) -> Draft {
    Draft {
        date: day(),
        event,
        note: None,
    }
}

fn book(books: &mut Books, event: Event) -> Entry {
    let entry = books.entry(&draft(event)).expect("allowed");
    books.take(entry.clone()).expect("the next");
    entry
}

fn refused(books: &Books, event: Event) -> String {
    let faults = books.entry(&draft(event)).expect_err("refused");
    faults.to_string()
}

/// Two stones out of one bag, one of them sold.
fn a_bag() -> (Books, Item, Item) {
    let mut books = Books::new(aud());
    let bag = Item::Parcel("Bag of March".to_owned());
    let (a, b) = (stone("a"), stone("b"));
    let buy = Event::Bought {
        item: bag.clone(),
        price: paid("100.00"),
    };
    book(&mut books, buy);
    let freight = Event::Fee {
        on: Some(bag.clone()),
        amount: paid("10.01"),
        side: Side::Buying,
    };
    book(&mut books, freight);
    let parts = [(&a, 2), (&b, 1)];
    let open = Event::Split {
        from: bag,
        parts: parts
            .map(|(item, weight)| Part {
                item: item.clone(),
                weight,
            })
            .to_vec(),
        basis: Basis::ExpectedValue,
    };
    book(&mut books, open);
    let work = Event::Worked {
        on: Some(a.clone()),
        minutes: 50,
        hourly: money("33.00"),
    };
    book(&mut books, work);
    let sale = Event::Sold {
        item: a.clone(),
        price: paid("150.00"),
        fee: Some(paid("4.50")),
    };
    book(&mut books, sale);
    (books, a, b)
}

#[test]
fn a_bag_is_opened_worked_and_sold() {
    let (books, a, b) = a_bag();
    // 100.00 by 2 : 1 is 66.67 and 33.33; 10.01 is 6.67 and 3.34.
    let outcome = books.outcome();
    assert_eq!(outcome.sold_cost.bought, money("66.67"));
    assert_eq!(outcome.sold_cost.brought_in, money("6.67"));
    assert_eq!(outcome.sold_cost.time, money("27.50"));
    // 150.00 − 4.50 − 66.67 − 6.67 − 27.50.
    assert_eq!(outcome.profit(), money("44.66"));
    assert_eq!(outcome.profit_before_time(), money("72.16"));
    assert_eq!(outcome.n_sold, 1);
    let held = books.held();
    assert_eq!(held.len(), 1);
    assert_eq!((held[0].0, held[0].1.total()), (&b, money("36.67")));
    assert!(matches!(books.standing(&a), Some(Standing::Sold(5))));
    assert_eq!(books.parcel_of(&b), Some("Bag of March"));
    // 150.00 − 4.50 − 110.01.
    assert_eq!(books.balance(&Account::Cash), money("35.49"));
}

#[test]
fn a_return_brings_the_stone_back_at_its_cost() {
    let (mut books, a, _) = a_bag();
    let back = Event::Returned {
        sale: 5,
        refund: paid("150.00"),
    };
    book(&mut books, back.clone());
    assert_eq!(books.standing(&a), Some(Standing::Held));
    assert_eq!(books.cost_of(&a).total(), money("100.84"));
    // The fee is gone.
    assert_eq!(books.outcome().profit(), money("-4.50"));
    assert_eq!(books.outcome().n_sold, 0);
    assert!(refused(&books, back).contains("came back already"));
    let again = Event::Sold {
        item: a,
        price: paid("140.00"),
        fee: None,
    };
    book(&mut books, again);
    assert_eq!(books.outcome().profit(), money("34.66"));
}

#[test]
fn a_correction_is_the_opposite_and_both_stay_on_record() {
    let (mut books, a, _) = a_bag();
    let cash = books.balance(&Account::Cash);
    let wrong = Event::Spent {
        on: None,
        amount: paid("7.77"),
    };
    let wrong = book(&mut books, wrong).number;
    let entry = book(&mut books, Event::Corrected { entry: wrong });
    assert_eq!(entry.postings.len(), 2);
    assert_eq!(books.balance(&Account::Cash), cash);
    assert_eq!(books.entries().len(), 7);
    for (number, why) in [
        (wrong, "corrected already"),
        (entry.number, "correction itself"),
        (99, "no such entry"),
        (1, "entry 3 rests on it"),
        (4, "entry 5 rests on it"),
    ] {
        let told = refused(&books, Event::Corrected { entry: number });
        assert!(told.contains(why), "{number}: {told}");
    }
    book(&mut books, Event::Corrected { entry: 5 });
    assert_eq!(books.standing(&a), Some(Standing::Held));
    assert_eq!(books.outcome().profit(), money("0.00"));
    // Now nothing rests on the work any more.
    book(&mut books, Event::Corrected { entry: 4 });
    assert_eq!(books.cost_of(&a).total(), money("73.34"));
}

#[test]
fn what_is_gone_cannot_be_worked_or_sold() {
    let (mut books, a, b) = a_bag();
    let sell = |item: &Item| Event::Sold {
        item: item.clone(),
        price: paid("1.00"),
        fee: None,
    };
    assert!(refused(&books, sell(&a)).contains("was sold (entry 5)"));
    book(&mut books, Event::Lost { item: b.clone() });
    assert!(refused(&books, sell(&b)).contains("written off (entry 6)"));
    assert_eq!(books.outcome().lost.total(), money("36.67"));
    let bag = Item::Parcel("Bag of March".to_owned());
    assert!(refused(&books, sell(&bag)).contains("was parted (entry 3)"));
    let typo = Item::Parcel("Bag of Mrach".to_owned());
    assert!(refused(&books, sell(&typo)).contains("no such parcel"));
    // A fee that is charged after the sale is one of the sale.
    let late = Event::Fee {
        on: Some(a.clone()),
        amount: paid("2.00"),
        side: Side::Selling,
    };
    book(&mut books, late);
    assert_eq!(books.outcome().fees, money("6.50"));
    // A stone that was sold may be bought back.
    let back = Event::Bought {
        item: a.clone(),
        price: paid("90.00"),
    };
    book(&mut books, back.clone());
    assert_eq!(books.cost_of(&a).bought, money("90.00"));
    assert!(refused(&books, back).contains("bought already"));
}

#[test]
fn all_that_speaks_against_an_entry_is_told_at_once() {
    let (books, a, _) = a_bag();
    let told = refused(
        &books,
        Event::Sold {
            item: a.clone(),
            price: paid("-1.00"),
            fee: Some(Paid::plain(
                Money::parse("3", Currency::new("JPY").expect("a code")).expect("an amount"),
            )),
        },
    );
    for why in ["was sold", "not be below 0", "say what one JPY"] {
        assert!(told.contains(why), "{told}");
    }
    let told = refused(
        &books,
        Event::Split {
            from: stone("c"),
            parts: vec![
                Part {
                    item: a.clone(),
                    weight: 1,
                },
                Part { item: a, weight: 1 },
            ],
            basis: Basis::Stated,
        },
    );
    assert!(
        told.contains("part[0]") && told.contains("named twice"),
        "{told}"
    );
}

#[test]
fn a_sawn_stone_keeps_its_own_share() {
    let (mut books, _, b) = a_bag();
    let offcut = stone("b-1");
    let saw = Event::Split {
        from: b.clone(),
        parts: vec![
            Part {
                item: b.clone(),
                weight: 90,
            },
            Part {
                item: offcut.clone(),
                weight: 10,
            },
        ],
        basis: Basis::ExpectedValue,
    };
    book(&mut books, saw);
    assert_eq!(books.standing(&b), Some(Standing::Held));
    assert_eq!(books.cost_of(&b).total(), money("33.01"));
    assert_eq!(books.cost_of(&offcut).total(), money("3.66"));
    assert_eq!(books.parcel_of(&offcut), Some("Bag of March"));
    let round = Event::Split {
        from: offcut,
        parts: vec![Part { item: b, weight: 1 }],
        basis: Basis::Stated,
    };
    assert!(refused(&books, round).contains("parted from"));
}

#[test]
fn kept_entries_that_do_not_add_up_are_named() {
    let (books, ..) = a_bag();
    let mut entries = books.entries().to_vec();
    entries[0].postings[0].amount = money("100.01");
    entries.remove(3);
    let faults = Books::from_entries(aud(), entries).expect_err("refused");
    let told = faults.to_string();
    assert!(
        told.contains("entry 1: sum of the postings is 0.01 AUD"),
        "{told}"
    );
}

#[test]
fn a_day_ends_the_books_by_date_and_not_by_number() {
    let (mut books, _, b) = a_bag();
    let mut late = draft(Event::Spent {
        on: Some(b.clone()),
        amount: paid("5.00"),
    });
    late.date = date(2026, 2, 1);
    let entry = books.entry(&late).expect("allowed");
    books.take(entry).expect("the next");
    let early = books.as_of(date(2026, 2, 28));
    assert_eq!(early.entries().len(), 1);
    assert_eq!(
        early.balance(&Account::Held(Cost::Consumables, b)),
        money("5.00")
    );
    assert_eq!(books.as_of(day()).outcome(), books.outcome());
}

/// Freight would lie on nothing if the purchase that it belongs to were taken back.
#[test]
fn a_purchase_stays_while_something_was_put_into_it() {
    let mut books = Books::new(aud());
    let item = stone("a");
    let buy = Event::Bought {
        item: item.clone(),
        price: paid("20.00"),
    };
    let bought = book(&mut books, buy).number;
    let freight = Event::Fee {
        on: Some(item),
        amount: paid("3.00"),
        side: Side::Buying,
    };
    let freight = book(&mut books, freight).number;
    let told = refused(&books, Event::Corrected { entry: bought });
    assert!(told.contains("entry 2 rests on it"), "{told}");
    book(&mut books, Event::Corrected { entry: freight });
    book(&mut books, Event::Corrected { entry: bought });
    assert_eq!(books.balance(&Account::Cash), money("0.00"));
}
