//! A stone from a scan.

use crate::weight::{self, WeightCheck};
use crate::{Departure, GridChoice, ShapeSource, Stone};
use opal_evidence::{Fault, Faults, Piece, ScanShape};
use opal_geom::layers;
use opal_units::{Length, Volume};
use std::sync::Arc;

/// How far a scan's skin lies from the true one, mm, one standard deviation.
/// Chosen: because hand-held scanners and turntables state 0.02 to 0.1 mm
/// (common practice, no source).
const SKIN_SIGMA_MM: f64 = 0.05;
/// The same where the scan had to be repaired (common practice, no source).
const REPAIRED_SIGMA_MM: f64 = 0.1;
/// A departure smaller than this share of the volume is not worth a note.
const DEPARTURE_NOTED: f64 = 0.01;

/// Turns the scan into the stone frame, measures its volume and lays it in
/// layers.
pub(crate) fn stone(scan: &ScanShape, piece: &Piece, choice: GridChoice) -> Result<Stone, Faults> {
    let mesh = match scan.stone_from_mesh {
        Some(turn) => Arc::new(scan.mesh.moved(turn.rotation, turn.translation_mm)),
        None => Arc::clone(&scan.mesh),
    };
    let Some(bounds) = mesh.bounds() else {
        return Err(Fault::new("shape.mesh", "empty", "a scan must hold a solid").into());
    };
    let mesh_volume = mesh.volume_mm3();
    if !mesh_volume.is_finite() || mesh_volume <= 0.0 {
        return Err(Fault::new(
            "shape.mesh",
            format!("of volume {mesh_volume:.3} mm³"),
            "a scan must enclose a volume above 0",
        )
        .into());
    }
    let [low, high] = [bounds.min_mm, bounds.max_mm].map(|p| [p[0], p[1]]);
    let (grid, note) = choice.grid(low, high)?;
    let mut notes: Vec<String> = scan.repairs.clone();
    notes.extend(note);

    let laid = layers(&mesh, &grid);
    if laid.top_mm.iter().all(|top| top.is_nan()) {
        return Err(Fault::new(
            "grid.cell_mm",
            grid.cell_mm,
            "is too coarse for this scan: no node lies inside",
        )
        .into());
    }
    let departure_mm3 = laid.departure_mm3(&mesh);
    let share = departure_mm3 / mesh_volume;
    let departure = (!laid.folded.is_empty()).then(|| Departure {
        volume: Volume::from_mm3(departure_mm3),
        folded_nodes: laid.folded.clone(),
    });
    if departure.is_some() && share.abs() >= DEPARTURE_NOTED {
        notes.push(format!(
            "The scan folds over itself seen from above: {} of its columns run in and out more \
             than once, and the layered form holds {:+.1} % of volume that the scan does not. \
             Weight and volume are taken from the scan.",
            laid.folded.len(),
            100.0 * share
        ));
    }
    if !laid.open.is_empty() {
        notes.push(format!(
            "At {} grid nodes the scan is open; top or bottom was filled from around them.",
            laid.open.len()
        ));
    }

    let sigma_mm = if scan.repairs.is_empty() {
        SKIN_SIGMA_MM
    } else {
        REPAIRED_SIGMA_MM
    };
    // An error of scale or exposure moves the whole skin one way, so the
    // error of the volume is the skin's times the surface.
    let sd = sigma_mm * mesh.area_mm2();
    let volume = (Volume::from_mm3(mesh_volume), Volume::from_mm3(sd));
    let check = piece
        .weight
        .map(|weighed| WeightCheck::new(weighed, &piece.gravity, volume));
    let weight = match piece.weight {
        Some(weighed) => weight::weighed(weighed),
        None => weight::weight_of(volume, &piece.gravity),
    };
    Ok(Stone {
        grid,
        top_mm: laid.top_mm,
        bottom_mm: laid.bottom_mm,
        source: ShapeSource::Scan,
        volume,
        skin_sigma: Length::from_mm(sigma_mm),
        weight,
        gravity: piece.gravity,
        check,
        mesh: Some(mesh),
        stone_from_mesh: scan.stone_from_mesh,
        departure,
        notes,
    })
}
