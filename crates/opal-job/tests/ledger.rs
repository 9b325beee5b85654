//! The books through the use cases, on a store of their own.

use opal_evidence::{Evidence, Faults};
use opal_files::{
    FieldChange, NoAttachments, evidence_to_toml, example_prices, read_evidence, read_prices,
    read_table, read_wheels, table_to_csv,
};
use opal_finish::WheelSet;
use opal_job::{
    Bench, Clock, EvidenceFile, EvidenceReader, JobError, NewRun, Period, Ports, PriceReader,
    SLIP_COLUMNS, Settings, StoneNo, Syntax, TakeIn, Timestamp, WheelReader, slip_cells,
    slips_from_rows, slips_from_text,
};
use opal_plan::BenchRules;
use opal_report::json::{LedgerDoc, PartDoc, SlipDoc, SlipSide, SlipWhat, to_text};
use opal_store::SqliteStore;
use opal_units::Seed;
use serde_json::Value;
use std::sync::Arc;
use std::sync::atomic::{AtomicI64, Ordering};

/// A clock that is set by hand; starts on 2026-03-04.
struct SetClock(AtomicI64);

impl Clock for SetClock {
    fn now(&self) -> Timestamp {
        let second = self.0.fetch_add(1, Ordering::SeqCst);
        Timestamp::from_second(second).expect("in range")
    }
}

struct Reader;

impl EvidenceReader for Reader {
    fn read(&self, file: &EvidenceFile) -> Result<Evidence, Faults> {
        read_evidence(&file.file_name, file.text.as_bytes(), &NoAttachments)
    }

    fn written(&self, evidence: &Evidence) -> EvidenceFile {
        EvidenceFile {
            file_name: "evidence.toml".to_owned(),
            syntax: Syntax::Toml,
            text: evidence_to_toml(evidence),
            meshes: Vec::new(),
        }
    }
}

struct WheelFiles;

impl WheelReader for WheelFiles {
    fn read(&self, name: &str, text: &str) -> Result<WheelSet, Faults> {
        read_wheels(name, text.as_bytes())
    }
}

struct PriceBooks;

impl PriceReader for PriceBooks {
    fn read(&self, name: &str, text: &str) -> Result<Settings, Faults> {
        let prices = read_prices(name, text.as_bytes())?;
        let rules = BenchRules::default();
        Ok(Settings::new(
            prices.book,
            prices.costs,
            prices.limits,
            rules,
        ))
    }

    fn example(&self) -> &str {
        example_prices()
    }

    fn document(&self, text: &str) -> Option<Value> {
        opal_files::prices_as_json(text)
    }

    fn change(&self, text: &str, changes: &[(String, Option<Value>)]) -> Result<String, Faults> {
        let changes: Vec<FieldChange> = changes
            .iter()
            .cloned()
            .map(|(field, value)| FieldChange { field, value })
            .collect();
        opal_files::change_prices(text, &changes)
    }
}

const START: i64 = 1_772_582_400;

fn bench_with_clock() -> (Bench, Arc<SetClock>) {
    let clock = Arc::new(SetClock(AtomicI64::new(START)));
    let bench = Bench::new(Ports {
        store: Arc::new(SqliteStore::in_memory().expect("opens")),
        clock: clock.clone(),
        reader: Arc::new(Reader),
        prices: Arc::new(PriceBooks),
        wheels: Arc::new(WheelFiles),
    });
    (bench, clock)
}

fn bench() -> Bench {
    bench_with_clock().0
}

/// Takes an invented stone in.
fn take_in(bench: &Bench, name: &str, origin: &str) -> StoneNo {
    let text = format!(
        "format = \"opalwright-evidence/1\"\n[piece]\nname = \"{name}\"\nform = \"seam\"\n\
         origin = \"{origin}\"\nweight_ct = 120.0\n[shape]\n\
         callipers = {{ length_mm = 40.0, width_mm = 28.0, height_mm = 14.0 }}\n"
    );
    let file = EvidenceFile {
        file_name: "a.toml".to_owned(),
        syntax: Syntax::Toml,
        text,
        meshes: Vec::new(),
    };
    let opened = bench.take_in(file, &TakeIn::New { invented: true });
    opened.expect("taken in").record.expect("a record").no
}

/// Keeps a bid of a stone as `opalwright bid` does.
fn keep_bid(bench: &Bench, no: StoneNo, bid: &str, gain: [f64; 3]) {
    let output = serde_json::json!({
        "bid": { "amount": bid, "currency": "AUD" },
        "gain": { "mean": gain[0], "0.05": gain[1], "0.95": gain[2] },
    });
    let run = NewRun {
        what: "bid".to_owned(),
        inputs: bid.to_owned(),
        seed: Seed(7),
        n_interiors: 1000,
        version: "0".to_owned(),
        output: output.to_string(),
    };
    let now = bench.ports().clock.now();
    bench.ports().store.add_run(no, &run, now).expect("keeps");
}

fn slip(what: SlipWhat) -> SlipDoc {
    SlipDoc {
        what,
        ..SlipDoc::default()
    }
}

fn some(text: &str) -> Option<String> {
    Some(text.to_owned())
}

fn record(bench: &Bench, slip: SlipDoc) -> u64 {
    match bench.book(&[slip]) {
        Ok(doc) => doc.entries[0].number,
        Err(error) => unreachable!("{error}"),
    }
}

fn whole(bench: &Bench) -> LedgerDoc {
    bench.ledger_doc(Period::default()).expect("adds up")
}

fn part(stone: &str) -> PartDoc {
    PartDoc {
        stone: some(stone),
        ..PartDoc::default()
    }
}

/// A bag of two stones in another currency, opened by expected value, one of them
/// worked and sold: worked by hand.
fn a_year(bench: &Bench) {
    let a = take_in(bench, "Lantern 3", "Field A");
    let b = take_in(bench, "Lantern 4", "Field A");
    keep_bid(bench, a, "400.00", [200.0, -100.0, 600.0]);
    keep_bid(bench, b, "150.00", [50.0, -80.0, 210.5]);
    record(
        bench,
        SlipDoc {
            parcel: some("Bag of March"),
            amount: some("300.00"),
            currency: some("USD"),
            rate: some("1.5312"),
            date: some("2026-01-10"),
            ..slip(SlipWhat::Bought)
        },
    );
    record(
        bench,
        SlipDoc {
            parcel: some("Bag of March"),
            parts: vec![part("lantern 3"), part("2")],
            date: some("2026-01-11"),
            ..slip(SlipWhat::Split)
        },
    );
    record(
        bench,
        SlipDoc {
            stone: some("1"),
            minutes: Some(95),
            hourly: some("40.00"),
            date: some("2026-02-01"),
            ..slip(SlipWhat::Worked)
        },
    );
    record(
        bench,
        SlipDoc {
            amount: some("18.20"),
            note: some("=a blade"),
            date: some("2026-02-02"),
            ..slip(SlipWhat::Spent)
        },
    );
    record(
        bench,
        SlipDoc {
            stone: some("Lantern 3"),
            amount: some("900.00"),
            fee: some("27.00"),
            date: some("2026-03-03"),
            ..slip(SlipWhat::Sold)
        },
    );
}

#[test]
fn a_year_is_told_by_stone_parcel_origin_and_month() {
    let bench = bench();
    a_year(&bench);
    let doc = whole(&bench);
    // 300.00 USD at 1.5312 is 459.36; by 600 : 200 that is 344.52 and 114.84. 95 minutes
    // at 40.00 are 63.33. 900.00 − 27.00 − 344.52 − 63.33 − 18.20 is 446.95.
    assert_eq!(doc.outcome.profit, "446.95");
    assert_eq!(doc.outcome.profit_before_time, "510.28");
    assert_eq!(doc.held.cost.total, "114.84");
    let expected = doc.held.expected.as_ref().expect("worked out");
    assert_eq!(
        [&expected.mean, &expected.low, &expected.high],
        ["200.00", "70.00", "360.50"]
    );
    let names = |groups: &[opal_report::json::GroupDoc]| -> Vec<(String, String)> {
        groups
            .iter()
            .map(|group| (group.name.clone(), group.outcome.profit.clone()))
            .collect()
    };
    let pair = |name: &str, profit: &str| (name.to_owned(), profit.to_owned());
    let none = pair("no single stone", "-18.20");
    assert_eq!(
        names(&doc.by_stone),
        [
            pair("Lantern 3", "465.15"),
            pair("Lantern 4", "0.00"),
            none.clone()
        ]
    );
    assert_eq!(
        names(&doc.by_parcel),
        [pair("Bag of March", "465.15"), none.clone()]
    );
    assert_eq!(names(&doc.by_origin), [pair("Field A", "465.15"), none]);
    assert_eq!(
        names(&doc.by_month),
        [
            pair("2026-01", "0.00"),
            pair("2026-02", "-18.20"),
            pair("2026-03", "465.15")
        ]
    );
    assert_eq!(doc.by_parcel[0].held.pieces, 1);
    assert_eq!(doc.items[0].parcel.as_deref(), Some("Bag of March"));
    assert_eq!(doc.items[0].since, "2026-01-11");
    // What stands on all accounts sums to nothing.
    let sum: i64 = doc
        .balances
        .iter()
        .map(|line| line.amount.replace('.', "").parse::<i64>().expect("cents"))
        .sum();
    assert_eq!(sum, 0);
    let january = bench.ledger_doc(Period::parse("2026-01").expect("a month"));
    let january = january.expect("adds up");
    assert_eq!(
        (january.entries, january.outcome.profit.as_str()),
        (2, "0.00")
    );
    assert_eq!(january.held.cost.total, "459.36");
}

#[test]
fn books_go_out_and_in_and_come_to_the_same() {
    let bench = bench();
    a_year(&bench);
    record(
        &bench,
        SlipDoc {
            entry: Some(5),
            amount: some("850.00"),
            ..slip(SlipWhat::Returned)
        },
    );
    record(
        &bench,
        SlipDoc {
            entry: Some(4),
            ..slip(SlipWhat::Corrected)
        },
    );
    record(
        &bench,
        SlipDoc {
            stone: some("Lantern 4"),
            amount: some("3.10"),
            side: Some(SlipSide::Selling),
            ..slip(SlipWhat::Fee)
        },
    );
    let doc = bench.entries_doc(Period::default()).expect("reads");
    let rows: Vec<Vec<String>> = doc.entries.iter().map(slip_cells).collect();
    let csv = table_to_csv(&SLIP_COLUMNS, &rows);
    let rows = read_table("l.csv", csv.as_bytes(), &SLIP_COLUMNS).expect("reads");
    let json = to_text(&doc).expect("writes");
    for read in [
        slips_from_rows("l.csv", &rows).expect("reads"),
        slips_from_text("l.json", &json).expect("reads"),
    ] {
        let other = self::bench();
        take_in(&other, "Lantern 3", "Field A");
        take_in(&other, "Lantern 4", "Field A");
        other.import_slips(&read).expect("books");
        let back = other.entries_doc(Period::default()).expect("reads");
        for (there, here) in back.entries.iter().zip(&doc.entries) {
            assert_eq!((there.number, &there.slip), (here.number, &here.slip));
            assert_eq!(there.postings, here.postings);
        }
        assert_eq!(back.entries.len(), doc.entries.len());
        assert_eq!(whole(&other).balances, whole(&bench).balances);
    }
    // A second time nothing is booked twice, and a figure that was changed is found.
    let whole_books = slips_from_text("l.json", &json).expect("reads");
    let told = bench.import_slips(&whole_books).expect_err("refused");
    assert!(told.to_string().contains("booked twice"), "{told}");
    let changed = json.replace("344.52", "344.53");
    let other = self::bench();
    take_in(&other, "Lantern 3", "Field A");
    take_in(&other, "Lantern 4", "Field A");
    let told = other
        .import_slips(&slips_from_text("l.json", &changed).expect("reads"))
        .expect_err("refused");
    assert!(told.to_string().contains("entry[2].postings"), "{told}");
    assert!(
        other
            .entries_doc(Period::default())
            .expect("reads")
            .entries
            .is_empty()
    );
}

#[test]
fn all_faults_are_told_and_nothing_is_booked() {
    let bench = bench();
    take_in(&bench, "Lantern 3", "Field A");
    let faulty = [
        SlipDoc {
            stone: some("Lantern 33"),
            amount: some("12.345"),
            date: some("2062-01-01"),
            ..slip(SlipWhat::Bought)
        },
        SlipDoc {
            stone: some("Lantern 3"),
            amount: some("10.00"),
            ..slip(SlipWhat::Bought)
        },
        SlipDoc {
            parcel: some("No such bag"),
            amount: some("1.00"),
            currency: some("USD"),
            minutes: Some(3),
            ..slip(SlipWhat::Sold)
        },
        slip(SlipWhat::Worked),
    ];
    let told = match bench.book(&faulty) {
        Err(JobError::Faults(faults)) => faults.to_string(),
        other => unreachable!("{other:?}"),
    };
    for there in [
        "entry[1].date is 2062-01-01; it lies ahead of this computer's clock (2026-03-04)",
        "entry[1].stone is 'Lantern 33'; there is no such stone",
        "entry[1].amount is '12.345'",
        "entry[3].minutes is filled in; leave it out of what was sold",
        "entry[4].minutes is missing",
    ] {
        assert!(told.contains(there), "{there}\n{told}");
    }
    assert!(
        bench
            .entries_doc(Period::default())
            .expect("reads")
            .entries
            .is_empty()
    );
    let unsplit = SlipDoc {
        stone: some("Lantern 3"),
        parts: vec![part("Lantern 3")],
        ..slip(SlipWhat::Split)
    };
    let told = bench.book(&[unsplit]).expect_err("refused").to_string();
    assert!(told.contains("was not worked out"), "{told}");
}

/// Slips whose answer was lost are sent again: the books have grown, and take nothing.
#[test]
fn slips_sent_again_are_not_booked_twice() {
    let (bench, _) = bench_with_clock();
    let spent = [SlipDoc {
        amount: some("12.00"),
        ..slip(SlipWhat::Spent)
    }];
    let count = || {
        let doc = bench.entries_doc(Period::default()).expect("reads");
        doc.entries.len()
    };
    bench.book_after(&spent, 0).expect("booked");
    let again = bench.book_after(&spent, 0).expect_err("refused");
    assert!(
        again.to_string().contains("stands there already"),
        "{again}"
    );
    assert_eq!(count(), 1);
    bench.book_after(&spent, 1).expect("looked, and meant");
    assert_eq!(count(), 2);
}

#[test]
fn a_clock_set_back_is_told_and_the_numbers_hold() {
    let (bench, clock) = bench_with_clock();
    let spend = |amount: &str| SlipDoc {
        amount: some(amount),
        ..slip(SlipWhat::Spent)
    };
    record(&bench, spend("1.00"));
    clock.0.store(START - 86_400 * 400, Ordering::SeqCst);
    record(&bench, spend("2.00"));
    let doc = bench.entries_doc(Period::default()).expect("reads");
    let numbers: Vec<u64> = doc.entries.iter().map(|entry| entry.number).collect();
    assert_eq!(numbers, [1, 2]);
    assert!(doc.entries[1].recorded < doc.entries[0].recorded);
    let told = whole(&bench).warnings.join(" ");
    assert!(told.contains("Entry 2 was recorded when"), "{told}");
}

#[test]
fn benches_that_write_at_once_lose_nothing() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("stones.db");
    let bench = || {
        Bench::new(Ports {
            store: Arc::new(SqliteStore::open(&path).expect("opens")),
            clock: Arc::new(SetClock(AtomicI64::new(START))),
            reader: Arc::new(Reader),
            prices: Arc::new(PriceBooks),
            wheels: Arc::new(WheelFiles),
        })
    };
    bench();
    let (threads, each) = (4, 12);
    std::thread::scope(|scope| {
        for k in 0..threads {
            let bench = bench();
            scope.spawn(move || {
                for n in 0..each {
                    record(
                        &bench,
                        SlipDoc {
                            amount: some(&format!("{}.{:02}", k + 1, n + 1)),
                            ..slip(SlipWhat::Spent)
                        },
                    );
                }
            });
        }
    });
    let doc = whole(&bench());
    assert_eq!(doc.entries, threads * each);
    // 12 · (1 + 2 + 3 + 4) and 4 · 0.78.
    assert_eq!(doc.outcome.profit, "-123.12");
}
