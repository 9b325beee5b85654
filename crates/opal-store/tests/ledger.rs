//! The books in the file: what goes in comes back, and nothing else can be done to it.

use opal_job::{Appended, KeptEntry, KeptPosting, LedgerStore as _, StoreFault};
use opal_store::SqliteStore;
use std::time::Duration;

fn entry(number: u64, minor: i64) -> KeptEntry {
    let posting = |account: &str, minor| KeptPosting {
        account: account.to_owned(),
        minor,
    };
    KeptEntry {
        number,
        recorded: "2026-01-02T03:04:05Z".parse().expect("a time"),
        currency: "AUD".to_owned(),
        body: r#"{"what":"spent"}"#.to_owned(),
        postings: vec![
            posting("overhead/consumables", minor),
            posting("cash", -minor),
        ],
    }
}

#[test]
fn entries_come_back_as_they_went_in() {
    let store = SqliteStore::in_memory().expect("opens");
    let unmoved = KeptEntry {
        postings: Vec::new(),
        ..entry(3, 0)
    };
    let entries = [entry(1, i64::MAX), entry(2, 7), unmoved];
    let done = store.add_to_ledger(&entries[..2]).expect("adds");
    assert_eq!(done, Appended::Done);
    store.add_to_ledger(&entries[2..]).expect("adds");
    assert_eq!(store.ledger().expect("reads"), entries);
}

#[test]
fn a_number_that_is_taken_or_too_high_adds_nothing() {
    let store = SqliteStore::in_memory().expect("opens");
    store.add_to_ledger(&[entry(1, 5)]).expect("adds");
    for number in [1, 3] {
        let late = store.add_to_ledger(&[entry(number, 6)]).expect("is told");
        assert_eq!(late, Appended::GrownMeanwhile);
    }
    // All of them, or nothing: the second one leaves a gap.
    store
        .add_to_ledger(&[entry(2, 6), entry(4, 6)])
        .expect_err("a gap");
    assert_eq!(store.ledger().expect("reads"), [entry(1, 5)]);
}

#[test]
fn the_database_refuses_to_change_what_was_booked() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("stones.db");
    let store = SqliteStore::open(&path).expect("opens");
    store
        .add_to_ledger(&[entry(1, 5), entry(2, 6)])
        .expect("adds");
    let other = rusqlite::Connection::open(&path).expect("opens");
    for statement in [
        "UPDATE ledger_entry SET body = '{}'",
        "DELETE FROM ledger_entry",
        "UPDATE ledger_posting SET minor = 0",
        "DELETE FROM ledger_posting",
        "INSERT INTO ledger_posting VALUES (1, 2, 'cash', 1)",
        "INSERT INTO ledger_entry VALUES (9, '', 'AUD', '{}')",
    ] {
        other.execute(statement, []).expect_err(statement);
    }
    assert_eq!(store.ledger().expect("reads").len(), 2);
}

#[test]
fn a_held_file_is_named_and_nothing_is_booked() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("stones.db");
    let patience = Duration::from_millis(50);
    let store = SqliteStore::open_with_patience(&path, patience).expect("opens");
    store.add_to_ledger(&[entry(1, 5)]).expect("adds");
    let other = rusqlite::Connection::open(&path).expect("opens");
    other.execute_batch("BEGIN IMMEDIATE").expect("holds");
    let error = store.add_to_ledger(&[entry(2, 6)]).expect_err("held");
    assert_eq!(error.fault, StoreFault::Locked);
    assert_eq!(store.ledger().expect("still reads").len(), 1);
    other.execute_batch("ROLLBACK").expect("lets go");
    let done = store.add_to_ledger(&[entry(2, 6)]).expect("adds");
    assert_eq!(done, Appended::Done);
}
