//! The insides of a stone at work honour what was seen at the bench.

use opal_bench::{Event, Followed, Ground, Insides, Removed, Sight, Worked, replay};
use opal_evidence::{BarEvidence, Evidence, Form, Reading, Seen, Sighting, SpeckKind};
use opal_interior::{DrawOptions, Interiors, bar_at};
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
    let drawn = draw(&worked, &stone, &options).now(&worked);
    assert!((50..=100).contains(&drawn.n), "{}", drawn.n);
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
    let again = draw(&worked, &stone, &options).now(&worked);
    assert_eq!(drawn.specks, again.specks);
}

fn draw(worked: &Worked, stone: &Stone, options: &DrawOptions) -> Insides {
    Insides::draw(worked, stone, None, options).expect("drawn")
}

fn seen(at_mm: [f64; 2], what: Sight) -> Event {
    Event::Seen {
        bar: 0,
        at_mm,
        what,
    }
}

/// Mean and standard deviation of the bar's top and thickness at a place.
fn at_place(interiors: &Interiors, at_mm: [f64; 2]) -> [(f64, f64); 2] {
    let drawn: Vec<(f64, f64)> = (0..interiors.n)
        .filter_map(|i| bar_at(interiors, 0, i, at_mm))
        .collect();
    [0, 1].map(|which| {
        let of = |d: &(f64, f64)| if which == 0 { d.0 } else { d.1 };
        let n = drawn.len() as f64;
        let mean = drawn.iter().map(of).sum::<f64>() / n;
        let square = drawn.iter().map(|d| (of(d) - mean).powi(2)).sum::<f64>();
        (mean, (square / (n - 1.0)).sqrt())
    })
}

/// Nothing is drawn for what is seen on the way down, and what is held is what
/// would be drawn: to the bit where nothing was seen, else to within the error of
/// the draws (held against drawn anew with the same evidence).
#[test]
fn insides_follow_the_log_without_being_drawn_again() {
    let (evidence, stone) = stone();
    let options = DrawOptions {
        n: 400,
        seed: Seed(5),
    };
    let mut events = Vec::new();
    let at = |events: &[Event]| replay(&evidence, &stone, events).expect("fine");
    let mut held = draw(&at(&events), &stone, &options);

    events.push(Event::Ground {
        place: Ground::Face(None),
        removed: Removed::Depth(mm(1.0)),
    });
    let worked = at(&events);
    assert_eq!(
        held.follow(&worked, &stone).expect("follows"),
        Followed::AsTheyWere
    );
    let anew = draw(&worked, &stone, &options).now(&worked);
    let bits = |interiors: &Interiors| -> Vec<u32> {
        let bar = &interiors.bars[0];
        let all = bar.top_mm.iter().chain(&bar.thickness_mm);
        all.map(|v| v.to_bits()).collect()
    };
    assert!(bits(&held.now(&worked)) == bits(&anew));
    assert!(held.now(&worked).specks == anew.specks);

    let read = |value: f64| Reading {
        value: mm(value),
        sigma: mm(0.1),
    };
    for event in [
        seen([6.0, 9.0], Sight::StillCovered),
        seen([12.0, 9.0], Sight::BarTop(read(5.6))),
        seen([13.0, 12.0], Sight::AtLeast(mm(0.8))),
        seen(
            [13.0, 8.0],
            Sight::Speck {
                kind: SpeckKind::Sand,
                diameter: mm(0.5),
            },
        ),
    ] {
        events.push(event);
        let followed = held.follow(&at(&events), &stone).expect("follows");
        assert_eq!(followed, Followed::TakenIn);
    }
    assert!(held.suit(&stone, None, &options) && held.drawings() == 1);

    let worked = at(&events);
    let (held_now, anew) = (
        held.now(&worked),
        draw(&worked, &stone, &options).now(&worked),
    );
    assert!(held_now.n >= 200 && anew.n >= 200);
    for place in [[6.0, 9.0], [12.0, 9.0], [17.0, 7.0], [9.0, 14.0]] {
        for (held, anew) in at_place(&held_now, place)
            .iter()
            .zip(at_place(&anew, place))
        {
            // Five standard errors of a difference, and what another fit of the
            // parameters moves.
            let error = (held.1 * held.1 / 200.0 + anew.1 * anew.1 / 200.0).sqrt();
            let off = (held.0 - anew.0).abs();
            assert!(off < 5.0 * error + 0.05, "{place:?}: {held:?} {anew:?}");
            assert!((held.1 / anew.1).clamp(0.5, 2.0) == held.1 / anew.1);
        }
    }

    // An undone look cannot be taken out again.
    events.push(Event::Undone { event: 3 });
    let followed = held.follow(&at(&events), &stone).expect("follows");
    assert!(matches!(followed, Followed::DrawnAnew(_)), "{followed:?}");
    assert!(held.drawings() >= 2);
}
