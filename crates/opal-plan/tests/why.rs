//! Why a plan stands first, and where to look before choosing.

#![allow(clippy::panic)] // A test that finds the wrong kind ends there.

mod invented;

use invented::{Law, Prices, interiors, stone};
use opal_plan::{
    BenchRules, Cause, Effort, PlanOptions, PlanWhy, StandardSize, ValuedPlan, plan, why,
};

fn answer(law: Law, n: usize) -> (Vec<ValuedPlan>, PlanWhy) {
    let rough = stone(34.0, 22.0, 12.0, 0.5);
    let insides = interiors(&rough, law, n, 7);
    let options = PlanOptions {
        effort: Effort::Quick,
        sizes: vec![
            StandardSize::from_mm("oval", 14.0, 10.0),
            StandardSize::from_mm("oval", 18.0, 13.0),
        ],
        ..PlanOptions::default()
    };
    let plans = plan(
        &rough,
        &insides,
        &Prices::default(),
        &BenchRules::default(),
        &options,
    )
    .expect("plans");
    let reasons = why(&rough, &insides, &plans);
    (plans, reasons)
}

#[test]
fn a_doubtful_thickness_is_what_decides() {
    let law = Law {
        height_sd_mm: 0.05,
        tilt_sd: 0.0,
        wave_mm: 0.0,
        skin_mm: 0.0,
        ends_at_mm: f64::INFINITY,
        ends_sd_mm: 0.0,
        thickness_log_sd: 0.6,
        ..Law::DOUBTFUL
    };
    let (_, reasons) = answer(law, 400);
    let first = reasons.deciding.first().expect("something decides");
    assert!(
        matches!(first.cause, Cause::Thickness { .. }),
        "{:?}",
        first.cause
    );
    assert!(first.share > 0.3 && first.when_high > first.when_low);
}

#[test]
fn a_doubtful_end_decides_from_its_own_side() {
    let law = Law {
        ends_at_mm: 6.0,
        ends_sd_mm: 6.0,
        ..Law::FLAT
    };
    let (_, reasons) = answer(law, 400);
    let first = reasons.deciding.first().expect("something decides");
    let Cause::Thickness { region, .. } = &first.cause else {
        panic!("{:?}", first.cause)
    };
    // The bar ends towards x, which is to the right.
    assert!(
        region.key().contains("right") || region.key() == "middle",
        "{}",
        region.key()
    );
    let told = reasons.words(|x| format!("{x:.0}"));
    assert!(
        told.iter().any(|w| w.starts_with("Next comes ")),
        "{told:?}"
    );
}

/// Looking is worth no more than seeing inside, and nothing where nothing is in
/// doubt (value of information: Raiffa & Schlaifer 1961).
#[test]
fn a_window_is_worth_between_nothing_and_seeing_inside() {
    let law = Law {
        ends_at_mm: 2.0,
        ends_sd_mm: 9.0,
        ..Law::DOUBTFUL
    };
    let (plans, reasons) = answer(law, 400);
    assert!(!reasons.windows.is_empty());
    let n = plans[0].value.adapting.len();
    let seeing = (0..n)
        .map(|i| {
            plans
                .iter()
                .map(|p| p.value.adapting.values()[i])
                .fold(f64::NEG_INFINITY, f64::max)
        })
        .sum::<f64>()
        / n as f64
        - plans[0].value.adapting.mean();
    for window in &reasons.windows {
        assert!(window.gain <= seeing + 1e-9, "{window:?} {seeing}");
        assert!((0.0..=1.0).contains(&window.colour_chance));
    }
    let (_, reasons) = answer(Law::FLAT, 400);
    assert!(reasons.windows.iter().all(|w| !w.teaches()));
    assert!(reasons.deciding.is_empty() || reasons.deciding[0].share < 0.5);
}

/// The rival would come level at the stated factor on what it fetches.
#[test]
fn the_price_factor_brings_the_rival_level() {
    let (plans, reasons) = answer(Law::DOUBTFUL, 200);
    let rival = reasons.rival.expect("a rival");
    let other = &plans[rival.plan];
    let factor = rival.price_factor.expect("it fetches something");
    let fetched: f64 = if other.stones.is_empty() {
        other.value.adapting.mean()
    } else {
        other.stones.iter().map(|s| s.worth.mean()).sum()
    };
    let level = other.value.adapting.mean() + (factor - 1.0) * fetched;
    assert!((level - plans[0].value.adapting.mean()).abs() < 1e-6 * level.abs());
    for turn in &rival.turns {
        assert!((0.02..=0.98).contains(&turn.chance));
    }
}

#[test]
fn too_few_interiors_tell_nothing() {
    let (_, reasons) = answer(Law::DOUBTFUL, 40);
    assert_eq!(reasons, PlanWhy::default());
}
