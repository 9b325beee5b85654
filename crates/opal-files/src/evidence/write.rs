//! Facts back into the file's shapes.

use super::shape::{
    BarTable, BrightnessWords, CallipersTable, CrackTable, EvidenceFile, ExposureTable, Format,
    GravityTable, LookTable, MeshTable, MoneyTable, OutlineTable, PieceTable, QuickTable,
    ShapeTable, SightingTable, SpeckTable, StepTable, TorchTable, TransformTable,
};
use opal_evidence::{
    BarEvidence, CrackTrace, Evidence, Exposure, Look, OutlineShape, Piece, QuickBar, Reading,
    Seen, Shape, Sighting, Step,
};
use opal_units::{Length, Mass, SpecificGravity};

/// The evidence as a TOML text that reads back to the same evidence. A scan is
/// named, not held: keep its file beside.
#[must_use]
pub fn evidence_to_toml(evidence: &Evidence) -> String {
    toml::to_string(&file(evidence)).expect("our shapes hold only what TOML can write")
}

/// The evidence as JSON, field for field as in TOML.
#[must_use]
pub fn evidence_to_json(evidence: &Evidence) -> serde_json::Value {
    serde_json::to_value(file(evidence)).expect("our shapes hold only what JSON can write")
}

fn file(evidence: &Evidence) -> EvidenceFile {
    EvidenceFile {
        format: Some(Format::One),
        piece: Some(piece(&evidence.piece)),
        shape: Some(shape(&evidence.shape)),
        bar: evidence.bars.iter().map(bar).collect(),
        exposure: evidence.exposures.iter().map(exposure).collect(),
        crack: evidence.cracks.iter().map(crack).collect(),
        step: evidence.step.as_ref().map(step),
        torch: evidence.torch.map(|look| TorchTable {
            look: Some(look.into()),
        }),
        look: (evidence.look != Look::default()).then(|| look(&evidence.look)),
    }
}

/// A number to thirteen significant places: a weight of 412.5 ct is held in
/// grams and must not come back as 412.49999999999994.
fn tidy(value: f64) -> f64 {
    format!("{value:.12e}").parse().unwrap_or(value)
}

fn mm(length: Length) -> Option<f64> {
    Some(length.mm())
}

fn piece(piece: &Piece) -> PieceTable {
    PieceTable {
        name: Some(piece.name.clone()),
        form: Some(piece.form.into()),
        origin: piece.origin.clone(),
        weight_ct: piece.weight.map(Mass::carats).map(tidy),
        weight_g: None,
        specific_gravity: piece.gravity.measured.then(|| GravityTable {
            value: Some(SpecificGravity::ratio(piece.gravity.value)),
            sigma: Some(SpecificGravity::ratio(piece.gravity.sigma)),
        }),
        asking: piece.asking.map(|money| MoneyTable {
            amount: Some(money.amount_text()),
            currency: Some(money.currency().code().to_owned()),
        }),
    }
}

fn shape(shape: &Shape) -> ShapeTable {
    let mut table = ShapeTable::default();
    match shape {
        Shape::Scan(scan) => {
            table.mesh = Some(MeshTable {
                file: Some(scan.source.clone()),
                unit: Some(scan.file_unit.into()),
            });
            table.stone_from_mesh = scan.stone_from_mesh.map(|t| TransformTable {
                rotation: Some(t.rotation),
                translation_mm: Some(t.translation_mm),
            });
        }
        Shape::Outline(outline) => table.outline = Some(outline_table(outline)),
        Shape::Callipers(c) => {
            table.callipers = Some(CallipersTable {
                length_mm: mm(c.length),
                width_mm: mm(c.width),
                height_mm: mm(c.height),
                solidity: c.solidity,
            });
        }
    }
    table
}

fn outline_table(outline: &OutlineShape) -> OutlineTable {
    let flat = match outline.base_mm.as_slice() {
        [row] => Some(row[2]),
        _ => None,
    };
    OutlineTable {
        points_mm: Some(outline.points_mm.clone()),
        heights_mm: Some(outline.heights_mm.clone()),
        base_mm: flat,
        base_heights_mm: flat.is_none().then(|| outline.base_mm.clone()),
    }
}

fn bar(bar: &BarEvidence) -> BarTable {
    BarTable {
        name: Some(bar.name.clone()),
        quick: bar.quick.as_ref().map(quick),
        sighting: bar.sightings.iter().map(sighting).collect(),
    }
}

fn quick(quick: &QuickBar) -> QuickTable {
    QuickTable {
        thickness_mm: mm(quick.thickness.value),
        sigma_mm: mm(quick.thickness.sigma),
        edge_share: Some(quick.edge_share),
        top_mm: quick.top.map(|r| r.value.mm()),
        top_sigma_mm: quick.top.map(|r| r.sigma.mm()),
    }
}

fn sighting(sighting: &Sighting) -> SightingTable {
    let mut table = SightingTable {
        at_mm: Some(sighting.at_mm),
        ..SightingTable::default()
    };
    let value = |r: Option<Reading>| r.map(|r| r.value.mm());
    let sigma = |r: Option<Reading>| r.map(|r| r.sigma.mm());
    match sighting.seen {
        Seen::Measured {
            top,
            bottom,
            thickness,
        } => {
            table.top_mm = value(top);
            table.top_sigma_mm = sigma(top);
            table.bottom_mm = value(bottom);
            table.bottom_sigma_mm = sigma(bottom);
            table.thickness_mm = value(thickness);
            table.thickness_sigma_mm = sigma(thickness);
        }
        Seen::AtLeast { thickness, top } => {
            table.thickness_at_least_mm = mm(thickness);
            table.top_mm = value(top);
            table.top_sigma_mm = sigma(top);
        }
        Seen::Absent => table.absent = Some(true),
    }
    table
}

fn exposure(exposure: &Exposure) -> ExposureTable {
    ExposureTable {
        kind: Some(exposure.kind.into()),
        area_mm2: Some(exposure.area.mm2()),
        smallest_seen_mm: mm(exposure.smallest_seen),
        specks: exposure
            .specks
            .iter()
            .map(|speck| SpeckTable {
                kind: Some(speck.kind.into()),
                at_mm: speck.at_mm,
                diameter_mm: mm(speck.diameter),
            })
            .collect(),
    }
}

fn crack(crack: &CrackTrace) -> CrackTable {
    CrackTable {
        trace_mm: Some(crack.trace_mm.clone()),
        dip_deg: Some(tidy(crack.dip.degrees())),
        depth_mm: mm(crack.depth),
    }
}

fn step(step: &Step) -> StepTable {
    StepTable {
        trace_mm: Some(vec![step.from_mm, step.to_mm]),
        rise_mm: step.rise.and_then(|rise| mm(rise.value)),
        sigma_mm: step.rise.and_then(|rise| mm(rise.sigma)),
    }
}

fn look(look: &Look) -> LookTable {
    LookTable {
        variety: look.variety.map(Into::into),
        body_tone: look.body_tone.map(|tone| tone.step()),
        brightness: match look.brightness.as_slice() {
            [] => None,
            [one] => Some(BrightnessWords::One((*one).into())),
            several => Some(BrightnessWords::Several(
                several.iter().map(|b| (*b).into()).collect(),
            )),
        },
        hue: look.hue.clone(),
        pattern: look.pattern.clone(),
    }
}
