//! How fine the grid is.

use opal_evidence::Fault;
use opal_geom::Grid;
use opal_units::Length;

/// Nodes that are aimed at when nobody asks. Chosen: because 20,000 nodes put
/// well over a hundred nodes along a stone and keep a thousand interiors small.
const AIM_NODES: f64 = 20_000.0;
/// Nodes that are aimed at for an answer at once. Chosen: because 6,000 nodes
/// still put four and more on every millimetre of a stone of 20 mm, and a bar
/// bends over several.
const AIM_COARSE_NODES: f64 = 6_000.0;
/// Most nodes before cells grow beyond the usual. Chosen: the size for which
/// the reach of the forecasts is stated (200 × 160).
const USUAL_NODES: f64 = 32_000.0;
/// Most nodes that may be asked for. Chosen: because a thousand interiors of
/// more would not fit a small computer's memory.
const MOST_NODES: f64 = 250_000.0;
/// Usual cells, mm.
const USUAL_CELL_MM: (f64, f64) = (0.1, 0.5);

/// How fine the grid of a stone is to be.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub enum GridChoice {
    /// From the size of the stone: 0.1 to 0.5 mm, larger for very large rough.
    #[default]
    Auto,
    /// From the size of the stone, with a third of the nodes: for an answer while
    /// the hands are wet.
    Coarse,
    /// This distance between nodes.
    Cell(Length),
}

impl GridChoice {
    /// A grid whose nodes are the midpoints of cells that cover the box, and a
    /// note where the cells are larger than usual.
    pub(crate) fn grid(
        self,
        low_mm: [f64; 2],
        high_mm: [f64; 2],
    ) -> Result<(Grid, Option<String>), Fault> {
        let size = [high_mm[0] - low_mm[0], high_mm[1] - low_mm[1]];
        let area = size[0] * size[1];
        let mut note = None;
        let cell_mm = match self {
            Self::Cell(cell) => {
                let cell = cell.mm();
                if !cell.is_finite() || cell <= 0.0 {
                    return Err(Fault::new("grid.cell_mm", cell, "must be above 0 mm"));
                }
                if area / (cell * cell) > MOST_NODES {
                    return Err(Fault::new(
                        "grid.cell_mm",
                        format!("{cell} mm on a stone of {:.0} × {:.0} mm", size[0], size[1]),
                        format!(
                            "must be at least {:.2} mm here (250,000 nodes)",
                            (area / MOST_NODES).sqrt()
                        ),
                    ));
                }
                cell
            }
            Self::Coarse => (area / AIM_COARSE_NODES).sqrt().max(USUAL_CELL_MM.0),
            Self::Auto => {
                let aim = (area / AIM_NODES).sqrt();
                let cell = aim.clamp(USUAL_CELL_MM.0, USUAL_CELL_MM.1);
                if area / (cell * cell) > USUAL_NODES {
                    let cell = (area / USUAL_NODES).sqrt();
                    note = Some(format!(
                        "This is large rough: it is computed on a grid of {cell:.2} mm instead of \
                         at most {:.1} mm.",
                        USUAL_CELL_MM.1
                    ));
                    cell
                } else {
                    cell
                }
            }
        };
        let count = |length: f64| ((length / cell_mm).ceil() as usize).max(2);
        let (nx, ny) = (count(size[0]), count(size[1]));
        let first = |low: f64, high: f64, n: usize| 0.5 * (low + high - (n - 1) as f64 * cell_mm);
        let grid = Grid {
            nx,
            ny,
            cell_mm,
            origin_mm: [
                first(low_mm[0], high_mm[0], nx),
                first(low_mm[1], high_mm[1], ny),
            ],
        };
        Ok((grid, note))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cells_follow_the_size() {
        let small = GridChoice::Auto.grid([0.0; 2], [8.0, 5.0]).expect("a grid");
        assert_eq!(small.0.cell_mm, 0.1);
        let usual = GridChoice::Auto
            .grid([0.0; 2], [48.0, 33.0])
            .expect("a grid");
        assert!((0.1..0.5).contains(&usual.0.cell_mm) && usual.0.len() <= 32_000);
        let coarse = GridChoice::Coarse
            .grid([0.0; 2], [17.0, 13.0])
            .expect("a grid");
        assert!(
            (5_800..6_300).contains(&coarse.0.len()),
            "{}",
            coarse.0.len()
        );
        let (huge, note) = GridChoice::Auto
            .grid([0.0; 2], [400.0, 300.0])
            .expect("a grid");
        assert!(huge.cell_mm > 0.5 && huge.len() <= 33_000 && note.is_some());
    }

    #[test]
    fn nodes_stand_in_the_middle_of_cells_that_cover_the_box() {
        let (grid, _) = GridChoice::Cell(Length::from_mm(0.3))
            .grid([1.0, -2.0], [11.0, 3.0])
            .expect("a grid");
        let last = grid.at(grid.nx - 1, grid.ny - 1);
        assert!(grid.origin_mm[0] - 0.15 <= 1.0 && last[0] + 0.15 >= 11.0);
        assert!((grid.origin_mm[1] + last[1] - 1.0).abs() < 1e-12);
    }

    #[test]
    fn absurd_cells_are_refused_with_the_limit() {
        let fault = GridChoice::Cell(Length::from_mm(0.001))
            .grid([0.0; 2], [48.0, 33.0])
            .expect_err("too fine");
        assert!(fault.limit.contains("0.08 mm"), "{fault}");
        assert!(
            GridChoice::Cell(Length::from_mm(f64::NAN))
                .grid([0.0; 2], [1.0; 2])
                .is_err()
        );
    }
}
