//! A stone from a traced outline with heights.

use crate::thin_plate::ThinPlate;
use crate::weight::{self, WeightCheck};
use crate::{GridChoice, ShapeSource, Stone};
use opal_evidence::{Fault, Faults, OutlineShape, Piece};
use opal_geom::{Bounds, Outline};
use opal_units::{Length, Volume};

/// Over what part of its thickness a stone is rounded at the edge, before the
/// heights say otherwise.
const ROUNDED_SHARE: f64 = 0.6;
/// The rounding is not divided out below this. Chosen: because a height read
/// on the very edge says little of the middle.
const LEAST_ROUNDING: f64 = 0.3;
/// The surface between the heights stays within this share of them.
const BEYOND: (f64, f64) = (0.4, 1.3);
/// Thinnest the drawn solid becomes, mm.
const THINNEST_MM: f64 = 0.02;
/// How far the skin lies from the surface through the heights, mm, one standard
/// deviation, at least. Chosen: because heights are read to about that.
const LEAST_SIGMA_MM: f64 = 0.15;
/// The same before enough heights tell, as a share of the thickness.
const FEW_HEIGHTS_SHARE: f64 = 0.12;
/// How far a volume from an outline and heights is off however many heights
/// there are, as a share: what the rounding at the edge leaves open.
const EDGE_VOLUME_SHARE: f64 = 0.02;
/// Errors of the skin between n heights average out over the stone as this
/// over √n. Measured, like the share above, on the twelve scans of
/// `opal-files/tests/stones.rs`: volumes were 13 % off with 6 heights, 8 % with
/// 12, 3 % with 30.
const VOLUME_ERROR_FACTOR: f64 = 2.0;

/// Lays smooth skins through the heights, rounded down to the outline.
pub(crate) fn stone(
    shape: &OutlineShape,
    piece: &Piece,
    choice: GridChoice,
) -> Result<Stone, Faults> {
    let refuse = |field: &str, value: &str, limit: &str| -> Faults {
        Fault::new(format!("shape.outline.{field}"), value, limit).into()
    };
    let outline = Outline::new(shape.points_mm.clone())
        .ok_or_else(|| refuse("points_mm", "around no area", "must go round the stone"))?;
    if shape.heights_mm.is_empty() || shape.base_mm.is_empty() {
        return Err(refuse("heights_mm", "empty", "needs one height and a base"));
    }
    let bounds = Bounds::around(outline.points().iter().map(|p| [p[0], p[1], 0.0]));
    let Some(bounds) = bounds else {
        return Err(refuse("points_mm", "empty", "must go round the stone"));
    };
    let [low, high] = [bounds.min_mm, bounds.max_mm].map(|p| [p[0], p[1]]);
    let (grid, note) = choice.grid(low, high)?;
    let mut notes: Vec<String> = note.into_iter().collect();

    let depths: Vec<Option<f64>> = (0..grid.len())
        .map(|k| {
            let at = grid.at_index(k);
            outline.contains(at).then(|| depth(&outline, at))
        })
        .collect();
    let deepest = depths.iter().flatten().copied().fold(0.0, f64::max);
    if deepest == 0.0 {
        return Err(refuse(
            "points_mm",
            "thinner than a grid cell",
            "needs a finer grid",
        ));
    }
    let base = Surface::of_base(&shape.base_mm);
    let thicknesses: Vec<f64> = shape
        .heights_mm
        .iter()
        .map(|row| row[2] - base.at([row[0], row[1]]))
        .collect();
    let thickness = median(&thicknesses);
    if thickness <= 0.0 {
        return Err(refuse(
            "heights_mm",
            "below the base",
            "must lie above the base",
        ));
    }
    // A flat base reaches the outline; a curved one meets the top half way up.
    let rim_mm = match base {
        Surface::Flat(z) => z,
        Surface::Bent(_) => {
            let mean =
                |rows: &[[f64; 3]]| rows.iter().map(|r| r[2]).sum::<f64>() / rows.len() as f64;
            0.5 * (mean(&shape.heights_mm) + mean(&shape.base_mm))
        }
    };
    let rounded_mm = (ROUNDED_SHARE * thickness).min(deepest);
    let top = Skin::through(&shape.heights_mm, 1.0, rim_mm, rounded_mm, &outline);
    let bottom = match base {
        Surface::Flat(_) => None,
        Surface::Bent(_) => Some(Skin::through(
            &shape.base_mm,
            -1.0,
            rim_mm,
            rounded_mm,
            &outline,
        )),
    };

    let mut top_mm = vec![f32::NAN; grid.len()];
    let mut bottom_mm = vec![f32::NAN; grid.len()];
    for (k, depth) in depths.iter().enumerate() {
        let Some(depth) = *depth else { continue };
        let at = grid.at_index(k);
        let rounding = rounding(depth, rounded_mm);
        let above = rim_mm + top.rise(at) * rounding;
        let below = bottom
            .as_ref()
            .map_or(rim_mm, |skin| rim_mm - skin.rise(at) * rounding);
        top_mm[k] = above.max(below + THINNEST_MM) as f32;
        bottom_mm[k] = below as f32;
    }

    let missed = top
        .surface
        .left_out_rms
        .unwrap_or(FEW_HEIGHTS_SHARE * thickness);
    let skin_sigma = Length::from_mm(missed.max(LEAST_SIGMA_MM));
    let n_heights = shape.heights_mm.len() as f64;
    let mut stone = Stone {
        grid,
        top_mm,
        bottom_mm,
        source: ShapeSource::Outline,
        volume: (Volume::ZERO, Volume::ZERO),
        skin_sigma,
        weight: weight::weight_of((Volume::from_mm3(1.0), Volume::ZERO), &piece.gravity),
        gravity: piece.gravity,
        check: None,
        mesh: None,
        stone_from_mesh: None,
        departure: None,
        notes: Vec::new(),
    };
    let by_layers = stone.layered_volume();
    let share = EDGE_VOLUME_SHARE
        .hypot(VOLUME_ERROR_FACTOR * skin_sigma.mm() / thickness / n_heights.sqrt());
    stone.volume = (by_layers, by_layers * share);
    stone.check = piece
        .weight
        .map(|weighed| WeightCheck::new(weighed, &piece.gravity, stone.volume));
    stone.weight = match piece.weight {
        Some(weighed) => weight::weighed(weighed),
        None => weight::weight_of(stone.volume, &piece.gravity),
    };
    if shape.heights_mm.len() < 5 {
        notes.push(format!(
            "Only {} {} the top: measure a few more to know the skin better.",
            shape.heights_mm.len(),
            if shape.heights_mm.len() == 1 {
                "height gives"
            } else {
                "heights give"
            }
        ));
    }
    if shape.base_mm.len() == 1 {
        notes.push("The underside is taken as flat.".to_owned());
    }
    stone.notes = notes;
    Ok(stone)
}

enum Surface {
    Flat(f64),
    Bent(ThinPlate),
}

impl Surface {
    fn of_base(rows: &[[f64; 3]]) -> Self {
        match rows {
            [row] => Self::Flat(row[2]),
            rows => {
                let places: Vec<[f64; 2]> = rows.iter().map(|r| [r[0], r[1]]).collect();
                let values: Vec<f64> = rows.iter().map(|r| r[2]).collect();
                Self::Bent(ThinPlate::through(&places, &values))
            }
        }
    }

    fn at(&self, at: [f64; 2]) -> f64 {
        match self {
            Self::Flat(z) => *z,
            Self::Bent(surface) => surface.at(at),
        }
    }
}

/// How far a skin would rise from the rim if it were not rounded.
struct Skin {
    surface: ThinPlate,
    low: f64,
    high: f64,
}

impl Skin {
    fn through(
        rows: &[[f64; 3]],
        side: f64,
        rim_mm: f64,
        rounded_mm: f64,
        outline: &Outline,
    ) -> Self {
        let places: Vec<[f64; 2]> = rows.iter().map(|r| [r[0], r[1]]).collect();
        let rises: Vec<f64> = rows
            .iter()
            .map(|r| {
                let at = [r[0], r[1]];
                let depth = if outline.contains(at) {
                    depth(outline, at)
                } else {
                    0.0
                };
                let rise = (side * (r[2] - rim_mm)).max(0.0);
                rise / rounding(depth, rounded_mm).max(LEAST_ROUNDING)
            })
            .collect();
        let least = rises.iter().copied().fold(f64::INFINITY, f64::min);
        let most = rises.iter().copied().fold(0.0, f64::max);
        Self {
            surface: ThinPlate::through(&places, &rises),
            low: BEYOND.0 * least,
            high: BEYOND.1 * most,
        }
    }

    fn rise(&self, at: [f64; 2]) -> f64 {
        self.surface.at(at).clamp(self.low, self.high)
    }
}

/// How much of its rise a skin has, so far inside the outline: a quarter
/// ellipse, full from `rounded_mm` on.
fn rounding(depth: f64, rounded_mm: f64) -> f64 {
    let t = (depth / rounded_mm).clamp(0.0, 1.0);
    (t * (2.0 - t)).sqrt()
}

/// How far inside the outline a point lies, mm.
fn depth(outline: &Outline, at: [f64; 2]) -> f64 {
    outline
        .sides()
        .map(|(p, q)| {
            let d = [q[0] - p[0], q[1] - p[1]];
            let length2 = d[0] * d[0] + d[1] * d[1];
            let along = (at[0] - p[0]) * d[0] + (at[1] - p[1]) * d[1];
            let t = if length2 > 0.0 {
                (along / length2).clamp(0.0, 1.0)
            } else {
                0.0
            };
            (p[0] + t * d[0] - at[0]).hypot(p[1] + t * d[1] - at[1])
        })
        .fold(f64::INFINITY, f64::min)
}

fn median(values: &[f64]) -> f64 {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    sorted[sorted.len() / 2]
}
