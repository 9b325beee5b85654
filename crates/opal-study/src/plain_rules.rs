//! Three plain rules by which a cutter might lay out a stone.

use opal_geom::Outline;
use opal_geom::edt::squared_distance_inside;
use opal_geom::families::family;
use opal_geom::freeform::{FreeformLimits, WorthMap, grow_freeform};
use opal_geom::inscribed::Circle;
use opal_interior::Interiors;
use opal_plan::{BenchRules, CutKind, PinnedOutline, StandardSize};
use opal_stone::Stone;

/// Where the mean bar is thick enough to cut, away from the side of the stone.
pub(crate) struct MeanBar<'a> {
    stone: &'a Stone,
    rules: &'a BenchRules,
    thick: Vec<bool>,
}

/// Turns at which an oval is tried, over a half turn. Chosen: 15° apart.
const TURNS: usize = 12;
/// Points of an oval, and rings of them that must lie on good ground.
const POINTS: usize = 48;
const RINGS: [f64; 4] = [1.0, 0.75, 0.5, 0.25];
/// What a cell outside the good ground counts against one inside: the outline
/// keeps off it. Chosen.
const OUTSIDE: f64 = -6.0;

impl<'a> MeanBar<'a> {
    pub(crate) fn new(stone: &'a Stone, drawn: &Interiors, rules: &'a BenchRules) -> Self {
        let cells = drawn.cells();
        let mut mean = vec![0.0_f32; cells];
        for i in 0..drawn.n {
            for (sum, h) in mean.iter_mut().zip(drawn.bars[0].thickness(i, cells)) {
                *sum += h / drawn.n as f32;
            }
        }
        let grid = &stone.grid;
        let inside: Vec<bool> = (0..cells).map(|k| stone.inside(k)).collect();
        let margin = (rules.skin_allowance + rules.finishing_allowance).mm() / grid.cell_mm;
        let thick = squared_distance_inside(&inside, grid.nx, grid.ny)
            .iter()
            .zip(&mean)
            .map(|(d2, &h)| d2.sqrt() - 0.5 >= margin && f64::from(h) >= rules.least_colour.mm())
            .collect();
        Self {
            stone,
            rules,
            thick,
        }
    }

    /// The biggest stocked oval that lies on the mean bar.
    pub(crate) fn biggest_oval(&self, sizes: &[StandardSize]) -> Option<PinnedOutline> {
        let mut ovals: Vec<&StandardSize> = sizes.iter().filter(|s| s.family == "oval").collect();
        let area = |s: &StandardSize| s.length.mm() * s.width.mm();
        ovals.sort_by(|p, q| area(q).total_cmp(&area(p)));
        ovals.into_iter().find_map(|size| {
            let shape = family(&size.family, size.length.mm(), size.width.mm(), POINTS)?;
            let outline_mm = self.seated(&shape)?.into_points();
            Some(PinnedOutline {
                kind: CutKind::Standard {
                    family: size.family.clone(),
                    length: size.length,
                    width: size.width,
                },
                outline_mm,
                bar: Some(0),
            })
        })
    }

    /// The first seat of an outline on the mean bar, node by node.
    fn seated(&self, shape: &Outline) -> Option<Outline> {
        let grid = &self.stone.grid;
        for turn in 0..TURNS {
            let turned = shape.placed(std::f64::consts::PI * turn as f64 / TURNS as f64, [0.0; 2]);
            let lies_on = |at: [f64; 2]| {
                RINGS.iter().all(|ring| {
                    turned.points().iter().all(|p| {
                        grid.nearest([at[0] + ring * p[0], at[1] + ring * p[1]])
                            .is_some_and(|k| self.thick[k])
                    })
                })
            };
            let seat = (0..grid.len())
                .filter(|&k| self.thick[k])
                .map(|k| grid.at_index(k))
                .find(|&at| lies_on(at));
            if let Some(at) = seat {
                return Some(turned.placed(0.0, at));
            }
        }
        None
    }

    /// The biggest smooth outline that lies on the mean bar.
    pub(crate) fn biggest_freeform(&self) -> Option<PinnedOutline> {
        let grid = self.stone.grid;
        let room = squared_distance_inside(&self.thick, grid.nx, grid.ny);
        let middle = (0..grid.len()).max_by(|&p, &q| room[p].total_cmp(&room[q]))?;
        let start = Circle {
            centre: grid.at_index(middle),
            radius: (room[middle].sqrt() - 0.5).max(0.0) * grid.cell_mm,
        };
        let limits = FreeformLimits {
            least_radius: self.rules.least_radius.mm(),
            least_width: self.rules.least_width.mm(),
            most_aspect: self.rules.most_aspect,
        };
        if 2.0 * start.radius < limits.least_width {
            return None;
        }
        let worth: Vec<f64> = self
            .thick
            .iter()
            .map(|&thick| if thick { 1.0 } else { OUTSIDE })
            .collect();
        let map = WorthMap::new(grid, &worth, OUTSIDE);
        let (grown, _) = grow_freeform(&map, start, &limits)?;
        // A smooth outline may bulge over the side of the stone.
        let middle = grown.centroid();
        let lies_in_stone = |outline: &Outline| {
            let points = outline.points().iter();
            let mut nodes = points.map(|&p| grid.nearest(p));
            nodes.all(|node| node.is_some_and(|k| self.stone.inside(k)))
        };
        let outline = (0..25)
            .map(|k| grown.scaled_about(middle, 1.0 - 0.02 * f64::from(k)))
            .find(lies_in_stone)?;
        Some(PinnedOutline {
            kind: CutKind::Freeform,
            outline_mm: outline.into_points(),
            bar: Some(0),
        })
    }
}
