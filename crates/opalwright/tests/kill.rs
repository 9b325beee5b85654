//! The workbench is killed while it books and logs, again and again: what was
//! acknowledged stands, what was not is whole or absent, and the books close.
//!
//! `OPAL_SLOW=1` kills it 500 times instead of 20.

use opal_job::{LedgerStore as _, StoneNo, Store as _};
use opal_store::SqliteStore;
use opal_units::{Rng, Seed};
use rand::RngExt as _;
use std::collections::BTreeMap;
use std::io::{BufRead as _, BufReader, Read as _, Write as _};
use std::net::TcpStream;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::sync::atomic::{AtomicBool, AtomicU32, Ordering};
use std::thread::ScopedJoinHandle;
use std::time::Duration;

/// A workbench on a store, with its address.
fn served(store: &Path) -> (Child, String) {
    let mut child = Command::new(env!("CARGO_BIN_EXE_opalwright"))
        .args(["serve", "--json", "--address", "127.0.0.1:0", "--store"])
        .arg(store)
        .stdout(Stdio::piped())
        .stderr(Stdio::inherit())
        .spawn()
        .expect("starts");
    let mut line = String::new();
    BufReader::new(child.stdout.take().expect("piped"))
        .read_line(&mut line)
        .expect("says its address");
    let said: serde_json::Value = serde_json::from_str(&line).expect("JSON");
    let address = said["address"].as_str().expect("an address");
    let address = address.trim_start_matches("http://").trim_end_matches('/');
    (child, address.to_owned())
}

/// Sends a document; true once it was acknowledged, false where the line went dead.
fn sent(address: &str, path: &str, document: &serde_json::Value) -> bool {
    let body = document.to_string();
    let talk = || -> std::io::Result<String> {
        let mut line = TcpStream::connect(address)?;
        line.set_read_timeout(Some(Duration::from_secs(30)))?;
        write!(
            line,
            "POST {path} HTTP/1.1\r\nHost: {address}\r\nConnection: close\r\n\
             Content-Type: application/json\r\nContent-Length: {}\r\n\r\n{body}",
            body.len()
        )?;
        let mut answer = String::new();
        line.read_to_string(&mut answer)?;
        Ok(answer)
    };
    match talk() {
        Ok(answer) if answer.starts_with("HTTP/1.1 20") => true,
        Ok(answer) => {
            assert!(answer.is_empty(), "refused: {answer}");
            false
        }
        Err(_) => false,
    }
}

/// How many slips of a batch and how many events at the bench came through, by their
/// names.
fn there(store: &Path) -> BTreeMap<String, usize> {
    let store = SqliteStore::open(store).expect("opens after the kill");
    let mut batches = BTreeMap::new();
    for record in store.events(StoneNo(1)).expect("reads") {
        let body: serde_json::Value = serde_json::from_str(&record.event.body).expect("JSON");
        if let Some(mark) = body["once"].as_str() {
            *batches.entry(mark.to_owned()).or_insert(0) += 1;
        }
    }
    for (k, entry) in store.ledger().expect("reads").iter().enumerate() {
        assert_eq!(entry.number, k as u64 + 1, "no gap");
        let sum: i64 = entry.postings.iter().map(|posting| posting.minor).sum();
        assert_eq!(
            (sum, entry.postings.len()),
            (0, 2),
            "entry {}",
            entry.number
        );
        let slip: serde_json::Value = serde_json::from_str(&entry.body).expect("JSON");
        let batch = slip["note"].as_str().expect("a note").to_owned();
        *batches.entry(batch).or_insert(0) += 1;
    }
    batches
}

#[test]
fn what_was_acknowledged_outlives_a_kill() {
    let kills = if std::env::var_os("OPAL_SLOW").is_some() {
        500
    } else {
        20
    };
    let folder = tempfile::tempdir().expect("a folder");
    let store = folder.path().join("stones.db");
    let mut rng: Rng = Seed(20_261_125).stream("kills", 0);
    // How many slips each acknowledged batch held.
    let mut acknowledged: BTreeMap<String, usize> = BTreeMap::new();
    let mut unsaid = 0;
    let piece = concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/../../examples/quick-look.toml"
    );
    let taken = Command::new(env!("CARGO_BIN_EXE_opalwright"))
        .args(["take-in", piece, "--store"])
        .arg(&store)
        .output()
        .expect("runs");
    assert!(taken.status.success(), "{taken:?}");
    for kill in 0..kills {
        let (mut child, address) = served(&store);
        let over = AtomicBool::new(false);
        // So many batches are let through on a machine of any speed, and a part of the
        // next ones.
        let (let_through, said_so_far) = (rng.random_range(0..8), AtomicU32::new(0));
        let wait = Duration::from_micros(rng.random_range(0..20_000));
        let tried = std::thread::scope(|scope| {
            // Two that book, one at the bench.
            let writers: Vec<_> = (0..3)
                .map(|writer| {
                    let (over, address, said_so_far) = (&over, &address, &said_so_far);
                    scope.spawn(move || {
                        let mut sent_so_far = Vec::new();
                        for n in 0.. {
                            if over.load(Ordering::SeqCst) {
                                break;
                            }
                            if writer == 2 {
                                let mark = format!("{kill}.bench.{n}");
                                let event = serde_json::json!({
                                    "once": mark, "event": { "kind": "note", "text": mark },
                                });
                                let said = sent(address, "/api/stones/1/log", &event);
                                sent_so_far.push((mark, 1, said));
                                if !said {
                                    break;
                                }
                                continue;
                            }
                            let size = 1 + n % 4;
                            let batch = format!("{kill}.{writer}.{n}");
                            let slip = serde_json::json!({
                                "what": "spent", "amount": "0.07", "note": batch,
                            });
                            let slips = vec![slip; size];
                            let said =
                                sent(address, "/api/ledger/entries", &serde_json::json!(slips));
                            said_so_far.fetch_add(u32::from(said), Ordering::SeqCst);
                            sent_so_far.push((batch, size, said));
                            if !said {
                                break;
                            }
                        }
                        sent_so_far
                    })
                })
                .collect();
            let goes_on = |writers: &[ScopedJoinHandle<'_, _>]| {
                writers.iter().any(|writer| !writer.is_finished())
            };
            while goes_on(&writers) && said_so_far.load(Ordering::SeqCst) < let_through {
                std::thread::sleep(Duration::from_micros(200));
            }
            std::thread::sleep(wait);
            child.kill().expect("kills");
            child.wait().expect("ends");
            over.store(true, Ordering::SeqCst);
            writers
                .into_iter()
                .flat_map(|writer| writer.join().expect("a writer"))
                .collect::<Vec<_>>()
        });
        let there = there(&store);
        for (batch, size, said) in tried {
            if said {
                acknowledged.insert(batch, size);
            } else {
                unsaid += 1;
                let came = there.get(&batch).copied().unwrap_or(0);
                assert!(came == 0 || came == size, "{batch}: {came} of {size}");
            }
        }
        for (batch, size) in &acknowledged {
            assert_eq!(there.get(batch), Some(size), "{batch} was acknowledged");
        }
    }
    let at_the_bench = |batch: &String| batch.contains("bench");
    let all = there(&store);
    let n: usize = all
        .iter()
        .filter(|(batch, _)| !at_the_bench(batch))
        .map(|(_, n)| n)
        .sum();
    let logged = acknowledged
        .keys()
        .filter(|batch| at_the_bench(batch))
        .count();
    println!(
        "{kills} kills: {} batches and {logged} events acknowledged, {unsaid} cut off, {n} \
         entries in the books",
        acknowledged.len() - logged
    );
    assert!(
        acknowledged.len() > logged && logged > 0 && unsaid > 0,
        "it was killed while it wrote"
    );
    // The books close: what went out is what was spent.
    let output = Command::new(env!("CARGO_BIN_EXE_opalwright"))
        .args(["ledger", "--json", "--store"])
        .arg(&store)
        .output()
        .expect("runs");
    let doc: serde_json::Value = serde_json::from_slice(&output.stdout).expect("JSON");
    let cents = format!("{:03}", 7 * n);
    let (whole, part) = cents.split_at(cents.len() - 2);
    assert_eq!(doc["outcome"]["profit"], format!("-{whole}.{part}"));
}
