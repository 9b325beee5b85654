//! A mesh seen from above: at every grid node, the skin's top and bottom.

use crate::{Grid, TriMesh};
use rayon::prelude::*;

/// Rows of nodes that one worker handles. Chosen: enough bands for many
/// threads, few enough that a face seldom lies in more than two.
const BAND_ROWS: usize = 16;

/// The layered form of a mesh on a grid.
#[derive(Clone, Debug, PartialEq)]
pub struct Layers {
    /// The nodes.
    pub grid: Grid,
    /// Height of the uppermost skin at each node, mm; NaN outside.
    pub top_mm: Vec<f32>,
    /// Height of the lowest skin, mm; NaN outside.
    pub bottom_mm: Vec<f32>,
    /// How much of the column is solid, mm; 0 outside. Less than top minus
    /// bottom where the mesh folds over itself.
    pub filled_mm: Vec<f32>,
    /// How often the column at each node crosses the skin.
    pub crossings: Vec<u16>,
    /// Nodes whose column crosses the skin more than twice.
    pub folded: Vec<usize>,
    /// Nodes whose column enters and leaves unequally often: the mesh is open
    /// there. A missing top or bottom was filled from the nodes around.
    pub open: Vec<usize>,
    /// Nodes where the mesh lies inside itself: it overlaps or faces inward.
    pub overlapping: Vec<usize>,
}

impl Layers {
    /// Volume between top and bottom, mm³.
    #[must_use]
    pub fn volume_mm3(&self) -> f64 {
        let mut sum = 0.0;
        for (&top, &bottom) in self.top_mm.iter().zip(&self.bottom_mm) {
            if top.is_finite() {
                sum += f64::from(top) - f64::from(bottom);
            }
        }
        sum * self.grid.cell_area_mm2()
    }

    /// Volume of what is solid in the columns, hollows under folds left out and
    /// overlaps counted once, mm³.
    #[must_use]
    pub fn filled_volume_mm3(&self) -> f64 {
        self.filled_mm.iter().map(|&x| f64::from(x)).sum::<f64>() * self.grid.cell_area_mm2()
    }

    /// Volume of the layered form less that of the mesh it was made from, mm³:
    /// what the folds hide, and what the grid cannot follow.
    #[must_use]
    pub fn departure_mm3(&self, mesh: &TriMesh) -> f64 {
        self.volume_mm3() - mesh.volume_mm3()
    }
}

/// One column meets one face.
#[derive(Clone, Copy)]
struct Hit {
    z: f64,
    /// True for a face that looks up: the column leaves the solid here, going up.
    up: bool,
}

/// Corners of a face in grid steps (u, v) and height in mm.
type Corners = [[f64; 3]; 3];

/// Top, bottom and folds of a mesh on a grid.
///
/// # Method
/// Every face is drawn row by row. A row belongs to an edge when it lies above
/// its lower end and not above its upper end, a node to a face when it lies
/// right of the left edge and not right of the right one; both edges are
/// computed from their lower end. So a node on an edge or corner falls to
/// exactly one of the faces that meet there, and a closed mesh is left exactly
/// as often as it is entered.
///
/// # Validity
/// Volumes converge with the cell as the midpoint rule. The mesh should be
/// oriented (see [`mod@crate::repair`]); faces with corners that do not exist or
/// are not finite are passed over.
#[must_use]
pub fn layers(mesh: &TriMesh, grid: &Grid) -> Layers {
    let rows = grid.ny;
    let n_bands = rows.div_ceil(BAND_ROWS);
    let in_grid: Vec<[f64; 3]> = mesh
        .vertices
        .par_iter()
        .map(|p| {
            [
                (p[0] - grid.origin_mm[0]) / grid.cell_mm,
                (p[1] - grid.origin_mm[1]) / grid.cell_mm,
                p[2],
            ]
        })
        .collect();
    let bands = faces_by_band(mesh, &in_grid, rows, n_bands);

    let done: Vec<Band> = (0..n_bands)
        .into_par_iter()
        .map(|band| {
            let first = band * BAND_ROWS;
            let last = (first + BAND_ROWS).min(rows);
            Band::draw(mesh, &in_grid, bands.of(band), grid.nx, first, last)
        })
        .collect();

    let mut result = Layers {
        grid: *grid,
        top_mm: Vec::with_capacity(grid.len()),
        bottom_mm: Vec::with_capacity(grid.len()),
        filled_mm: Vec::with_capacity(grid.len()),
        crossings: Vec::with_capacity(grid.len()),
        folded: Vec::new(),
        open: Vec::new(),
        overlapping: Vec::new(),
    };
    for (band, drawn) in done.into_iter().enumerate() {
        let shift = band * BAND_ROWS * grid.nx;
        result.top_mm.extend(drawn.top);
        result.bottom_mm.extend(drawn.bottom);
        result.filled_mm.extend(drawn.filled);
        result.crossings.extend(drawn.crossings);
        result.folded.extend(drawn.folded.iter().map(|k| k + shift));
        result.open.extend(drawn.open.iter().map(|k| k + shift));
        result
            .overlapping
            .extend(drawn.overlapping.iter().map(|k| k + shift));
    }
    fill_gaps(&mut result);
    result
}

/// Which faces touch which band, in face order.
struct FacesByBand {
    start: Vec<usize>,
    faces: Vec<u32>,
}

impl FacesByBand {
    fn of(&self, band: usize) -> &[u32] {
        &self.faces[self.start[band]..self.start[band + 1]]
    }
}

fn faces_by_band(mesh: &TriMesh, in_grid: &[[f64; 3]], rows: usize, n_bands: usize) -> FacesByBand {
    // Bands first..end of each face; empty where no row of nodes crosses it.
    let spans: Vec<(u32, u32)> = mesh
        .faces
        .par_iter()
        .map(|&face| {
            let Some(corners) = corners_of(in_grid, face) else {
                return (0, 0);
            };
            let low = corners.iter().map(|c| c[1]).fold(f64::INFINITY, f64::min);
            let high = corners
                .iter()
                .map(|c| c[1])
                .fold(f64::NEG_INFINITY, f64::max);
            let (first, end) = nodes_between(low, high, rows);
            if first >= end {
                return (0, 0);
            }
            let last = (end - 1) / BAND_ROWS;
            ((first / BAND_ROWS) as u32, last as u32 + 1)
        })
        .collect();
    let mut start = vec![0_usize; n_bands + 1];
    for &(first, end) in &spans {
        for band in first..end {
            start[band as usize + 1] += 1;
        }
    }
    for band in 0..n_bands {
        start[band + 1] += start[band];
    }
    let mut next = start.clone();
    let mut faces = vec![0_u32; start[n_bands]];
    for (face, &(first, end)) in spans.iter().enumerate() {
        for band in first..end {
            let place = &mut next[band as usize];
            faces[*place] = face as u32;
            *place += 1;
        }
    }
    FacesByBand { start, faces }
}

fn corners_of(in_grid: &[[f64; 3]], face: [u32; 3]) -> Option<Corners> {
    let [a, b, c] = face.map(|k| in_grid.get(k as usize).copied());
    let corners = [a?, b?, c?];
    corners
        .iter()
        .flatten()
        .all(|x| x.is_finite())
        .then_some(corners)
}

/// Whole numbers k with `low < k ≤ high` and `0 ≤ k < count`, as a half-open range.
fn nodes_between(low: f64, high: f64, count: usize) -> (usize, usize) {
    let after = |x: f64| (x.floor() + 1.0).clamp(0.0, count as f64) as usize;
    (after(low), after(high))
}

/// Calls `visit(i, j, hit)` for the nodes of rows `first..last` that the face covers.
///
/// Whether the face looks up is read from the side on which its longest edge
/// turned out to lie, not from its area, so that rounding in a sliver can never
/// make a closed column look open.
fn draw_face(
    corners: &Corners,
    nx: usize,
    first: usize,
    last: usize,
    mut visit: impl FnMut(usize, usize, Hit),
) {
    let [mut a, mut b, mut c] = *corners;
    let mut turned = false;
    if b[1] < a[1] {
        std::mem::swap(&mut a, &mut b);
        turned = !turned;
    }
    if c[1] < a[1] {
        std::mem::swap(&mut a, &mut c);
        turned = !turned;
    }
    if c[1] < b[1] {
        std::mem::swap(&mut b, &mut c);
        turned = !turned;
    }
    let along = |p: [f64; 3], q: [f64; 3], v: f64| {
        let t = (v - p[1]) / (q[1] - p[1]);
        (p[0] + t * (q[0] - p[0]), p[2] + t * (q[2] - p[2]))
    };
    let (row, end) = nodes_between(a[1], c[1], last);
    for j in row.max(first)..end {
        let v = j as f64;
        let long = along(a, c, v);
        let short = if v <= b[1] {
            along(a, b, v)
        } else {
            along(b, c, v)
        };
        let long_is_left = long.0 <= short.0;
        let (left, right) = if long_is_left {
            (long, short)
        } else {
            (short, long)
        };
        let up = long_is_left != turned;
        let (i, i_end) = nodes_between(left.0, right.0, nx);
        let slope = (right.1 - left.1) / (right.0 - left.0);
        for i in i..i_end {
            let z = left.1 + slope * (i as f64 - left.0);
            visit(i, j, Hit { z, up });
        }
    }
}

/// The drawn rows `first..last`.
struct Band {
    top: Vec<f32>,
    bottom: Vec<f32>,
    filled: Vec<f32>,
    crossings: Vec<u16>,
    folded: Vec<usize>,
    open: Vec<usize>,
    overlapping: Vec<usize>,
}

impl Band {
    fn draw(
        mesh: &TriMesh,
        in_grid: &[[f64; 3]],
        faces: &[u32],
        nx: usize,
        first: usize,
        last: usize,
    ) -> Self {
        let n = nx * (last - first);
        let mut high = vec![f64::NEG_INFINITY; n];
        let mut low = vec![f64::INFINITY; n];
        let mut crossings = vec![0_u16; n];
        let mut balance = vec![0_i32; n];
        let each = |visit: &mut dyn FnMut(usize, Hit)| {
            for &face in faces {
                let Some(corners) = corners_of(in_grid, mesh.faces[face as usize]) else {
                    continue;
                };
                draw_face(&corners, nx, first, last, |i, j, hit| {
                    visit((j - first) * nx + i, hit);
                });
            }
        };
        each(&mut |k, hit| {
            crossings[k] = crossings[k].saturating_add(1);
            balance[k] += if hit.up { 1 } else { -1 };
            high[k] = high[k].max(hit.z);
            low[k] = low[k].min(hit.z);
        });

        // Columns that are not plainly 'in below, out above' are looked at hit by hit.
        let mut place = vec![u32::MAX; n];
        let mut columns: Vec<Vec<Hit>> = Vec::new();
        for k in 0..n {
            if crossings[k] != 0 && (crossings[k] != 2 || balance[k] != 0) {
                place[k] = columns.len() as u32;
                columns.push(Vec::with_capacity(usize::from(crossings[k])));
            }
        }
        if !columns.is_empty() {
            each(&mut |k, hit| {
                if place[k] != u32::MAX {
                    columns[place[k] as usize].push(hit);
                }
            });
        }

        let mut band = Self {
            top: vec![f32::NAN; n],
            bottom: vec![f32::NAN; n],
            filled: vec![0.0; n],
            crossings,
            folded: Vec::new(),
            open: Vec::new(),
            overlapping: Vec::new(),
        };
        for k in 0..n {
            match (band.crossings[k], place[k]) {
                (0, _) => {}
                (_, u32::MAX) => {
                    band.top[k] = high[k] as f32;
                    band.bottom[k] = low[k] as f32;
                    band.filled[k] = (high[k] - low[k]) as f32;
                }
                (_, place) => band.settle(k, &mut columns[place as usize]),
            }
        }
        band
    }

    /// Fills node `k` from the sorted hits of its column.
    fn settle(&mut self, k: usize, hits: &mut [Hit]) {
        if hits.len() > 2 {
            self.folded.push(k);
        }
        hits.sort_by(|a, b| a.z.total_cmp(&b.z).then(a.up.cmp(&b.up)));
        let (mut depth, mut filled, mut entered) = (0_i32, 0.0, 0.0);
        let mut overlaps = false;
        for hit in hits.iter() {
            if hit.up {
                depth -= 1;
                if depth == 0 {
                    filled += hit.z - entered;
                }
            } else {
                if depth == 0 {
                    entered = hit.z;
                }
                depth += 1;
            }
            overlaps |= !(0..=1).contains(&depth);
        }
        self.bottom[k] = hits.iter().find(|h| !h.up).map_or(f32::NAN, |h| h.z as f32);
        self.top[k] = hits
            .iter()
            .rev()
            .find(|h| h.up)
            .map_or(f32::NAN, |h| h.z as f32);
        if depth != 0 {
            self.open.push(k);
            self.filled[k] = f32::NAN;
        } else {
            self.filled[k] = filled.max(0.0) as f32;
            if overlaps {
                self.overlapping.push(k);
            }
        }
    }
}

/// Gives open columns the top or bottom they lack: the mean of the neighbours
/// that have one, ring by ring; what stays unknown is left outside.
fn fill_gaps(layers: &mut Layers) {
    let open = layers.open.clone();
    for surface in [&mut layers.top_mm, &mut layers.bottom_mm] {
        let mut missing: Vec<usize> = open
            .iter()
            .copied()
            .filter(|&k| surface[k].is_nan())
            .collect();
        while !missing.is_empty() {
            let known: Vec<Option<f32>> = missing
                .iter()
                .map(|&k| mean_of_neighbours(&layers.grid, surface, k))
                .collect();
            let mut left = Vec::with_capacity(missing.len());
            for (&k, value) in missing.iter().zip(&known) {
                match value {
                    Some(value) => surface[k] = *value,
                    None => left.push(k),
                }
            }
            if left.len() == missing.len() {
                break;
            }
            missing = left;
        }
    }
    for &k in &open {
        let (top, bottom) = (layers.top_mm[k], layers.bottom_mm[k]);
        if top > bottom {
            layers.filled_mm[k] = top - bottom;
        } else {
            layers.top_mm[k] = f32::NAN;
            layers.bottom_mm[k] = f32::NAN;
            layers.filled_mm[k] = 0.0;
        }
    }
}

fn mean_of_neighbours(grid: &Grid, surface: &[f32], k: usize) -> Option<f32> {
    let (i, j) = (k % grid.nx, k / grid.nx);
    let (mut sum, mut n) = (0.0_f64, 0_u32);
    for jj in j.saturating_sub(1)..=(j + 1).min(grid.ny - 1) {
        for ii in i.saturating_sub(1)..=(i + 1).min(grid.nx - 1) {
            let z = surface[grid.index(ii, jj)];
            if z.is_finite() {
                sum += f64::from(z);
                n += 1;
            }
        }
    }
    (n > 0).then(|| (sum / f64::from(n)) as f32)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::solids::{cuboid, icosphere, torus};

    fn whole_grid(n: usize, cell_mm: f64, origin: f64) -> Grid {
        Grid {
            nx: n,
            ny: n,
            cell_mm,
            origin_mm: [origin, origin],
        }
    }

    /// Nodes fall exactly on edges, diagonals and corners of the faces.
    #[test]
    fn nodes_on_edges_are_counted_once() {
        let cube = cuboid([0.0; 3], [4.0; 3]);
        let found = layers(&cube, &whole_grid(7, 1.0, -1.0));
        assert_eq!(found.crossings.iter().filter(|&&c| c == 2).count(), 16);
        assert_eq!(found.crossings.iter().filter(|&&c| c == 0).count(), 33);
        assert!((found.volume_mm3() - 64.0).abs() < 1e-12);
        assert!(found.folded.is_empty() && found.open.is_empty() && found.overlapping.is_empty());
        // A ball with a corner right above and below the middle node.
        let ball =
            icosphere(1.0, 3).moved([1.0, 0.0, 0.0, 0.0, 0.0, 1.0, 0.0, -1.0, 0.0], [0.0; 3]);
        let found = layers(&ball, &whole_grid(65, 1.0 / 32.0, -1.0));
        assert!(found.crossings.iter().all(|&c| c == 0 || c == 2));
        assert!(found.open.is_empty());
    }

    /// 4π/3 = 4.188790; the level-7 mesh itself holds 4.188649 (trimesh 5.2.0).
    #[test]
    fn a_fine_ball_keeps_its_volume() {
        let ball = icosphere(1.0, 6);
        let found = layers(&ball, &whole_grid(513, 1.0 / 254.0, -256.0 / 254.0));
        assert!((found.volume_mm3() / ball.volume_mm3() - 1.0).abs() < 2e-4);
        assert!(found.departure_mm3(&ball).abs() < 1e-3);
        assert!(found.folded.is_empty());
    }

    /// A ring on edge hides a hollow of its hole from above.
    #[test]
    fn folds_are_found_and_their_hollow_measured() {
        let ring = torus(3.0, 1.0, 128, 128)
            .moved([1.0, 0.0, 0.0, 0.0, 0.0, -1.0, 0.0, 1.0, 0.0], [0.0; 3]);
        let grid = ring.bounds().expect("not empty").grid(0.02);
        let found = layers(&ring, &grid);
        assert!(!found.folded.is_empty() && found.overlapping.is_empty());
        assert!((found.filled_volume_mm3() / ring.volume_mm3() - 1.0).abs() < 1e-3);
        assert!(found.departure_mm3(&ring) > 10.0);
    }

    #[test]
    fn an_overlap_counts_once_and_is_told() {
        let mut two = cuboid([0.0; 3], [2.0, 2.0, 2.0]);
        let other = cuboid([0.0, 0.0, 1.0], [2.0, 2.0, 3.0]);
        two.faces
            .extend(other.faces.iter().map(|f| f.map(|k| k + 8)));
        two.vertices.extend(other.vertices);
        let found = layers(&two, &whole_grid(11, 0.4, -0.6));
        assert_eq!(found.overlapping.len(), 25);
        assert!((found.filled_volume_mm3() - 12.0).abs() < 1e-5);
    }

    #[test]
    fn a_hole_is_filled_from_around_and_told() {
        let mut ball = icosphere(1.0, 4);
        let (v, before) = (ball.vertices.clone(), ball.volume_mm3());
        ball.faces
            .retain(|f| f.iter().any(|&k| v[k as usize][2] < 0.97));
        let found = layers(&ball, &ball.bounds().expect("not empty").grid(0.02));
        assert!(!found.open.is_empty());
        assert!((found.volume_mm3() / before - 1.0).abs() < 2e-3);
    }

    #[test]
    fn one_thread_or_many_give_the_same_bytes() {
        let mesh = torus(3.0, 1.0, 90, 70);
        let grid = mesh.bounds().expect("not empty").grid(0.03);
        let run = |threads| {
            let pool = rayon::ThreadPoolBuilder::new()
                .num_threads(threads)
                .build()
                .expect("a pool");
            let found = pool.install(|| layers(&mesh, &grid));
            let bits = |v: &[f32]| v.iter().map(|x| x.to_bits()).collect::<Vec<_>>();
            (
                bits(&found.top_mm),
                bits(&found.bottom_mm),
                bits(&found.filled_mm),
                found.crossings,
            )
        };
        assert_eq!(run(1), run(5));
    }

    #[test]
    fn broken_faces_are_passed_over() {
        let mut cube = cuboid([0.0; 3], [4.0; 3]);
        cube.vertices.push([f64::NAN; 3]);
        cube.faces.extend([[0, 1, 8], [0, 1, 99]]);
        let found = layers(&cube, &whole_grid(7, 1.0, -1.0));
        assert!((found.volume_mm3() - 64.0).abs() < 1e-12);
    }
}
