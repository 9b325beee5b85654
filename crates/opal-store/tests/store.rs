//! The store from outside: records, copies, and everything that can be wrong
//! with the file.

use opal_job::{
    CounterStore as _, EvidenceFile, Imported, MeshFile, NewEvent, NewRun, Photo, StoneFile,
    StoneNo, Store, StoreFault, Syntax, Timestamp,
};
use opal_store::SqliteStore;
use opal_units::Seed;
use std::path::Path;
use std::time::Duration;

fn at(second: u32) -> Timestamp {
    format!("2026-01-02T03:04:{second:02}Z")
        .parse()
        .expect("a time")
}

fn evidence(text: &str) -> EvidenceFile {
    EvidenceFile {
        file_name: "gully.toml".into(),
        syntax: Syntax::Toml,
        text: text.into(),
        meshes: vec![MeshFile {
            name: "rough.ply".into(),
            bytes: vec![1, 2, 3],
        }],
    }
}

fn run(inputs: &str) -> NewRun {
    NewRun {
        what: "bid".into(),
        inputs: inputs.into(),
        seed: Seed(u64::MAX - 1),
        n_interiors: 1000,
        version: "0.1.0".into(),
        output: r#"{"format":"opalwright-bid/1"}"#.into(),
    }
}

#[test]
fn an_event_with_a_mark_stands_once_for_each_stone() {
    let store = SqliteStore::in_memory().expect("opens");
    let event = |body: &str| NewEvent {
        kind: "dropped".into(),
        body: body.into(),
    };
    for name in ["A", "B"] {
        let no = store
            .add_stone(name, false, &evidence(name), at(0))
            .expect("adds");
        for body in [r#"{"once":"m"}"#, r#"{"once":"m"}"#, "{}", "{}"] {
            store.add_event(no, &event(body), at(1)).expect("adds");
        }
        let bodies: Vec<String> = store
            .events(no)
            .expect("reads")
            .into_iter()
            .map(|record| record.event.body)
            .collect();
        // Without a mark nothing tells two events apart.
        assert_eq!(bodies, [r#"{"once":"m"}"#, "{}", "{}"]);
    }
}

fn filled(store: &SqliteStore) -> StoneNo {
    let no = store
        .add_stone("Gully 7", false, &evidence("one"), at(0))
        .expect("adds");
    store
        .add_evidence(no, &evidence("two"), at(1))
        .expect("adds");
    store.add_run(no, &run("abc"), at(2)).expect("adds");
    store
        .add_event(
            no,
            &NewEvent {
                kind: "note".into(),
                body: r#"{"words":"looked again"}"#.into(),
            },
            at(3),
        )
        .expect("adds");
    no
}

fn whole(store: &dyn Store, name: &str) -> StoneFile {
    let stone = store.find(name).expect("is there");
    StoneFile::new(
        stone.clone(),
        store.evidence_all(stone.no).expect("reads"),
        store.runs(stone.no).expect("reads"),
        store.events(stone.no).expect("reads"),
        store.photos(stone.no).expect("reads"),
    )
}

/// A stone that came over the counter has no rough: it stands among all stones, and
/// not among those whose rough is on file.
#[test]
fn a_finished_stone_and_its_photo_need_no_evidence() {
    let store = SqliteStore::in_memory().expect("opens");
    let rough = filled(&store);
    let known = NewEvent {
        kind: "customer-named".into(),
        body: "{}".into(),
    };
    let no = store
        .add_finished_stone("Ring stone", &known, at(4))
        .expect("adds");
    let numbers = |stones: Vec<opal_job::StoneRecord>| -> Vec<StoneNo> {
        stones.into_iter().map(|stone| stone.no).collect()
    };
    assert_eq!(numbers(store.stones().expect("reads")), [rough]);
    assert_eq!(numbers(store.all_stones().expect("reads")), [rough, no]);
    assert_eq!(store.find("ring stone").expect("found").no, no);
    let fault = store.evidence(no).expect_err("none");
    assert!(fault.message.contains("no rough"), "{fault}");
    let again = store.add_finished_stone("RING STONE", &known, at(5));
    assert_eq!(again.expect_err("taken").fault, StoreFault::Exists);
    let photo = Photo {
        name: "edge.png".into(),
        bytes: b"\x89PNG\r\n\x1a\n".to_vec(),
    };
    store.add_photo(no, &photo, at(6)).expect("adds");
    store.add_photo(no, &photo, at(7)).expect("once more");
    let kept = store.photos(no).expect("reads");
    assert_eq!((kept.len(), kept[0].at), (1, at(6)));
    assert_eq!(store.photo(no, &photo.sha256()).expect("found"), photo);
    let elsewhere = store.photo(rough, &photo.sha256()).expect_err("another's");
    assert_eq!(elsewhere.fault, StoreFault::NoStone);
    // Whole, it goes into another store and comes out the same.
    let file = StoneFile::new(
        store.find("Ring stone").expect("found"),
        Vec::new(),
        store.runs(no).expect("reads"),
        store.events(no).expect("reads"),
        kept,
    );
    let text = file.to_text();
    let back = StoneFile::from_text("ring.json", &text).expect("reads");
    assert_eq!(back, file);
    let other = SqliteStore::in_memory().expect("opens");
    let added = other.import(&back).expect("takes in");
    assert_eq!(added, Imported::Added(StoneNo(1)));
    assert_eq!(other.photos(StoneNo(1)).expect("reads"), file.photos);
    let there = other.import(&back).expect("looks");
    assert_eq!(there, Imported::AlreadyHere(StoneNo(1)));
}

#[test]
fn what_was_put_in_comes_out_after_opening_again() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("deep/down/stones.db");
    let no = filled(&SqliteStore::open(&path).expect("opens"));
    let store = SqliteStore::open(&path).expect("opens again");
    let stone = store.find("gully 7").expect("capitals do not matter");
    assert_eq!((stone.no, stone.revisions), (no, 2));
    assert_eq!(store.find("1").expect("by number"), stone);
    let last = store.evidence(no).expect("reads");
    assert_eq!((last.revision, &last.file), (2, &evidence("two")));
    assert_eq!(
        store
            .last_run(no, "bid", "abc")
            .expect("reads")
            .expect("kept")
            .run,
        run("abc")
    );
    assert_eq!(store.last_run(no, "bid", "other").expect("reads"), None);
    assert_eq!(store.events(no).expect("reads").len(), 1);
}

#[test]
fn a_taken_name_and_a_missing_stone_are_named() {
    let store = SqliteStore::in_memory().expect("opens");
    filled(&store);
    let error = store
        .add_stone("GULLY 7", false, &evidence("x"), at(4))
        .expect_err("taken");
    assert_eq!(error.fault, StoreFault::Exists);
    assert!(error.message.contains("number 1"), "{error}");
    for error in [
        store.find("nobody").expect_err("missing"),
        store.evidence(StoneNo(9)).expect_err("missing"),
        store
            .add_run(StoneNo(9), &run("a"), at(5))
            .expect_err("missing"),
    ] {
        assert_eq!(error.fault, StoreFault::NoStone);
    }
}

#[test]
fn a_price_book_keeps_its_history() {
    let store = SqliteStore::in_memory().expect("opens");
    assert_eq!(store.setting("prices").expect("reads"), None);
    store.set_setting("prices", "a", at(0)).expect("sets");
    store.set_setting("prices", "b", at(1)).expect("sets");
    assert_eq!(
        store.setting("prices").expect("reads").as_deref(),
        Some("b")
    );
}

#[test]
fn a_stone_moves_to_another_store_whole_and_never_overwrites() {
    let here = SqliteStore::in_memory().expect("opens");
    filled(&here);
    let file = whole(&here, "Gully 7");
    let there = SqliteStore::in_memory().expect("opens");
    assert_eq!(
        there.import(&file).expect("imports"),
        Imported::Added(StoneNo(1))
    );
    assert_eq!(whole(&there, "Gully 7"), file);
    assert_eq!(
        there.import(&file).expect("nothing to do"),
        Imported::AlreadyHere(StoneNo(1))
    );
    there
        .add_run(StoneNo(1), &run("more"), at(9))
        .expect("adds");
    assert_eq!(
        there.import(&file).expect_err("differs").fault,
        StoreFault::Exists
    );
    let mut namesake = file;
    namesake.mark = "another".into();
    assert_eq!(
        there.import(&namesake).expect_err("name taken").fault,
        StoreFault::Exists
    );
    assert_eq!(there.stones().expect("reads").len(), 1);
}

#[test]
fn backup_and_restore_bring_everything_back_and_keep_what_stood_there() {
    let folder = tempfile::tempdir().expect("a folder");
    let store = SqliteStore::open(&folder.path().join("stones.db")).expect("opens");
    filled(&store);
    let before = whole(&store, "1");
    let copy = folder.path().join("copy.db");
    store.backup(&copy).expect("copies");
    assert_eq!(
        store.backup(&copy).expect_err("never overwrites").fault,
        StoreFault::Exists
    );
    store
        .add_stone("Later", false, &evidence("x"), at(9))
        .expect("adds");
    let kept = store.restore(&copy, at(10)).expect("restores");
    assert_eq!(store.stones().expect("reads").len(), 1);
    assert_eq!(whole(&store, "1"), before);
    let kept = SqliteStore::open(&kept).expect("is a store");
    assert_eq!(kept.stones().expect("reads").len(), 2);
    // It goes on working after it.
    store
        .add_stone("After", false, &evidence("x"), at(11))
        .expect("adds");
}

#[test]
fn restoring_from_what_is_no_backup_changes_nothing() {
    let folder = tempfile::tempdir().expect("a folder");
    let store = SqliteStore::open(&folder.path().join("stones.db")).expect("opens");
    filled(&store);
    let junk = folder.path().join("junk");
    std::fs::write(&junk, vec![7_u8; 10_000]).expect("writes");
    let missing = folder.path().join("missing");
    for (path, fault) in [(&junk, StoreFault::Damaged), (&missing, StoreFault::File)] {
        assert_eq!(
            store.restore(path, at(0)).expect_err("refused").fault,
            fault
        );
    }
    assert_eq!(store.stones().expect("reads").len(), 1);
}

/// What a copy holds is told before it is put back, by the same look that restoring takes.
#[test]
fn what_a_copy_holds_is_told() {
    let folder = tempfile::tempdir().expect("a folder");
    let store = SqliteStore::open(&folder.path().join("stones.db")).expect("opens");
    filled(&store);
    let copy = folder.path().join("copy.db");
    store.backup(&copy).expect("copies");
    let held = store.holdings_of(&copy).expect("a copy");
    assert_eq!(held, store.holdings().expect("reads"));
    assert_eq!(held.stones, 1);
    store
        .add_stone("Later", false, &evidence("x"), at(59))
        .expect("adds");
    let now = store.holdings().expect("reads");
    assert_eq!((now.stones, now.last), (2, Some(at(59))));
    assert!(held.last < now.last);
    let missing = store.holdings_of(&folder.path().join("missing"));
    assert_eq!(missing.expect_err("none").fault, StoreFault::File);
}

/// A file that passes as a store and has a trigger of its own, or lacks one of ours, is
/// refused with the name of what is wrong.
#[test]
fn a_copy_that_was_tampered_with_is_refused() {
    let folder = tempfile::tempdir().expect("a folder");
    let store = SqliteStore::open(&folder.path().join("stones.db")).expect("opens");
    filled(&store);
    for (k, (change, name)) in [
        (
            "CREATE TRIGGER sly AFTER INSERT ON event BEGIN SELECT 1; END",
            "trigger 'sly'",
        ),
        ("DROP TRIGGER event_kept", "trigger 'event_kept'"),
        ("CREATE VIEW seen AS SELECT 1", "view 'seen'"),
        (
            "DROP TRIGGER run_kept; CREATE TRIGGER run_kept BEFORE DELETE ON run BEGIN SELECT 1; END",
            "trigger 'run_kept'",
        ),
    ]
    .into_iter()
    .enumerate()
    {
        let copy = folder.path().join(format!("copy-{k}.db"));
        store.backup(&copy).expect("copies");
        rusqlite::Connection::open(&copy)
            .and_then(|c| c.execute_batch(change))
            .expect("changes");
        let error = store.restore(&copy, at(10)).expect_err("refused");
        assert_eq!(error.fault, StoreFault::Damaged);
        assert!(error.to_string().contains(name), "{error}");
        assert_eq!(store.holdings_of(&copy).expect_err("refused"), error);
    }
    assert_eq!(store.stones().expect("reads").len(), 1);
}

/// There is no place beside a trial in memory where what stood there could be kept.
#[test]
fn a_trial_in_memory_takes_no_copy_back() {
    let folder = tempfile::tempdir().expect("a folder");
    let trial = SqliteStore::in_memory().expect("opens");
    filled(&trial);
    let copy = folder.path().join("copy.db");
    trial.backup(&copy).expect("copies");
    let error = trial.restore(&copy, at(0)).expect_err("refused");
    assert!(error.to_string().contains("in memory"), "{error}");
    assert_eq!(trial.stones().expect("reads").len(), 1);
}

#[test]
fn a_store_held_by_another_program_is_named() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("stones.db");
    let store = SqliteStore::open_with_patience(&path, Duration::from_millis(20)).expect("opens");
    let other = rusqlite::Connection::open(&path).expect("opens");
    other.execute_batch("BEGIN IMMEDIATE").expect("locks");
    let error = store
        .add_stone("a", false, &evidence("x"), at(0))
        .expect_err("held");
    assert_eq!(error.fault, StoreFault::Locked);
    other.execute_batch("ROLLBACK").expect("lets go");
    store
        .add_stone("a", false, &evidence("x"), at(0))
        .expect("free again");
}

#[test]
fn what_is_no_store_or_a_newer_one_is_refused() {
    let folder = tempfile::tempdir().expect("a folder");
    let other = folder.path().join("other.db");
    rusqlite::Connection::open(&other)
        .and_then(|c| c.execute_batch("CREATE TABLE t (a)"))
        .expect("makes");
    let newer = folder.path().join("newer.db");
    drop(SqliteStore::open(&newer).expect("opens"));
    rusqlite::Connection::open(&newer)
        .and_then(|c| c.pragma_update(None, "user_version", 99))
        .expect("marks");
    let text = folder.path().join("text.db");
    std::fs::write(
        &text,
        "not a database, but longer than a header has to be".repeat(9),
    )
    .expect("writes");
    for (path, fault) in [
        (&other, StoreFault::Damaged),
        (&newer, StoreFault::Newer),
        (&text, StoreFault::Damaged),
    ] {
        let error = SqliteStore::open(path).err().expect("refused");
        assert_eq!(error.fault, fault, "{error}");
    }
}

/// Every schema that was ever released opens, is brought up to date and keeps
/// its records. A released file here is never edited.
#[test]
fn released_schemas_open_and_keep_their_records() {
    let released = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/released");
    let mut seen = 0;
    for entry in std::fs::read_dir(released).expect("a folder") {
        let dump = std::fs::read_to_string(entry.expect("a file").path()).expect("reads");
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("old.db");
        rusqlite::Connection::open(&path)
            .and_then(|c| c.execute_batch(&dump))
            .expect("loads");
        // A copy of that time can be put back.
        let here = SqliteStore::in_memory().expect("opens");
        assert_eq!(here.holdings_of(&path).expect("a copy").stones, 1);
        let store = SqliteStore::open(&path).expect("opens and migrates");
        let old = whole(&store, "Gully 7");
        let fresh = SqliteStore::in_memory().expect("opens");
        filled(&fresh);
        assert_eq!(old, whole(&fresh, "Gully 7"));
        store
            .add_stone("New", false, &evidence("x"), at(9))
            .expect("goes on");
        seen += 1;
    }
    assert!(seen >= 1);
}
