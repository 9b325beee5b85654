//! How long `now` takes after each event of the invented session at the bench.
//! Reach: half a second.
//!
//! One line for each event: by the clock, by the processor where it can be told (on
//! a busy machine the only one that means anything), and how often insides were drawn.

use opal_bench::Event;
use opal_files::{NoAttachments, example_prices, read_evidence, read_prices};
use opal_finish::WheelSet;
use opal_job::{
    Ask, AtTheBench, EvidenceFile, HeldInsides, Opened, PricesInForce, Settings, Syntax, Timestamp,
    WheelsInForce, event_from_json,
};
use opal_plan::BenchRules;
use serde_json::Value;
use std::time::Instant;

const EVIDENCE: &str = include_str!("../../../examples/bench.toml");
const SESSION: &str = include_str!("../../../examples/bench-session.json");

fn main() {
    let evidence = read_evidence("bench.toml", EVIDENCE.as_bytes(), &NoAttachments).expect("reads");
    let prices = read_prices("prices.toml", example_prices().as_bytes()).expect("reads");
    let prices = PricesInForce {
        text: example_prices().to_owned(),
        example: true,
        settings: Settings::new(
            prices.book,
            prices.costs,
            prices.limits,
            BenchRules::default(),
        ),
    };
    let opened = Opened {
        record: None,
        file: EvidenceFile {
            file_name: "bench.toml".to_owned(),
            syntax: Syntax::Toml,
            text: EVIDENCE.to_owned(),
            meshes: Vec::new(),
        },
        evidence,
    };
    let ask = Ask {
        n_interiors: 240,
        ..Ask::default()
    };
    let steps: Vec<Value> = serde_json::from_str(SESSION).expect("JSON");
    let wheels = WheelsInForce {
        text: None,
        set: WheelSet::usual(),
        taught_by: 0,
    };
    let mut held = HeldInsides::default();
    let mut events: Vec<(Timestamp, Event)> = Vec::new();
    for step in &steps {
        let Some(event) = step.get("event") else {
            continue;
        };
        events.push((
            Timestamp::UNIX_EPOCH,
            event_from_json(event).expect("an event"),
        ));
        let (start, worked) = (Instant::now(), processor_ms());
        let at = AtTheBench::new(opened.clone(), events.clone(), &ask).expect("stands");
        let read = start.elapsed();
        at.now(&prices, &wheels, &ask, &mut held)
            .expect("a ranking");
        println!(
            "{:>3} {:<16} log {:>6.1} ms, in all {:>7.1} ms, processor {:>5.0} ms, drawn {}",
            events.len(),
            event["kind"].as_str().unwrap_or_default(),
            read.as_secs_f64() * 1e3,
            start.elapsed().as_secs_f64() * 1e3,
            processor_ms() - worked,
            held.drawings()
        );
    }
}

/// What all threads have used so far: fields 14 and 15 of `/proc/self/stat` (proc(5)),
/// in ticks of 10 ms; not a number elsewhere.
fn processor_ms() -> f64 {
    let told = std::fs::read_to_string("/proc/self/stat").unwrap_or_default();
    // The name of the program may hold blanks; it ends at the last bracket.
    let fields = told.rsplit(')').next().unwrap_or_default();
    let ticks = |k: usize| {
        let field = fields.split_whitespace().nth(k - 3);
        field.and_then(|text| text.parse().ok()).unwrap_or(f64::NAN)
    };
    10.0 * (ticks(14) + ticks(15))
}
