//! What is known of a piece that came off, by hand on a slab.

mod flat;

use opal_bench::{Event, replay};
use opal_evidence::{BarEvidence, Reading, Seen, Shape, Sighting};
use opal_geom::CutPlane;
use opal_units::Length;

fn reading(mm: f64) -> Option<Reading> {
    Some(Reading {
        value: Length::from_mm(mm),
        sigma: Length::from_mm(0.1),
    })
}

fn measured(x: f64, top: Option<f64>, bottom: Option<f64>) -> Sighting {
    Sighting {
        at_mm: [x, 9.0],
        seen: Seen::Measured {
            top: top.and_then(reading),
            bottom: bottom.and_then(reading),
            thickness: None,
        },
    }
}

/// A slice below 3 mm: a bar from 5 to 6 mm is absent from it, one from 2 to 4 mm
/// is in it, one whose bottom alone is known above it is absent, one whose top
/// alone is known above it may or may not reach down.
#[test]
fn what_was_seen_of_the_whole_speaks_of_the_slice_as_far_as_it_can() {
    let (mut evidence, stone) = flat::slab();
    evidence.bars = vec![BarEvidence {
        name: "A".to_owned(),
        sightings: vec![
            measured(8.0, Some(6.0), Some(5.0)),
            measured(10.0, Some(4.0), Some(2.0)),
            measured(12.0, None, Some(5.0)),
            measured(14.0, Some(6.0), None),
        ],
        quick: None,
    }];
    let sawn = Event::Sawn {
        plane: CutPlane {
            point_mm: [0.0, 0.0, 3.5],
            normal: [0.0, 0.0, -1.0],
        },
        kerf: Length::from_mm(0.5),
        offcut: Some("slice".to_owned()),
    };
    let worked = replay(&evidence, &stone, &[sawn]).expect("stands");
    let offcut = &worked.offcuts[0];
    let slice = offcut.evidence(&evidence);
    let seen: Vec<Seen> = slice.bars[0].sightings.iter().map(|s| s.seen).collect();
    assert_eq!(
        seen,
        [
            Seen::Absent,
            evidence.bars[0].sightings[1].seen,
            Seen::Absent
        ]
    );
    assert_eq!(slice.piece.name, "slice");
    assert!(slice.piece.weight.is_none());
    let scan = match &slice.shape {
        Shape::Scan(scan) => Some(scan),
        _ => None,
    }
    .expect("a mesh");
    // The mesh runs through the nodes: it holds less than the layers by about
    // half a cell all round.
    let share = scan.mesh.volume_mm3() / offcut.stone.layered_volume().mm3();
    assert!((0.9..1.0).contains(&share), "{share}");
}
