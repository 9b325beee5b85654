//! Events bring a stone from how it was taken in to how it is now.

use opal_bench::{Event, Ground, Removed, Sight, Stage, replay};
use opal_evidence::{Evidence, Form, Reading, Seen, SpeckKind};
use opal_geom::CutPlane;
use opal_stone::{Spot, Stone};
use opal_testkit::{piece, rough};
use opal_units::{Length, Mass};

fn stone() -> (Evidence, Stone) {
    let evidence = piece(Form::Seam, [30.0, 20.0, 12.0], 0.6);
    let stone = rough(&evidence, 0.5);
    (evidence, stone)
}

fn mm(value: f64) -> Length {
    Length::from_mm(value)
}

fn upright_at(x: f64) -> CutPlane {
    CutPlane {
        point_mm: [x, 0.0, 0.0],
        normal: [1.0, 0.0, 0.0],
    }
}

fn ground(depth_mm: f64) -> Event {
    Event::Ground {
        place: Ground::Face(None),
        removed: Removed::Depth(mm(depth_mm)),
    }
}

fn seen(at_mm: [f64; 2], what: Sight) -> Event {
    Event::Seen {
        bar: 0,
        at_mm,
        what,
    }
}

#[test]
fn stone_offcut_and_kerf_make_the_whole() {
    let (evidence, stone) = stone();
    let events = [Event::Sawn {
        plane: upright_at(18.1),
        kerf: mm(0.5),
        offcut: Some("end".to_owned()),
    }];
    let now = replay(&evidence, &stone, &events).expect("sawn");
    assert_eq!(now.stage, Stage::Sawn);
    assert_eq!(now.offcuts.len(), 1);
    let offcut = &now.offcuts[0];
    assert_eq!((offcut.event, offcut.name.as_str()), (1, "end"));
    let whole = stone.layered_volume().mm3();
    let parts = now.stone.layered_volume().mm3() + offcut.stone.layered_volume().mm3();
    // One row of half a millimetre goes with the blade: about 20 × 12 × 0.5 mm³ at most.
    assert!(parts < whole && parts > whole - 130.0, "{parts} of {whole}");
}

#[test]
fn undoing_puts_back_and_undoing_that_takes_away_again() {
    let (evidence, stone) = stone();
    let mut events = vec![ground(0.5)];
    let ground_once = replay(&evidence, &stone, &events).expect("ground").stone;
    events.push(Event::Undone { event: 1 });
    let undone = replay(&evidence, &stone, &events).expect("undone");
    assert_eq!(
        undone.stone.top_mm[200].to_bits(),
        stone.top_mm[200].to_bits()
    );
    assert_eq!(undone.standing, [false, true]);
    events.push(Event::Undone { event: 2 });
    let again = replay(&evidence, &stone, &events).expect("ground again");
    assert_eq!(again.stone.layered_volume(), ground_once.layered_volume());
    assert_eq!(again.standing, [true, false, true]);
}

#[test]
fn all_faults_come_at_once_with_their_event() {
    let (evidence, stone) = stone();
    let events = [
        ground(99.0),
        seen([500.0, 0.0], Sight::Absent),
        Event::Undone { event: 7 },
        Event::Weighed(Mass::from_carats(-1.0)),
        Event::Sawn {
            plane: upright_at(-5.0),
            kerf: mm(0.5),
            offcut: None,
        },
    ];
    let faults = replay(&evidence, &stone, &events).expect_err("five faults");
    let fields: Vec<&str> = faults.0.iter().map(|f| f.field.as_str()).collect();
    assert_eq!(
        fields,
        [
            "event[3].undoes",
            "event[1].depth_mm",
            "event[2].at_mm",
            "event[4].weight_ct",
            "event[5].point_mm"
        ]
    );
}

/// By hand: 2 ct are 0.4 g; at 2.1 that is 190.476 mm³.
#[test]
fn depth_by_weight_loss() {
    let (evidence, stone) = stone();
    let before = stone.weight.0;
    let events = [Event::Ground {
        place: Ground::Face(None),
        removed: Removed::Weights {
            before,
            after: before - Mass::from_carats(2.0),
        },
    }];
    let now = replay(&evidence, &stone, &events).expect("ground");
    let gone = stone.layered_volume() - now.stone.layered_volume();
    assert!((gone.mm3() - 190.476).abs() < 0.05, "{}", gone.mm3());
    assert_eq!(now.stage, Stage::FaceOpen);
}

#[test]
fn what_is_seen_becomes_evidence_and_a_stint_teaches_the_wheel() {
    let (evidence, stone) = stone();
    let reading = Reading {
        value: mm(7.0),
        sigma: mm(0.1),
    };
    let events = [
        Event::WheelChanged {
            to: "250".to_owned(),
            minutes_on_the_last: None,
        },
        ground(0.2),
        seen([15.0, 10.0], Sight::BarTop(reading)),
        seen([12.0, 10.0], Sight::Absent),
        seen([11.0, 10.0], Sight::StillCovered),
        seen(
            [16.0, 9.0],
            Sight::Speck {
                kind: SpeckKind::Sand,
                diameter: mm(0.4),
            },
        ),
        Event::WheelChanged {
            to: "600".to_owned(),
            minutes_on_the_last: Some(5.0),
        },
        Event::WindowOpened {
            spot: Spot {
                at_mm: [20.0, 10.0],
                radius: mm(2.0),
            },
            depth: mm(0.3),
        },
    ];
    let now = replay(&evidence, &stone, &events).expect("fine");
    let sightings = &now.evidence.bars[0].sightings;
    assert_eq!(sightings.len(), 2);
    assert!(matches!(sightings[1].seen, Seen::Absent));
    let speck = &now.evidence.exposures[0].specks[0];
    let z = speck.at_mm.expect("its place")[2];
    let face = stone.skin_at([16.0, 9.0]).expect("inside").0 - 0.2;
    assert!((z - face).abs() < 1e-6);
    assert_eq!(now.covered_mm.len(), 1);
    assert_eq!(now.stints.len(), 1);
    let stint = &now.stints[0];
    assert_eq!((stint.wheel.as_str(), stint.minutes), ("250", 5.0));
    let area = stone.outline_area().mm2();
    assert!((stint.removed.mm3() - 0.2 * area).abs() < 0.05 * 0.2 * area);
    assert_eq!(now.wheel.as_deref(), Some("600"));
}

/// The floor of a window stays where it is until the face comes down to it.
#[test]
fn the_wheel_rides_on_high_ground() {
    let (evidence, stone) = stone();
    let window = |depth_mm: f64| Event::WindowOpened {
        spot: Spot {
            at_mm: [15.0, 10.0],
            radius: mm(2.0),
        },
        depth: mm(depth_mm),
    };
    let height = |events: &[Event]| {
        let now = replay(&evidence, &stone, events).expect("fine");
        now.stone.skin_at([15.0, 10.0]).expect("inside").0
    };
    let opened = height(&[window(1.0)]);
    assert!((height(&[window(1.0), ground(0.6)]) - opened).abs() < 1e-6);
    let top = stone.skin_at([15.0, 10.0]).expect("inside").0;
    assert!((height(&[window(1.0), ground(1.3)]) - (top - 1.3)).abs() < 1e-5);
}
