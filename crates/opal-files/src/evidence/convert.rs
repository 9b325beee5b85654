//! From the file's shapes to the facts.

use super::attachments::{Attachments, unsafe_name};
use super::check;
use super::shape::{
    BarTable, BrightnessWords, CallipersTable, CrackTable, EvidenceFile, ExposureTable, LookTable,
    MeshTable, OutlineTable, PieceTable, QuickTable, ShapeTable, SightingTable, SpeckTable,
    StepTable, TransformTable,
};
use crate::document::FaultList;
use crate::mesh::{MeshUnit, read_scan};
use opal_evidence::{
    BarEvidence, BodyTone, Brightness, Callipers, CrackTrace, Evidence, Exposure, Form,
    GravityEstimate, LengthUnit, Look, OutlineShape, Piece, QuickBar, Reading, ScanShape, Seen,
    Shape, Sighting, SpeckSeen, Step, StoneFromMesh,
};
use opal_units::{Angle, Area, Currency, Length, Mass, Money, SpecificGravity};
use std::sync::Arc;

/// One standard deviation of a reading that names none, mm.
/// Chosen: because a steel rule on a curved skin reads to about a third of a
/// millimetre (common practice, no source).
const READING_SIGMA_MM: f64 = 0.3;
/// The same for the height in a quick look, mm (common practice, no source).
const QUICK_TOP_SIGMA_MM: f64 = 1.0;
/// The same for the thickness in a quick look, as a share of it (common
/// practice, no source).
const QUICK_THICKNESS_SHARE: f64 = 0.4;
/// One standard deviation of a measured specific gravity that names none.
/// Chosen: because a small stone on a 0.01 ct scale reaches about that.
const GRAVITY_SIGMA: f64 = 0.02;
/// Bounds on the angle between rotation rows, and on their length.
const ROTATION_TOLERANCE: f64 = 1e-3;

/// The facts of a file, or `None` where a part that must be there is missing or
/// wrong; every fault goes to the list.
pub(super) fn evidence(
    file: &EvidenceFile,
    attachments: &dyn Attachments,
    faults: &mut FaultList,
) -> Option<Evidence> {
    let piece = file.piece.as_ref().and_then(|p| piece(p, faults));
    let shape = file
        .shape
        .as_ref()
        .and_then(|s| shape(s, attachments, faults));
    let level = file.shape.as_ref().and_then(|s| s.level_by_bar) == Some(true);
    check::names(file, faults);
    // Places are held against the outside, unless the frame is still to turn.
    let outside = shape
        .as_ref()
        .filter(|_| !level)
        .and_then(check::Outside::of);
    check::places(file, outside.as_ref(), faults);
    let bars: Option<Vec<BarEvidence>> = file
        .bar
        .iter()
        .enumerate()
        .map(|(i, table)| bar(table, &format!("bar[{i}]"), faults))
        .collect();
    let exposures: Option<Vec<Exposure>> = file.exposure.iter().map(exposure).collect();
    let cracks: Option<Vec<CrackTrace>> = file.crack.iter().map(crack).collect();
    let step = match &file.step {
        Some(table) => Some(step(table, faults)?),
        None => None,
    };
    let evidence = Evidence {
        piece: piece?,
        shape: shape?,
        bars: bars?,
        exposures: exposures?,
        cracks: cracks?,
        step,
        torch: file.torch.as_ref().and_then(|t| t.look).map(Into::into),
        look: file.look.as_ref().map(look).unwrap_or_default(),
    };
    if !level {
        return Some(evidence);
    }
    let levelled = evidence.levelled();
    if levelled.is_none() {
        faults.add(
            "shape.level_by_bar",
            "true",
            "needs a scan, and at least three tops of the main bar that do not lie on one line \
             and rise less than 60°",
        );
    }
    levelled
}

fn piece(table: &PieceTable, faults: &mut FaultList) -> Option<Piece> {
    let form: Form = table.form.map(Into::into).unwrap_or_default();
    if table.weight_ct.is_some() && table.weight_g.is_some() {
        faults.add(
            "piece.weight_g",
            "given beside weight_ct",
            "give the weight once, in carats or in grams",
        );
    }
    let weight = table
        .weight_ct
        .map(Mass::from_carats)
        .or(table.weight_g.map(Mass::from_grams));
    let gravity = match &table.specific_gravity {
        Some(gravity) => GravityEstimate {
            value: SpecificGravity::new(gravity.value?),
            sigma: SpecificGravity::new(gravity.sigma.unwrap_or(GRAVITY_SIGMA)),
            measured: true,
        },
        None => GravityEstimate::default_for(form),
    };
    let asking = match &table.asking {
        Some(money) => {
            let (amount, code) = (money.amount.as_deref()?, money.currency.as_deref()?);
            match Currency::new(code) {
                Err(_) => {
                    faults.add(
                        "piece.asking.currency",
                        format!("\"{code}\""),
                        "must be an ISO 4217 code, three capital letters such as \"AUD\"",
                    );
                    None
                }
                Ok(currency) => match Money::parse(amount, currency) {
                    Ok(money) if money.minor() >= 0 => Some(money),
                    Ok(_) => {
                        faults.add(
                            "piece.asking.amount",
                            format!("\"{amount}\""),
                            "must not be negative",
                        );
                        None
                    }
                    Err(_) => {
                        faults.add(
                            "piece.asking.amount",
                            format!("\"{amount}\""),
                            format!(
                                "must be a number with at most {} digits after the point, such \
                                 as \"900\"",
                                currency.minor_digits()
                            ),
                        );
                        None
                    }
                },
            }
        }
        None => None,
    };
    Some(Piece {
        name: table.name.clone()?,
        form,
        origin: table.origin.clone(),
        weight,
        gravity,
        asking,
    })
}

fn shape(
    table: &ShapeTable,
    attachments: &dyn Attachments,
    faults: &mut FaultList,
) -> Option<Shape> {
    let given = [
        ("mesh", table.mesh.is_some()),
        ("outline", table.outline.is_some()),
        ("callipers", table.callipers.is_some()),
    ];
    let given: Vec<&str> = given.iter().filter(|g| g.1).map(|g| g.0).collect();
    if given.len() > 1 {
        faults.push_new(opal_evidence::Fault::new(
            "shape",
            format!("given as {}", given.join(" and ")),
            "must be exactly one of mesh, outline, callipers",
        ));
    } else if given.is_empty() {
        faults.add(
            "shape",
            "without a shape",
            "must be exactly one of mesh, outline, callipers",
        );
    }
    for (field, set) in [
        ("stone_from_mesh", table.stone_from_mesh.is_some()),
        ("level_by_bar", table.level_by_bar.is_some()),
    ] {
        if set && table.mesh.is_none() {
            faults.add(
                format!("shape.{field}"),
                "given without a mesh",
                "belongs to a mesh only",
            );
        }
    }
    let transform = table
        .stone_from_mesh
        .as_ref()
        .and_then(|t| transform(t, faults));
    // A file that gives several shapes has each of them looked over.
    let scan = table
        .mesh
        .as_ref()
        .and_then(|m| scan(m, transform, attachments, faults));
    let outline = table.outline.as_ref().and_then(|o| outline(o, faults));
    let callipers = table.callipers.as_ref().and_then(callipers);
    scan.map(Shape::Scan)
        .or(outline.map(Shape::Outline))
        .or(callipers.map(Shape::Callipers))
}

fn transform(table: &TransformTable, faults: &mut FaultList) -> Option<StoneFromMesh> {
    let (r, translation_mm) = (table.rotation?, table.translation_mm?);
    let row = |i: usize| [r[3 * i], r[3 * i + 1], r[3 * i + 2]];
    let dot = |a: [f64; 3], b: [f64; 3]| a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
    let straight = (0..3).all(|i| {
        (0..3).all(|j| {
            let wanted = if i == j { 1.0 } else { 0.0 };
            (dot(row(i), row(j)) - wanted).abs() < ROTATION_TOLERANCE
        })
    });
    let [a, b, c] = [row(0), row(1), row(2)];
    let across = [
        b[1] * c[2] - b[2] * c[1],
        b[2] * c[0] - b[0] * c[2],
        b[0] * c[1] - b[1] * c[0],
    ];
    if !straight || dot(a, across) < 0.0 {
        faults.add(
            "shape.stone_from_mesh.rotation",
            if straight { "a mirror" } else { "no rotation" },
            "must be a rotation: rows of length 1, at right angles to each other, right-handed",
        );
        return None;
    }
    Some(StoneFromMesh {
        rotation: r,
        translation_mm,
    })
}

fn scan(
    table: &MeshTable,
    stone_from_mesh: Option<StoneFromMesh>,
    attachments: &dyn Attachments,
    faults: &mut FaultList,
) -> Option<ScanShape> {
    let file = table.file.as_deref()?;
    if let Some(limit) = unsafe_name(file) {
        faults.add("shape.mesh.file", format!("{file:?}"), limit);
        return None;
    }
    let unit = LengthUnit::from(table.unit?);
    let bytes = match attachments.bytes(file) {
        Ok(bytes) => bytes,
        Err(why) => {
            faults.add("shape.mesh.file", format!("{file:?}, not readable"), why);
            return None;
        }
    };
    let mesh_unit = match unit {
        LengthUnit::Mm => MeshUnit::Millimetre,
        LengthUnit::Cm => MeshUnit::Centimetre,
        LengthUnit::M => MeshUnit::Metre,
        LengthUnit::Inch => MeshUnit::Inch,
    };
    match read_scan(&bytes, file, mesh_unit) {
        Ok(repaired) => Some(ScanShape {
            mesh: Arc::new(repaired.mesh),
            source: file.to_owned(),
            file_unit: unit,
            repairs: repaired.notes,
            stone_from_mesh,
        }),
        Err(wrong) => {
            for fault in wrong.0 {
                faults.push_as_is(fault);
            }
            None
        }
    }
}

fn outline(table: &OutlineTable, faults: &mut FaultList) -> Option<OutlineShape> {
    if table.base_mm.is_some() && table.base_heights_mm.is_some() {
        faults.add(
            "shape.outline.base_heights_mm",
            "given beside base_mm",
            "give a flat base or a curved one, not both",
        );
    }
    let shape = OutlineShape {
        points_mm: table.points_mm.clone()?,
        heights_mm: table.heights_mm.clone()?,
        base_mm: match (&table.base_heights_mm, table.base_mm) {
            (Some(rows), _) => rows.clone(),
            (None, base) => vec![[
                table.points_mm.as_ref()?[0][0],
                table.points_mm.as_ref()?[0][1],
                base.unwrap_or(0.0),
            ]],
        },
    };
    check::outline(&shape, faults).then_some(shape)
}

fn callipers(table: &CallipersTable) -> Option<Callipers> {
    Some(Callipers {
        length: Length::from_mm(table.length_mm?),
        width: Length::from_mm(table.width_mm?),
        height: Length::from_mm(table.height_mm?),
        solidity: table.solidity,
    })
}

fn bar(table: &BarTable, path: &str, faults: &mut FaultList) -> Option<BarEvidence> {
    let sightings: Vec<Option<Sighting>> = table
        .sighting
        .iter()
        .enumerate()
        .map(|(j, s)| sighting(s, &format!("{path}.sighting[{j}]"), faults))
        .collect();
    let quick = match &table.quick {
        Some(quick) => Some(quick_bar(quick)?),
        None => None,
    };
    Some(BarEvidence {
        name: table.name.clone()?,
        sightings: sightings.into_iter().collect::<Option<_>>()?,
        quick,
    })
}

fn quick_bar(table: &QuickTable) -> Option<QuickBar> {
    let thickness = table.thickness_mm?;
    Some(QuickBar {
        thickness: reading(
            thickness,
            table.sigma_mm.unwrap_or(QUICK_THICKNESS_SHARE * thickness),
        ),
        edge_share: table.edge_share?,
        top: table
            .top_mm
            .map(|top| reading(top, table.top_sigma_mm.unwrap_or(QUICK_TOP_SIGMA_MM))),
    })
}

fn sighting(table: &SightingTable, path: &str, faults: &mut FaultList) -> Option<Sighting> {
    let sigma = table.sigma_mm.unwrap_or(READING_SIGMA_MM);
    let read =
        |value: Option<f64>, own: Option<f64>| value.map(|mm| reading(mm, own.unwrap_or(sigma)));
    let top = read(table.top_mm, table.top_sigma_mm);
    let bottom = read(table.bottom_mm, table.bottom_sigma_mm);
    let thickness = read(table.thickness_mm, table.thickness_sigma_mm);
    let absent = table.absent == Some(true);
    let measured = top.is_some() || bottom.is_some() || thickness.is_some();
    if !check::one_sighting(table, path, faults) {
        return None;
    }
    let seen = if absent {
        Seen::Absent
    } else if let Some(least) = table.thickness_at_least_mm {
        Seen::AtLeast {
            thickness: Length::from_mm(least),
            top,
        }
    } else if measured {
        Seen::Measured {
            top,
            bottom,
            thickness,
        }
    } else {
        faults.add(
            path,
            "without anything seen",
            "needs top_mm, bottom_mm or thickness_mm, or thickness_at_least_mm, or absent = true",
        );
        return None;
    };
    Some(Sighting {
        at_mm: table.at_mm?,
        seen,
    })
}

fn exposure(table: &ExposureTable) -> Option<Exposure> {
    Some(Exposure {
        kind: table.kind?.into(),
        area: Area::from_mm2(table.area_mm2?),
        smallest_seen: Length::from_mm(table.smallest_seen_mm?),
        specks: table.specks.iter().map(speck).collect::<Option<_>>()?,
    })
}

fn speck(table: &SpeckTable) -> Option<SpeckSeen> {
    Some(SpeckSeen {
        kind: table.kind?.into(),
        at_mm: table.at_mm,
        diameter: Length::from_mm(table.diameter_mm?),
    })
}

fn crack(table: &CrackTable) -> Option<CrackTrace> {
    Some(CrackTrace {
        trace_mm: table.trace_mm.clone()?,
        dip: Angle::from_degrees(table.dip_deg?),
        depth: Length::from_mm(table.depth_mm?),
    })
}

fn step(table: &StepTable, faults: &mut FaultList) -> Option<Step> {
    let [from_mm, to_mm] = *table.trace_mm.as_deref()? else {
        return None;
    };
    if from_mm == to_mm {
        let shown = format!("[{}, {}] twice", from_mm[0], from_mm[1]);
        faults.add("step.trace_mm", shown, "give two points that differ");
        return None;
    }
    let sigma = table.sigma_mm.unwrap_or(READING_SIGMA_MM);
    Some(Step {
        from_mm,
        to_mm,
        rise: table.rise_mm.map(|rise| reading(rise, sigma)),
    })
}

fn look(table: &LookTable) -> Look {
    let brightness: Vec<Brightness> = match &table.brightness {
        None => Vec::new(),
        Some(BrightnessWords::One(word)) => vec![(*word).into()],
        Some(BrightnessWords::Several(words)) => {
            let mut words: Vec<Brightness> = words.iter().map(|w| (*w).into()).collect();
            words.sort();
            words.dedup();
            words
        }
    };
    Look {
        variety: table.variety.map(Into::into),
        body_tone: table.body_tone.and_then(BodyTone::new),
        brightness,
        hue: table.hue.clone(),
        pattern: table.pattern.clone(),
    }
}

fn reading(mm: f64, sigma_mm: f64) -> Reading {
    Reading {
        value: Length::from_mm(mm),
        sigma: Length::from_mm(sigma_mm),
    }
}
