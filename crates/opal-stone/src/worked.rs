//! A stone after work: sawn through, ground from above, below or a side.
//!
//! The grid stays, so that whatever was forecast at a node still lies there.

use crate::Stone;
use crate::weight::{self, WeightCheck};
use opal_geom::CutPlane;
use opal_units::{Length, Mass};

/// Thinner than this is nothing to hold, mm.
const THINNEST_MM: f32 = 0.02;

/// A round place on a face.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Spot {
    /// Its middle from above, mm.
    pub at_mm: [f64; 2],
    /// How far it reaches.
    pub radius: Length,
}

impl Spot {
    /// How much of the full depth is taken at a place: a dish, 1 in the middle
    /// and 0 from the rim on, as a wheel leaves it.
    #[must_use]
    pub fn share(&self, at_mm: [f64; 2]) -> f64 {
        let rho =
            (at_mm[0] - self.at_mm[0]).hypot(at_mm[1] - self.at_mm[1]) / self.radius.mm().max(1e-9);
        (1.0 - rho * rho).max(0.0)
    }
}

impl Stone {
    /// What is left on the side of a plane that its normal points away from;
    /// `None` where nothing is, or the plane has no normal.
    ///
    /// # Validity
    /// The plane of a saw cut at any tilt; columns are cut exactly, the outline
    /// to a cell.
    #[must_use]
    pub fn sawn(&self, plane: &CutPlane) -> Option<Self> {
        let size = plane.normal.iter().map(|v| v * v).sum::<f64>().sqrt();
        if !(size > 0.0 && size.is_finite()) {
            return None;
        }
        let [nx, ny, nz] = plane.normal.map(|v| v / size);
        let level = nx * plane.point_mm[0] + ny * plane.point_mm[1] + nz * plane.point_mm[2];
        // A blade within a thousandth of upright passes no column at a height.
        let upright = nz.abs() < 1e-3;
        self.reshaped(|at, top, bottom| {
            let across = level - nx * at[0] - ny * at[1];
            if upright {
                (across >= 0.0).then_some((top, bottom))
            } else if nz > 0.0 {
                Some((top.min((across / nz) as f32), bottom))
            } else {
                Some((top, bottom.max((across / nz) as f32)))
            }
        })
    }

    /// The stone with its top lowered, everywhere or in a spot; `None` where
    /// nothing is left.
    #[must_use]
    pub fn ground_from_above(&self, depth: Length, spot: Option<&Spot>) -> Option<Self> {
        let share = |at: [f64; 2]| spot.map_or(1.0, |spot| spot.share(at));
        self.reshaped(|at, top, bottom| Some((top - (depth.mm() * share(at)) as f32, bottom)))
    }

    /// The stone with its top nowhere above these heights, one for each node, mm;
    /// `None` where nothing is left.
    #[must_use]
    pub fn lowered_to(&self, floor_mm: &[f32]) -> Option<Self> {
        self.reshaped(|at, top, bottom| {
            let floor = self.grid.nearest(at).and_then(|k| floor_mm.get(k));
            Some((floor.map_or(top, |floor| top.min(*floor)), bottom))
        })
    }

    /// The stone with its underside raised; `None` where nothing is left.
    #[must_use]
    pub fn ground_from_below(&self, depth: Length, spot: Option<&Spot>) -> Option<Self> {
        let share = |at: [f64; 2]| spot.map_or(1.0, |spot| spot.share(at));
        self.reshaped(|at, top, bottom| Some((top, bottom + (depth.mm() * share(at)) as f32)))
    }

    /// The stone with its side ground flat: `depth` off the place that reaches
    /// farthest along `toward` (seen from above); `None` where nothing is left.
    #[must_use]
    pub fn ground_from_the_side(&self, toward: [f64; 2], depth: Length) -> Option<Self> {
        let size = toward[0].hypot(toward[1]);
        if !(size > 0.0 && size.is_finite()) {
            return None;
        }
        let normal = [toward[0] / size, toward[1] / size];
        let along = |k: usize| {
            let at = self.grid.at_index(k);
            at[0] * normal[0] + at[1] * normal[1]
        };
        // The side runs half a cell beyond the last node inside.
        let reach = (0..self.grid.len())
            .filter(|&k| self.inside(k))
            .map(along)
            .fold(f64::NEG_INFINITY, f64::max)
            + 0.5 * self.grid.cell_mm;
        if !reach.is_finite() {
            return None;
        }
        let at = reach - depth.mm();
        self.sawn(&CutPlane {
            point_mm: [at * normal[0], at * normal[1], 0.0],
            normal: [normal[0], normal[1], 0.0],
        })
    }

    /// The stone after it was weighed again: the scale's word replaces what was
    /// carried forward by volume, and is checked against the shape.
    #[must_use]
    pub fn weighed_again(&self, weighed: Mass) -> Self {
        let mut stone = self.clone();
        stone.weight = weight::weighed(weighed);
        stone.check = Some(WeightCheck::new(weighed, &stone.gravity, stone.volume));
        stone
    }

    /// The stone with other columns. Volume and weight shrink as the layers do;
    /// the scan no longer shows it and is let go.
    fn reshaped(&self, column: impl Fn([f64; 2], f32, f32) -> Option<(f32, f32)>) -> Option<Self> {
        let before = self.layered_volume().mm3();
        let mut worked = self.clone();
        for k in 0..self.grid.len() {
            if !self.inside(k) {
                continue;
            }
            let left = column(self.grid.at_index(k), self.top_mm[k], self.bottom_mm[k])
                .filter(|(top, bottom)| top - bottom >= THINNEST_MM);
            (worked.top_mm[k], worked.bottom_mm[k]) = left.unwrap_or((f32::NAN, f32::NAN));
        }
        let share = worked.layered_volume().mm3() / before;
        if !(share > 0.0 && share.is_finite()) {
            return None;
        }
        worked.volume = (self.volume.0 * share, self.volume.1 * share);
        worked.weight = (self.weight.0 * share, self.weight.1 * share);
        worked.check = None;
        worked.mesh = None;
        worked.departure = None;
        Some(worked)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::GridChoice;
    use opal_evidence::{Evidence, Form, GravityEstimate, Look, OutlineShape, Piece, Shape};

    /// A slab of 20 × 10 × 6 mm, its edges a little rounded.
    fn slab() -> Stone {
        let evidence = Evidence {
            piece: Piece {
                name: "slab".to_owned(),
                form: Form::Seam,
                origin: None,
                weight: None,
                gravity: GravityEstimate::default_for(Form::Seam),
                asking: None,
            },
            shape: Shape::Outline(OutlineShape {
                points_mm: vec![[0.0, 0.0], [20.0, 0.0], [20.0, 10.0], [0.0, 10.0]],
                heights_mm: vec![[5.0, 5.0, 6.0], [15.0, 5.0, 6.0]],
                base_mm: vec![[0.0, 0.0, 0.0]],
            }),
            bars: Vec::new(),
            exposures: Vec::new(),
            cracks: Vec::new(),
            step: None,
            torch: None,
            look: Look::default(),
        };
        Stone::from_evidence(&evidence, GridChoice::Cell(Length::from_mm(0.25))).expect("a slab")
    }

    fn plane(point_mm: [f64; 3], normal: [f64; 3]) -> CutPlane {
        CutPlane { point_mm, normal }
    }

    /// The two sides of a cut hold what the stone held, at any tilt.
    #[test]
    fn two_sides_make_the_whole() {
        let stone = slab();
        let whole = stone.layered_volume().mm3();
        for normal in [
            [1.0, 0.0, 0.0],
            [0.0, 0.0, 1.0],
            [0.6, 0.0, 0.8],
            [0.0, 0.8, -0.6],
        ] {
            let at = [10.1, 5.1, 3.0];
            let kept = stone.sawn(&plane(at, normal)).expect("one side");
            let other = stone
                .sawn(&plane(at, normal.map(|v| -v)))
                .expect("the other");
            let sum = kept.layered_volume().mm3() + other.layered_volume().mm3();
            assert!(
                (sum - whole).abs() < 2e-3 * whole,
                "{normal:?}: {sum} {whole}"
            );
            let share = kept.layered_volume().mm3() / whole;
            assert!((kept.weight.0.carats() - stone.weight.0.carats() * share).abs() < 1e-9);
        }
    }

    #[test]
    fn grinding_from_above_takes_area_times_depth() {
        let stone = slab();
        let depth = Length::from_mm(0.3);
        let ground = stone.ground_from_above(depth, None).expect("left");
        let gone = stone.layered_volume() - ground.layered_volume();
        let area = stone.outline_area().mm2();
        assert!((gone.mm3() - 0.3 * area).abs() < 0.03 * 0.3 * area);
    }

    /// A paraboloid dish of depth d and radius r holds π r² d / 2.
    #[test]
    fn a_spot_is_a_dish() {
        let stone = slab();
        let spot = Spot {
            at_mm: [10.0, 5.0],
            radius: Length::from_mm(2.0),
        };
        let ground = stone
            .ground_from_above(Length::from_mm(0.4), Some(&spot))
            .expect("left");
        let gone = (stone.layered_volume() - ground.layered_volume()).mm3();
        let dish = std::f64::consts::PI * 4.0 * 0.4 / 2.0;
        assert!((gone - dish).abs() < 0.03 * dish, "{gone} {dish}");
    }

    #[test]
    fn a_side_is_taken_off_and_nothing_left_is_nothing() {
        let stone = slab();
        let ground = stone
            .ground_from_the_side([1.0, 0.0], Length::from_mm(2.0))
            .expect("left");
        let reach = (0..ground.grid.len())
            .filter(|&k| ground.inside(k))
            .map(|k| ground.grid.at_index(k)[0])
            .fold(0.0, f64::max);
        assert!((17.5..=18.2).contains(&reach), "{reach}");
        assert!(
            stone
                .ground_from_above(Length::from_mm(9.0), None)
                .is_none()
        );
        assert!(
            stone
                .ground_from_the_side([0.0, 0.0], Length::from_mm(1.0))
                .is_none()
        );
    }
}
