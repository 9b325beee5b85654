//! A step is made anew when what it rests on changed, and only then.

use opal_evidence::{Brightness, Evidence, Look};
use opal_files::{NoAttachments, example_prices, read_evidence, read_prices};
use opal_job::{Ask, Job, JobError, NoProgress, Progress, Settings, Stage};
use opal_plan::{BenchRules, Effort};
use opal_units::{Money, Seed};
use std::sync::Arc;

fn evidence() -> Evidence {
    let text = include_str!("../../../examples/quick-look.toml");
    read_evidence("quick-look.toml", text.as_bytes(), &NoAttachments).expect("reads")
}

fn settings() -> Settings {
    let prices = read_prices("prices.toml", example_prices().as_bytes()).expect("reads");
    Settings::new(
        prices.book,
        prices.costs,
        prices.limits,
        BenchRules::default(),
    )
}

fn ask() -> Ask {
    Ask {
        n_interiors: 40,
        effort: Effort::Quick,
        ..Ask::default()
    }
}

fn finished() -> Job {
    let mut job = Job::new(evidence(), settings(), ask()).expect("can be asked");
    assert_eq!(
        job.stale(),
        [Stage::Stone, Stage::Interiors, Stage::Plans, Stage::Bid]
    );
    job.bid(&NoProgress).expect("a bid");
    assert_eq!(job.stale(), []);
    job
}

#[test]
fn only_what_rests_on_a_change_is_made_anew() {
    let mut job = finished();
    let interiors = job.interiors(&NoProgress).expect("kept");

    // The asking price moves what happens at it, nothing else.
    let mut changed = evidence();
    changed.piece.asking = Some(Money::from_minor(1, job.settings().currency()));
    job.set_evidence(changed);
    assert_eq!(job.stale(), [Stage::Bid]);

    // The cutter's limits count for the bid alone.
    job.set_evidence(evidence());
    let mut careful = settings();
    careful.limits.margin += 0.1;
    job.set_settings(careful);
    assert_eq!(job.stale(), [Stage::Bid]);

    // How the colour looks moves the value, not the inside.
    job.set_settings(settings());
    let mut changed = evidence();
    changed.look = Look {
        brightness: vec![Brightness::Brilliant],
        ..changed.look
    };
    job.set_evidence(changed);
    assert_eq!(job.stale(), [Stage::Plans, Stage::Bid]);
    job.bid(&NoProgress).expect("a bid");
    let same = job.interiors(&NoProgress).expect("kept");
    assert!(Arc::ptr_eq(&interiors, &same));

    // What was seen of the bar moves the inside, not the shape.
    let mut changed = evidence();
    if let Some(quick) = &mut changed.bars[0].quick {
        quick.edge_share = 0.9;
    }
    job.set_evidence(changed);
    assert_eq!(job.stale(), [Stage::Interiors, Stage::Plans, Stage::Bid]);

    // Another weight moves everything.
    let mut changed = evidence();
    changed.piece.weight = changed.piece.weight.map(|weight| weight * 1.02);
    job.set_evidence(changed);
    assert_eq!(job.stale().len(), 4);
}

#[test]
fn the_same_question_has_the_same_answer_and_another_seed_another() {
    let bid = |seed: u64| {
        let ask = Ask {
            seed: Seed(seed),
            ..ask()
        };
        let mut job = Job::new(evidence(), settings(), ask).expect("can be asked");
        job.bid_doc(&NoProgress).expect("a bid")
    };
    let first = bid(7);
    assert_eq!(first, bid(7));
    assert_ne!(first.gain, bid(8).gain);
}

/// Wants no more of it.
struct Stop;

impl Progress for Stop {
    fn at(&self, _stage: Stage, _share: f64) {}

    fn cancelled(&self) -> bool {
        true
    }
}

#[test]
fn stopped_work_leaves_nothing_half_done() {
    let mut job = Job::new(evidence(), settings(), ask()).expect("can be asked");
    let stopped = job.bid(&Stop);
    assert!(matches!(stopped, Err(JobError::Cancelled)));
    assert!(job.stale().contains(&Stage::Bid));
    job.bid(&NoProgress).expect("goes on where it was");
}

#[test]
fn an_asking_price_in_another_currency_is_refused() {
    let mut changed = evidence();
    let yen = opal_units::Currency::new("JPY").expect("a code");
    changed.piece.asking = Some(Money::from_minor(90_000, yen));
    let mut job = Job::new(changed, settings(), ask()).expect("can be asked");
    assert!(matches!(job.bid(&NoProgress), Err(JobError::Money(_))));
}
