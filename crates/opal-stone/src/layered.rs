//! What can be asked of a layered solid.

use crate::Stone;
use opal_units::{Area, Length, Volume};

/// One point of a section: how far along the line, and the skin there.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SectionPoint {
    /// Along the line from its start, mm.
    pub along_mm: f64,
    /// Skin top and bottom, mm; `None` outside the stone.
    pub skin_mm: Option<(f64, f64)>,
}

impl Stone {
    /// True when the node lies inside the outline.
    #[must_use]
    pub fn inside(&self, index: usize) -> bool {
        self.top_mm[index].is_finite()
    }

    /// Thickness of the rough at a node, or `None` outside.
    #[must_use]
    pub fn thickness(&self, index: usize) -> Option<Length> {
        self.inside(index)
            .then(|| Length::from_mm(f64::from(self.top_mm[index] - self.bottom_mm[index])))
    }

    /// Skin top and bottom at a place, mm, or `None` outside: bilinear between
    /// the nodes inside, of which at least half of the weight must be there.
    #[must_use]
    pub fn skin_at(&self, at_mm: [f64; 2]) -> Option<(f64, f64)> {
        let nodes = self.grid.bilinear(at_mm)?;
        let (mut weight, mut top, mut bottom) = (0.0, 0.0, 0.0);
        for (k, w) in nodes {
            if self.inside(k) {
                weight += w;
                top += w * f64::from(self.top_mm[k]);
                bottom += w * f64::from(self.bottom_mm[k]);
            }
        }
        (weight >= 0.5).then(|| (top / weight, bottom / weight))
    }

    /// Volume of the layers: each node inside speaks for its cell.
    #[must_use]
    pub fn layered_volume(&self) -> Volume {
        let sum: f64 = self
            .top_mm
            .iter()
            .zip(&self.bottom_mm)
            .filter(|(top, _)| top.is_finite())
            .map(|(top, bottom)| f64::from(top - bottom))
            .sum();
        Volume::from_mm3(sum * self.grid.cell_area_mm2())
    }

    /// Area of the outline from above.
    #[must_use]
    pub fn outline_area(&self) -> Area {
        let count = self.top_mm.iter().filter(|top| top.is_finite()).count();
        Area::from_mm2(count as f64 * self.grid.cell_area_mm2())
    }

    /// The lowest bottom and the highest top, mm.
    #[must_use]
    pub fn height_range_mm(&self) -> (f64, f64) {
        let low = self.bottom_mm.iter().copied().fold(f32::NAN, f32::min);
        let high = self.top_mm.iter().copied().fold(f32::NAN, f32::max);
        (f64::from(low), f64::from(high))
    }

    /// The nodes inside that touch the outside (over a side), in rising order:
    /// where a bar would show on the edge.
    #[must_use]
    pub fn edge_nodes(&self) -> Vec<usize> {
        (0..self.grid.len())
            .filter(|&k| self.inside(k) && self.neighbours(k).iter().any(|n| !self.is_in(*n)))
            .collect()
    }

    /// The skin along a straight line, at steps of half a cell.
    #[must_use]
    pub fn section(&self, from_mm: [f64; 2], to_mm: [f64; 2]) -> Vec<SectionPoint> {
        let [dx, dy] = [to_mm[0] - from_mm[0], to_mm[1] - from_mm[1]];
        let length = dx.hypot(dy);
        let steps = ((2.0 * length / self.grid.cell_mm).ceil() as usize).clamp(1, 10_000);
        (0..=steps)
            .map(|i| {
                let share = i as f64 / steps as f64;
                SectionPoint {
                    along_mm: length * share,
                    skin_mm: self.skin_at([from_mm[0] + share * dx, from_mm[1] + share * dy]),
                }
            })
            .collect()
    }

    /// West, east, south, north; `None` beyond the grid.
    pub(crate) fn neighbours(&self, index: usize) -> [Option<usize>; 4] {
        let (nx, ny) = (self.grid.nx, self.grid.ny);
        let (i, j) = (index % nx, index / nx);
        [
            (i > 0).then(|| index - 1),
            (i + 1 < nx).then(|| index + 1),
            (j > 0).then(|| index - nx),
            (j + 1 < ny).then(|| index + nx),
        ]
    }

    pub(crate) fn is_in(&self, neighbour: Option<usize>) -> bool {
        neighbour.is_some_and(|k| self.inside(k))
    }
}
