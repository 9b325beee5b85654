//! `demo`: an invented piece from evidence to sheet.
//!
//! Nothing is kept unless a store is named: the piece lives as long as the
//! workbench is open.

use super::output::{say, say_json, write_file};
use super::serve;
use crate::args::{Args, Demo};
use crate::exit::Failure;
use crate::watch::Watch;
use crate::wire;
use opal_job::{EvidenceFile, MeshFile, Paper, SheetPrint, StoreFault, Syntax, TakeIn};
use opal_report::json::{DEMO_FORMAT, DemoDoc};

/// The invented piece: its evidence says so itself.
const EVIDENCE: &str = include_str!("../../../../examples/scan.toml");
const SCAN: &[u8] = include_bytes!("../../../../examples/scan-rough.ply");
const SCAN_NAME: &str = "scan-rough.ply";

/// The levels at which the demo tells quantiles.
const LEVELS: [f64; 5] = [0.05, 0.25, 0.5, 0.75, 0.95];

fn evidence() -> EvidenceFile {
    EvidenceFile {
        file_name: "scan.toml".to_owned(),
        syntax: Syntax::Toml,
        text: EVIDENCE.to_owned(),
        meshes: vec![MeshFile {
            name: SCAN_NAME.to_owned(),
            bytes: SCAN.to_vec(),
        }],
    }
}

pub(super) fn run(args: &Args, command: &Demo) -> Result<(), Failure> {
    if command.bench {
        return super::demo_bench::run(&command.drawing, command.answer);
    }
    let bench = if args.store.is_some() {
        wire::bench(args)?
    } else {
        wire::bench_in_memory()?
    };
    let taken = bench.take_in(evidence(), &TakeIn::New { invented: true });
    let opened = match taken {
        // A second demo on the same store shows the same stone.
        Err(opal_job::JobError::Store(error)) if error.fault == StoreFault::Exists => {
            let name = bench.look_over(evidence())?.evidence.piece.name;
            bench.take_in(evidence(), &TakeIn::Again(bench.number(&name)?))?
        }
        taken => taken?,
    };
    let prices = bench.prices()?;
    let ask = command.drawing.ask(&LEVELS)?;
    let mut job = bench.job(&opened, &prices, ask)?;
    let watch = Watch::new();
    // The record carries a time of day; without it the same seed gives the same bytes.
    let stone = job.show_doc(None, &watch)?;
    let plan = job.plan_doc(&watch)?;
    let bid = job.bid_doc(&watch)?;
    // Kept, so that the workbench opens on what was just worked out.
    let inputs = bench.inputs(&opened, &prices, job.ask())?;
    let answers = [
        ("plan", serde_json::to_string(&plan)),
        ("bid", serde_json::to_string(&bid)),
    ];
    for (what, output) in answers {
        let output = output.map_err(opal_job::JobError::from)?;
        bench.keep(&opened, what, &inputs, job.ask(), &output)?;
    }
    let print = SheetPrint {
        wheels: &bench.wheels()?,
        paper: Paper::A4,
        date: "",
        invented: true,
    };
    let pdf = job.sheet_pdf(0, &print, &watch)?;
    let detail = command.answer.detail();
    let told = [
        "An invented piece, through the whole job. No such stone exists.\n".to_owned(),
        opal_report::text::show(&stone, detail),
        job.plan_text(detail, &watch)?,
        job.bid_text(detail, &watch)?,
    ];
    watch.clear();
    write_file(&command.out, &pdf)?;
    let mut doc = DemoDoc {
        format: DEMO_FORMAT.to_owned(),
        invented: true,
        stone,
        plan,
        bid,
        sheet: command.out.display().to_string(),
        address: None,
    };
    if command.answer.json && command.no_serve {
        return say_json(&doc);
    }
    if !command.answer.json {
        say(&told.join("\n────\n"))?;
        say(&format!("\nThe bench sheet is in {}.\n", doc.sheet))?;
    }
    if command.no_serve {
        return Ok(());
    }
    // The memory of the chain is given back before the workbench opens.
    drop(job);
    serve::serve(bench, command.address, false, |opened| {
        let address = &opened.address;
        let said = if command.answer.json {
            doc.address = Some(address.clone());
            say_json(&doc)
        } else {
            say(&format!(
                "The workbench is open at {address} (Ctrl-C closes it).\n"
            ))
        };
        // A reader that went away does not close the workbench.
        drop(said);
    })
}
