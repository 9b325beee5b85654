//! Turning a scan and all that was seen on it until the main bar lies flat.

use crate::{Evidence, Reading, Seen, Shape, StoneFromMesh};
use opal_units::Length;

/// Fewest tops that carry a plane.
const LEAST_TOPS: usize = 3;
/// Least spread of the tops across their line, over that along it.
/// Chosen: because below a tenth the plane could roll about the line.
const LEAST_WIDTH_SHARE: f64 = 0.1;
/// Most tilt that is taken for a bar's, cosine (60°). Chosen: because a steeper
/// bar means that the piece was entered the wrong way up.
const LEAST_COSINE: f64 = 0.5;

impl Evidence {
    /// The same evidence in a frame in which the main bar's top lies flat, or
    /// `None` where that cannot be told: no scan, fewer than three tops of the
    /// main bar, tops nearly on one line, or a plane steeper than 60°.
    ///
    /// The scan's transform is composed with the turn, so that nothing is lost.
    /// Places keep their point on the bar's plane; heights are measured again
    /// across the bar (a thickness read upright shrinks by the tilt's cosine).
    ///
    /// # Method
    /// Least squares plane through the tops; the smallest turn that carries
    /// its normal onto z (Rodrigues), about the mean of the tops.
    #[must_use]
    pub fn levelled(&self) -> Option<Self> {
        let Shape::Scan(scan) = &self.shape else {
            return None;
        };
        let tops: Vec<[f64; 3]> = self
            .bars
            .first()?
            .sightings
            .iter()
            .filter_map(|sighting| {
                let top = top_of(&sighting.seen)?;
                Some([sighting.at_mm[0], sighting.at_mm[1], top.value.mm()])
            })
            .collect();
        let plane = Plane::fit(&tops)?;
        let turn = plane.turn()?;
        let mut out = self.clone();
        if let Shape::Scan(scan_out) = &mut out.shape {
            let before = scan.stone_from_mesh.unwrap_or(StoneFromMesh::IDENTITY);
            scan_out.stone_from_mesh = Some(compose(&turn, &before));
        }
        let cosine = turn.rotation[8];
        for bar in &mut out.bars {
            for sighting in &mut bar.sightings {
                let [x, y] = sighting.at_mm;
                let z = level_of(&sighting.seen).unwrap_or_else(|| plane.at(x, y));
                let moved = turn.apply([x, y, z]);
                sighting.at_mm = [moved[0], moved[1]];
                sighting.seen = across(&sighting.seen, z, moved[2], cosine);
            }
        }
        for exposure in &mut out.exposures {
            for speck in &mut exposure.specks {
                speck.at_mm = speck.at_mm.map(|p| turn.apply(p));
            }
        }
        for crack in &mut out.cracks {
            for p in &mut crack.trace_mm {
                let moved = turn.apply([p[0], p[1], plane.at(p[0], p[1])]);
                *p = [moved[0], moved[1]];
            }
        }
        if let Some(step) = &mut out.step {
            for p in [&mut step.from_mm, &mut step.to_mm] {
                let moved = turn.apply([p[0], p[1], plane.at(p[0], p[1])]);
                *p = [moved[0], moved[1]];
            }
        }
        Some(out)
    }
}

fn top_of(seen: &Seen) -> Option<Reading> {
    match seen {
        Seen::Measured { top, .. } | Seen::AtLeast { top, .. } => *top,
        Seen::Absent => None,
    }
}

/// The height at which the look was taken, where it says one.
fn level_of(seen: &Seen) -> Option<f64> {
    match seen {
        Seen::Measured { top, bottom, .. } => top.or(*bottom).map(|r| r.value.mm()),
        Seen::AtLeast { top, .. } => top.map(|r| r.value.mm()),
        Seen::Absent => None,
    }
}

/// The readings measured across the bar: `z` is where the look was taken
/// before the turn, `level` after it.
fn across(seen: &Seen, z: f64, level: f64, cosine: f64) -> Seen {
    let height = |r: Reading| Reading {
        value: Length::from_mm(level + (r.value.mm() - z) * cosine),
        sigma: r.sigma,
    };
    match *seen {
        Seen::Measured {
            top,
            bottom,
            thickness,
        } => Seen::Measured {
            top: top.map(height),
            bottom: bottom.map(height),
            thickness: thickness.map(|r| Reading {
                value: r.value * cosine,
                sigma: r.sigma,
            }),
        },
        Seen::AtLeast { thickness, top } => Seen::AtLeast {
            thickness: thickness * cosine,
            top: top.map(height),
        },
        Seen::Absent => Seen::Absent,
    }
}

/// z = mean_z + slope_x (x − mean_x) + slope_y (y − mean_y).
struct Plane {
    mean: [f64; 3],
    slope: [f64; 2],
}

impl Plane {
    fn fit(points: &[[f64; 3]]) -> Option<Self> {
        if points.len() < LEAST_TOPS {
            return None;
        }
        let n = points.len() as f64;
        let mean = [0, 1, 2].map(|k| points.iter().map(|p| p[k]).sum::<f64>() / n);
        let moment = |a: usize, b: usize| -> f64 {
            points
                .iter()
                .map(|p| (p[a] - mean[a]) * (p[b] - mean[b]))
                .sum()
        };
        let (xx, xy, yy) = (moment(0, 0), moment(0, 1), moment(1, 1));
        let det = xx * yy - xy * xy;
        // Eigenvalues of the 2×2 moment matrix: spread along and across.
        let half = 0.5 * (xx + yy);
        let root = (half * half - det).max(0.0).sqrt();
        let (along, over) = (half + root, half - root);
        if over.is_nan() || over <= LEAST_WIDTH_SHARE * LEAST_WIDTH_SHARE * along {
            return None;
        }
        let (xz, yz) = (moment(0, 2), moment(1, 2));
        Some(Self {
            mean,
            slope: [(yy * xz - xy * yz) / det, (xx * yz - xy * xz) / det],
        })
    }

    fn at(&self, x: f64, y: f64) -> f64 {
        self.mean[2] + self.slope[0] * (x - self.mean[0]) + self.slope[1] * (y - self.mean[1])
    }

    /// The smallest turn that carries the plane's normal onto z, about the mean.
    fn turn(&self) -> Option<StoneFromMesh> {
        let length = (self.slope[0].powi(2) + self.slope[1].powi(2) + 1.0).sqrt();
        let [nx, ny, c] = [-self.slope[0], -self.slope[1], 1.0].map(|v| v / length);
        if c < LEAST_COSINE {
            return None;
        }
        let k = 1.0 / (1.0 + c);
        let rotation = [
            1.0 - k * nx * nx,
            -k * nx * ny,
            -nx,
            -k * nx * ny,
            1.0 - k * ny * ny,
            -ny,
            nx,
            ny,
            c,
        ];
        let about = StoneFromMesh {
            rotation,
            translation_mm: [0.0; 3],
        };
        let moved = about.apply(self.mean);
        Some(StoneFromMesh {
            rotation,
            translation_mm: [0, 1, 2].map(|i| self.mean[i] - moved[i]),
        })
    }
}

/// First `first`, then `then`.
fn compose(then: &StoneFromMesh, first: &StoneFromMesh) -> StoneFromMesh {
    let mut rotation = [0.0; 9];
    for i in 0..3 {
        for j in 0..3 {
            rotation[3 * i + j] = (0..3)
                .map(|k| then.rotation[3 * i + k] * first.rotation[3 * k + j])
                .sum();
        }
    }
    StoneFromMesh {
        rotation,
        translation_mm: then.apply(first.translation_mm),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{BarEvidence, Form, GravityEstimate, LengthUnit, Look, Piece, ScanShape, Sighting};
    use opal_geom::TriMesh;
    use std::sync::Arc;

    fn tilted(points: &[[f64; 2]]) -> Evidence {
        let reading = |mm: f64| Reading {
            value: Length::from_mm(mm),
            sigma: Length::from_mm(0.1),
        };
        Evidence {
            piece: Piece {
                name: "A".to_owned(),
                form: Form::Seam,
                origin: None,
                weight: None,
                gravity: GravityEstimate::default_for(Form::Seam),
                asking: None,
            },
            shape: Shape::Scan(ScanShape {
                mesh: Arc::new(TriMesh::default()),
                source: "a.ply".to_owned(),
                file_unit: LengthUnit::Mm,
                repairs: Vec::new(),
                stone_from_mesh: None,
            }),
            bars: vec![BarEvidence {
                name: "A".to_owned(),
                sightings: points
                    .iter()
                    .map(|&[x, y]| Sighting {
                        at_mm: [x, y],
                        seen: Seen::Measured {
                            top: Some(reading(5.0 + 0.3 * x - 0.2 * y)),
                            bottom: Some(reading(4.0 + 0.3 * x - 0.2 * y)),
                            thickness: None,
                        },
                    })
                    .collect(),
                quick: None,
            }],
            exposures: Vec::new(),
            cracks: Vec::new(),
            step: None,
            torch: None,
            look: Look::default(),
        }
    }

    #[test]
    fn a_tilted_bar_comes_to_lie_flat_and_keeps_its_true_thickness() {
        let evidence = tilted(&[[0.0, 0.0], [20.0, 1.0], [3.0, 15.0], [18.0, 12.0]]);
        let level = evidence.levelled().expect("four spread tops");
        let cosine = 1.0 / (1.0_f64 + 0.09 + 0.04).sqrt();
        let mut heights = Vec::new();
        for sighting in &level.bars[0].sightings {
            let Seen::Measured {
                top: Some(top),
                bottom: Some(bottom),
                ..
            } = sighting.seen
            else {
                unreachable!("as entered")
            };
            heights.push(top.value.mm());
            assert!((top.value.mm() - bottom.value.mm() - cosine).abs() < 1e-12);
        }
        assert!(heights.iter().all(|z| (z - heights[0]).abs() < 1e-12));
        // The scan's point under the first sighting moves with it.
        let Shape::Scan(scan) = &level.shape else {
            unreachable!("as entered")
        };
        let moved = scan.stone_from_mesh.expect("kept").apply([0.0, 0.0, 5.0]);
        assert!((moved[0] - level.bars[0].sightings[0].at_mm[0]).abs() < 1e-12);
        assert!((moved[2] - heights[0]).abs() < 1e-12);
    }

    #[test]
    fn tops_on_one_line_carry_no_plane() {
        assert!(
            tilted(&[[0.0, 0.0], [5.0, 5.0], [10.0, 10.0]])
                .levelled()
                .is_none()
        );
        assert!(tilted(&[[0.0, 0.0], [5.0, 5.0]]).levelled().is_none());
    }
}
