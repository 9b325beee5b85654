//! What to do next, in cases that every cutter would call alike (common practice,
//! no source).

mod flat;

use flat::{CleanFace, cut, flat, slab};
use opal_bench::{Action, Event, Ground, Now, NowAsk, NowError, Removed, now, replay};
use opal_finish::{Wheel, usual_wheels};
use opal_geom::CutPlane;
use opal_interior::{Interiors, Speck};
use opal_plan::{BenchRules, Effort, Plan, PlanKind, PlanOptions, plan};
use opal_stone::Stone;
use opal_units::{Length, Seed};

fn mm(value: f64) -> Length {
    Length::from_mm(value)
}

/// A plan that cuts the round stone and saws nothing.
fn round_stone(stone: &Stone, interiors: &Interiors) -> Plan {
    let options = PlanOptions {
        effort: Effort::Quick,
        ..PlanOptions::default()
    };
    let plans = plan(
        stone,
        interiors,
        &CleanFace,
        &BenchRules::default(),
        &options,
    );
    let any = plans.expect("selling it as it is, at least").remove(0).plan;
    Plan {
        kind: PlanKind::Freeform,
        stones: vec![cut()],
        cuts: Vec::new(),
        ..any
    }
}

/// The face was sawn flat at 6 mm and a tenth ground off; bar and specks as given.
fn asked(
    bars: &[(f32, f32)],
    specks: &[Vec<Speck>],
    wheels: &[Wheel],
    more: &[Event],
) -> Result<Now, NowError> {
    let (evidence, stone) = slab();
    let mut events = vec![
        Event::Sawn {
            plane: CutPlane::level(6.1),
            kerf: mm(0.5),
            offcut: None,
        },
        Event::Ground {
            place: Ground::Face(None),
            removed: Removed::Depth(mm(0.1)),
        },
    ];
    events.extend_from_slice(more);
    let worked = replay(&evidence, &stone, &events).expect("fine");
    let interiors = flat(&worked.stone, bars, specks);
    now(&NowAsk {
        worked: &worked,
        interiors: &interiors,
        plans: &[round_stone(&worked.stone, &interiors)],
        appraiser: &CleanFace,
        rules: &BenchRules::default(),
        wheels,
        minute: 0.01,
        seed: Seed(3),
    })
}

fn first(now: &Now) -> Action {
    now.advice[0].action
}

#[test]
fn potch_on_a_thick_bar_comes_off() {
    let bars: Vec<(f32, f32)> = (0..80).map(|i| (5.45 + 0.001 * i as f32, 1.5)).collect();
    let now = asked(&bars, &vec![Vec::new(); 80], &usual_wheels(), &[]).expect("ranked");
    assert!(
        matches!(first(&now), Action::TakeOff { .. }),
        "{:?}",
        first(&now)
    );
    assert!(now.advice[0].gain > 10.0 && now.advice[0].ruin < 0.05);
}

#[test]
fn a_clean_face_on_thin_colour_is_left_alone() {
    let bars: Vec<(f32, f32)> = (0..80).map(|i| (6.2, 0.65 + 0.001 * i as f32)).collect();
    let now = asked(&bars, &vec![Vec::new(); 80], &usual_wheels(), &[]).expect("ranked");
    let stop = now
        .advice
        .iter()
        .find(|advice| advice.action == Action::StopAndShape)
        .expect("offered");
    let off = now
        .advice
        .iter()
        .find(|advice| matches!(advice.action, Action::TakeOff { depth } if depth.mm() == 0.5));
    assert!(off.is_none_or(|off| off.gain < stop.gain));
    assert!(
        matches!(
            first(&now),
            Action::StopAndShape | Action::FinerWheel { .. }
        ),
        "{:?}",
        first(&now)
    );
}

/// Common practice, no source: the last tenths are taken with a finer wheel. The
/// damage of the 90 goes 0.14 mm deep by the published bounds: of the 0.4 mm of
/// colour that is left it would leave less than the 0.3 mm that show.
#[test]
fn near_the_end_a_finer_wheel_is_taken() {
    let bars: Vec<(f32, f32)> = (0..80).map(|i| (6.2, 0.6 + 0.0005 * i as f32)).collect();
    let on_coarse = [Event::WheelChanged {
        to: "90 diamond".to_owned(),
        minutes_on_the_last: None,
    }];
    let now = asked(&bars, &vec![Vec::new(); 80], &usual_wheels(), &on_coarse).expect("ranked");
    assert!(
        matches!(first(&now), Action::FinerWheel { .. }),
        "{:?}",
        first(&now)
    );
}

#[test]
fn what_is_missing_is_named() {
    let bars = [(5.5, 1.0); 4];
    let none = vec![Vec::new(); 4];
    assert_eq!(asked(&bars, &none, &[], &[]), Err(NowError::NoWheels));
    let broken = [Event::Broken {
        along: None,
        other: None,
    }];
    let now = asked(&bars, &none, &usual_wheels(), &broken).expect("ranked");
    assert_eq!(now.advice.len(), 1);
    assert_eq!(first(&now), Action::SellAsItIs);
}
