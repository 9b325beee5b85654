//! The books as a person keeps them, and what may go wrong with the disk under them.

use serde_json::Value;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};
use tempfile::TempDir;

/// A bench of its own: a folder with a store in it.
struct Bench(TempDir);

impl Bench {
    fn new() -> Self {
        Self(tempfile::tempdir().expect("a folder"))
    }

    fn path(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }

    fn command(&self, args: &[&str]) -> Command {
        let mut command = Command::new(env!("CARGO_BIN_EXE_opalwright"));
        command
            .current_dir(self.0.path())
            .env("OPALWRIGHT_STORE", self.path("stones.db"))
            .args(args);
        command
    }

    fn run(&self, args: &[&str]) -> (i32, String, String) {
        told(&self.command(args).output().expect("runs"))
    }

    fn done(&self, args: &[&str]) -> String {
        let (code, out, err) = self.run(args);
        assert_eq!(code, 0, "{args:?}\n{err}");
        out
    }

    fn json(&self, args: &[&str]) -> Value {
        serde_json::from_str(&self.done(args)).expect("one JSON document")
    }

    fn take_in(&self) {
        let example = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples/quick-look.toml");
        self.done(&["take-in", &example.display().to_string()]);
    }
}

fn told(output: &Output) -> (i32, String, String) {
    let text = |bytes: &[u8]| String::from_utf8(bytes.to_vec()).expect("text");
    (
        output.status.code().unwrap_or(-1),
        text(&output.stdout),
        text(&output.stderr),
    )
}

fn valid(document: &Value, schema: &str) {
    let path = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("../../docs/schema")
        .join(schema);
    let schema: Value =
        serde_json::from_str(&std::fs::read_to_string(path).expect("checked in")).expect("JSON");
    let validator = jsonschema::validator_for(&schema).expect("a schema");
    let faults: Vec<String> = validator
        .iter_errors(document)
        .map(|fault| format!("{} at {}", fault, fault.instance_path()))
        .collect();
    assert!(faults.is_empty(), "{faults:?}");
}

#[test]
fn a_stone_is_bought_worked_sold_and_told() {
    let bench = Bench::new();
    bench.take_in();
    let booked = bench.json(&[
        "ledger",
        "buy",
        "1",
        "250.00",
        "--date",
        "2026-01-05",
        "--json",
    ]);
    valid(&booked, "entries-1.schema.json");
    bench.done(&[
        "ledger",
        "fee",
        "12.50",
        "buying",
        "--for",
        "1",
        "--date",
        "2026-01-05",
    ]);
    bench.done(&[
        "ledger",
        "work",
        "90",
        "--for",
        "1",
        "--hourly",
        "30",
        "--date",
        "2026-02-01",
    ]);
    bench.done(&[
        "ledger",
        "spend",
        "4.20",
        "--for",
        "1",
        "--date",
        "2026-02-01",
    ]);
    let sold = bench.done(&[
        "ledger",
        "sell",
        "1",
        "500.00",
        "--fee",
        "15.00",
        "--date",
        "2026-03-01",
    ]);
    assert!(sold.contains("safe on the disk"), "{sold}");
    let doc = bench.json(&["ledger", "--json"]);
    valid(&doc, "ledger-1.schema.json");
    // 500.00 − 15.00 − 250.00 − 12.50 − 45.00 − 4.20.
    assert_eq!(doc["outcome"]["profit"], "173.30");
    let plain = bench.done(&["ledger", "--by", "month"]);
    assert!(
        plain.contains("Profit 173.30 AUD after all costs; 218.30 AUD"),
        "{plain}"
    );
    assert!(plain.contains("2026-03"), "{plain}");
    bench.done(&["ledger", "return", "5", "--date", "2026-03-09"]);
    let held = bench.done(&["ledger", "--held"]);
    assert!(held.contains("311.70"), "{held}");
    bench.done(&["ledger", "correct", "6", "--date", "2026-03-10"]);
    assert_eq!(
        bench.json(&["ledger", "--json"])["outcome"]["profit"],
        "173.30"
    );
    let (code, _, err) = bench.run(&["ledger", "correct", "1"]);
    assert_eq!(code, 3);
    assert!(err.contains("entry 5 rests on it"), "{err}");
    let list = bench.done(&["ledger", "entries"]);
    assert!(
        list.contains("came back from sale 5 (taken back)"),
        "{list}"
    );
    bench.done(&["ledger", "export", "books.json"]);
    bench.done(&["ledger", "export", "books.csv"]);
    let csv = std::fs::read_to_string(bench.path("books.csv")).expect("written");
    assert_eq!(csv.lines().count(), 8);
    let (code, _, err) = bench.run(&["ledger", "import", "books.json"]);
    assert_eq!(code, 3);
    assert!(err.contains("booked twice"), "{err}");
    bench.done(&["ledger", "--csv", "report.csv", "--by", "month"]);
    let csv = std::fs::read_to_string(bench.path("report.csv")).expect("written");
    assert!(csv.starts_with("month,sold,taken"), "{csv}");
    bench.done(&["ledger", "2026", "--pdf", "year.pdf"]);
    bench.done(&["ledger", "--held", "--pdf", "held.pdf", "--paper", "letter"]);
    for name in ["year.pdf", "held.pdf"] {
        let bytes = std::fs::read(bench.path(name)).expect("written");
        assert!(bytes.starts_with(b"%PDF-"), "{name}");
    }
}

/// A stone that was booked and saved is the same stone where it stands; at another bench
/// its books come along and are booked there in none.
#[test]
fn a_booked_stone_that_was_saved_here_is_known_again() {
    let bench = Bench::new();
    bench.take_in();
    bench.done(&["ledger", "buy", "1", "80.00"]);
    bench.done(&["export", "1", "--out", "whole.json"]);
    let file = bench.path("whole.json").display().to_string();
    let again = bench.json(&["import", &file, "--json"]);
    assert_eq!(again["added"], false);
    // Also when the books went on meanwhile.
    bench.done(&["ledger", "sell", "1", "95.00"]);
    let again = bench.json(&["import", &file, "--json"]);
    assert_eq!(again["added"], false);
    let other = Bench::new();
    assert_eq!(other.json(&["import", &file, "--json"])["added"], true);
    assert_eq!(other.json(&["import", &file, "--json"])["added"], false);
    assert_eq!(other.json(&["ledger", "--json"])["entries"], 0);
}

#[test]
fn a_backup_carries_the_books() {
    let bench = Bench::new();
    bench.done(&[
        "ledger",
        "buy",
        "parcel:Winter bag",
        "80.00",
        "--date",
        "2026-01-05",
    ]);
    bench.done(&[
        "ledger",
        "sell",
        "parcel:Winter bag",
        "95.50",
        "--date",
        "2026-01-07",
    ]);
    bench.done(&["backup", "copy.db"]);
    bench.done(&["ledger", "spend", "3.33"]);
    bench.done(&["restore", "copy.db"]);
    let doc = bench.json(&["ledger", "--json"]);
    assert_eq!(
        (doc["entries"].as_u64(), doc["outcome"]["profit"].as_str()),
        (Some(2), Some("15.50"))
    );
}

/// A backup that is made while another program books is the books at one moment: so
/// many entries, and the sum of exactly those.
#[test]
fn a_backup_while_somebody_books_closes() {
    let bench = Bench::new();
    bench.done(&["ledger", "spend", "0.01"]);
    std::thread::scope(|scope| {
        let writer = scope.spawn(|| {
            for _ in 0..12 {
                bench.done(&["ledger", "spend", "0.01"]);
            }
        });
        for k in 0..4 {
            bench.done(&["backup", &format!("copy-{k}.db")]);
        }
        writer.join().expect("writes");
    });
    let mut last = 0;
    for k in 0..4 {
        let copy = format!("copy-{k}.db");
        let doc = bench.json(&["ledger", "--json", "--store", &copy]);
        let n = doc["entries"].as_u64().expect("a number");
        assert_eq!(doc["outcome"]["profit"], format!("-0.{n:02}"));
        assert!(n >= last);
        last = n;
    }
    assert_eq!(
        bench.json(&["ledger", "--json"])["outcome"]["profit"],
        "-0.13"
    );
}

#[test]
fn processes_that_book_at_once_lose_nothing() {
    let bench = Bench::new();
    bench.done(&["ledger", "spend", "1.00"]);
    let children: Vec<_> = (0..8)
        .map(|_| {
            bench
                .command(&["ledger", "spend", "0.25"])
                .spawn()
                .expect("starts")
        })
        .collect();
    for mut child in children {
        assert!(child.wait().expect("ends").success());
    }
    let doc = bench.json(&["ledger", "--json"]);
    assert_eq!(doc["entries"], 9);
    assert_eq!(doc["outcome"]["profit"], "-3.00");
}

/// Books until no more goes in: how many entries were acknowledged, and the error.
fn fill(run: impl Fn(&[&str]) -> (i32, String, String)) -> (u64, String) {
    let note = "x".repeat(4000);
    let mut acknowledged = 0;
    loop {
        let (code, _, err) = run(&["ledger", "spend", "0.01", "--note", &note]);
        if code != 0 {
            return (acknowledged, err);
        }
        acknowledged += 1;
        assert!(acknowledged < 2000, "it never filled");
    }
}

/// The limit on a file's size (POSIX RLIMIT_FSIZE) stands in for a disk that fails.
#[cfg(unix)]
#[test]
fn a_file_that_may_not_grow_loses_nothing() {
    let bench = Bench::new();
    bench.done(&["ledger", "spend", "0.01"]);
    let (acknowledged, err) = fill(|args| {
        let mut command = Command::new("sh");
        command
            .args(["-c", "trap '' XFSZ; ulimit -f 600; exec \"$0\" \"$@\""])
            .arg(env!("CARGO_BIN_EXE_opalwright"))
            .args(args)
            .env("OPALWRIGHT_STORE", bench.path("stones.db"));
        told(&command.output().expect("runs"))
    });
    assert!(err.contains("could not be read or written"), "{err}");
    let doc = bench.json(&["ledger", "--json"]);
    assert_eq!(doc["entries"], acknowledged + 1);
    bench.done(&["ledger", "spend", "0.01"]);
}

/// On a disk of one megabyte, where this machine lets one be mounted.
#[cfg(target_os = "linux")]
#[test]
fn a_full_disk_loses_nothing() {
    let bench = Bench::new();
    let disk = bench.path("disk");
    std::fs::create_dir(&disk).expect("a folder");
    let mounted = Command::new("mount")
        .args(["-t", "tmpfs", "-o", "size=1m", "tmpfs"])
        .arg(&disk)
        .output();
    if !mounted.is_ok_and(|output| output.status.success()) {
        println!("skipped: no small disk may be mounted here");
        return;
    }
    let store = disk.join("stones.db");
    let run = |args: &[&str]| {
        let mut command = bench.command(args);
        command.env("OPALWRIGHT_STORE", &store);
        told(&command.output().expect("runs"))
    };
    let (acknowledged, err) = fill(run);
    let (_, out, _) = run(&["ledger", "--json"]);
    let unmounted = Command::new("umount").arg(&disk).output();
    assert!(unmounted.is_ok_and(|output| output.status.success()));
    assert!(err.contains("is full; nothing was changed"), "{err}");
    assert!(acknowledged > 3);
    let doc: Value = serde_json::from_str(&out).expect("reads on a full disk");
    assert_eq!(doc["entries"], acknowledged);
}

/// A folder that may be read only. The user above all others may write anywhere, so
/// the command runs as nobody (user 65534) then.
#[cfg(target_os = "linux")]
#[test]
fn a_read_only_folder_is_named_and_can_be_read() {
    use std::os::unix::fs::PermissionsExt as _;
    let bench = Bench::new();
    bench.done(&["ledger", "spend", "0.01"]);
    let allow = |path: &Path, mode: u32| {
        std::fs::set_permissions(path, std::fs::Permissions::from_mode(mode)).expect("sets");
    };
    allow(&bench.path("stones.db"), 0o444);
    allow(bench.0.path(), 0o555);
    let nobody = ["--reuid=65534", "--regid=65534", "--clear-groups"];
    let run = |args: &[&str]| {
        let mut command = Command::new("setpriv");
        command
            .args(nobody)
            .arg(env!("CARGO_BIN_EXE_opalwright"))
            .args(args)
            .env("OPALWRIGHT_STORE", bench.path("stones.db"));
        command.output()
    };
    let tried = run(&["ledger", "spend", "0.02"]);
    allow(bench.0.path(), 0o755);
    match tried {
        Ok(output) if !String::from_utf8_lossy(&output.stderr).contains("setpriv") => {
            let (code, _, err) = told(&output);
            assert_eq!(code, 2, "{err}");
            assert!(err.contains("may not be written to"), "{err}");
        }
        _ => println!("skipped: no command can be run as another user here"),
    }
    allow(&bench.path("stones.db"), 0o644);
    assert_eq!(bench.json(&["ledger", "--json"])["entries"], 1);
}
