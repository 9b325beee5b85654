//! The insides of a stone at work honour what was seen at the bench.

use opal_bench::{Event, Ground, Removed, Sight, insides, replay};
use opal_evidence::{BarEvidence, Evidence, Form, Reading, Seen, Sighting, SpeckKind};
use opal_interior::{DrawOptions, bar_at};
use opal_stone::Stone;
use opal_testkit::{piece, rough};
use opal_units::{Length, Seed};

fn mm(value: f64) -> Length {
    Length::from_mm(value)
}

fn stone() -> (Evidence, Stone) {
    let mut evidence = piece(Form::Seam, [24.0, 18.0, 10.0], 0.6);
    let read = |value: f64| {
        Some(Reading {
            value: mm(value),
            sigma: mm(0.2),
        })
    };
    evidence.bars = vec![BarEvidence {
        name: "A".to_owned(),
        sightings: [[3.0, 9.0], [21.0, 9.0], [12.0, 3.0], [12.0, 15.0]]
            .map(|at_mm| Sighting {
                at_mm,
                seen: Seen::Measured {
                    top: read(5.5),
                    bottom: read(4.3),
                    thickness: None,
                },
            })
            .to_vec(),
        quick: None,
    }];
    let stone = rough(&evidence, 0.5);
    (evidence, stone)
}

#[test]
fn potch_on_the_face_and_a_speck_of_known_section_are_honoured() {
    let (evidence, stone) = stone();
    let top = stone.skin_at([12.0, 9.0]).expect("inside").0;
    let (at, speck_at) = ([12.0, 9.0], [13.0, 8.0]);
    let seen = |at_mm: [f64; 2], what: Sight| Event::Seen {
        bar: 0,
        at_mm,
        what,
    };
    let events = [
        Event::Ground {
            place: Ground::Face(None),
            removed: Removed::Depth(mm(top - 5.45)),
        },
        seen(at, Sight::StillCovered),
        seen(
            speck_at,
            Sight::Speck {
                kind: SpeckKind::Sand,
                diameter: mm(0.5),
            },
        ),
    ];
    let worked = replay(&evidence, &stone, &events).expect("fine");
    let options = DrawOptions {
        n: 100,
        seed: Seed(5),
    };
    let drawn = insides(&worked, &stone, &options).expect("drawn");
    assert_eq!(drawn.n, 100);
    let face = worked.stone.skin_at(speck_at).expect("inside").0;
    for i in 0..drawn.n {
        let (bar_top, thickness) = bar_at(&drawn, 0, i, at).expect("inside");
        assert!(thickness <= 0.0 || bar_top <= 5.51, "{bar_top}");
        // The ball cuts the face in the section that was seen.
        let ball = drawn
            .specks
            .of(i)
            .iter()
            .find(|s| s.at_mm[0] == 13.0 && s.at_mm[1] == 8.0)
            .expect("the speck that was seen");
        let (radius, away) = (f64::from(ball.radius_mm), f64::from(ball.at_mm[2]) - face);
        let section = 2.0 * (radius * radius - away * away).max(0.0).sqrt();
        assert!((section - 0.5).abs() < 0.02, "{section}");
    }
    let again = insides(&worked, &stone, &options).expect("drawn");
    assert_eq!(drawn.specks, again.specks);
}
