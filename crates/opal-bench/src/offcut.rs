//! What is known of a piece that came off.

use crate::Offcut;
use opal_evidence::{
    BarEvidence, Evidence, Exposure, LengthUnit, Piece, Reading, ScanShape, Seen, Shape, Sighting,
    SpeckSeen,
};
use opal_stone::Stone;
use std::sync::Arc;

impl Offcut {
    /// The piece as a stone of its own, in the frame of the stone that it came
    /// from: its shape by the columns that the blade left, and what was seen of
    /// the whole, as far as it speaks of this piece.
    ///
    /// A bar that was measured where it runs past this piece is told as absent
    /// there; where nothing says at what height it runs, nothing is told. Specks
    /// that were counted keep their rate; those that lie in another piece lose
    /// their place.
    ///
    /// # Validity
    /// The outline is true to half a cell of the grid; nothing was weighed yet.
    #[must_use]
    pub fn evidence(&self, whole: &Evidence) -> Evidence {
        let stone = &self.stone;
        let bars = whole.bars.iter().map(|bar| BarEvidence {
            name: bar.name.clone(),
            sightings: bar
                .sightings
                .iter()
                .filter_map(|sighting| seen_of(sighting, stone))
                .collect(),
            // A quick look speaks of the whole piece.
            quick: None,
        });
        let within = |at: [f64; 2]| stone.skin_at(at).is_some();
        Evidence {
            piece: Piece {
                name: self.name.clone(),
                weight: None,
                asking: None,
                ..whole.piece.clone()
            },
            shape: Shape::Scan(ScanShape {
                mesh: Arc::new(stone.layered_mesh(1)),
                source: "offcut.ply".to_owned(),
                file_unit: LengthUnit::Mm,
                repairs: Vec::new(),
                stone_from_mesh: None,
            }),
            bars: bars.filter(|bar| !bar.sightings.is_empty()).collect(),
            exposures: whole
                .exposures
                .iter()
                .map(|look| counted(look, stone))
                .collect(),
            cracks: whole
                .cracks
                .iter()
                .filter(|crack| crack.trace_mm.iter().all(|&at| within(at)))
                .cloned()
                .collect(),
            step: whole.step,
            torch: whole.torch,
            look: whole.look.clone(),
        }
    }
}

fn counted(look: &Exposure, stone: &Stone) -> Exposure {
    let here = |&[x, y, z]: &[f64; 3]| {
        stone
            .skin_at([x, y])
            .is_some_and(|(top, bottom)| (bottom..=top).contains(&z))
    };
    Exposure {
        specks: look
            .specks
            .iter()
            .map(|speck| SpeckSeen {
                at_mm: speck.at_mm.filter(here),
                ..*speck
            })
            .collect(),
        ..look.clone()
    }
}

/// What a look at the whole says of this piece; `None` where it says nothing.
fn seen_of(sighting: &Sighting, stone: &Stone) -> Option<Sighting> {
    let (face, back) = stone.skin_at(sighting.at_mm)?;
    let mm = |reading: Reading| reading.value.mm();
    let (top, bottom) = match sighting.seen {
        Seen::Absent => return Some(*sighting),
        Seen::Measured {
            top,
            bottom,
            thickness,
        } => {
            let thick = thickness.map(mm);
            let (top, bottom) = (top.map(mm), bottom.map(mm));
            (
                top.or_else(|| Some(bottom? + thick?)),
                bottom.or_else(|| Some(top? - thick?)),
            )
        }
        // It may reach farther down than was seen.
        Seen::AtLeast { top, .. } => (top.map(mm), None),
    };
    let seen = match (top, bottom) {
        (Some(top), _) if top <= back => Seen::Absent,
        (_, Some(bottom)) if bottom >= face => Seen::Absent,
        (Some(_), Some(_)) => sighting.seen,
        // One end alone: it counts where it lies within.
        (Some(end), None) | (None, Some(end)) if (back..=face).contains(&end) => sighting.seen,
        _ => return None,
    };
    Some(Sighting { seen, ..*sighting })
}
