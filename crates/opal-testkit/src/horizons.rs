//! Real surfaces, taken from the shared data and scaled to the size of a bar.

use crate::shared_data;
use std::io;
use std::path::Path;

/// A measured surface: heights over x and y, mean 0 and unit standard deviation
/// after its plane was taken off, x and y running over 0..1.
#[derive(Clone, Debug)]
pub struct MeasuredSurface {
    /// Where it is from.
    pub name: String,
    nx: usize,
    ny: usize,
    heights: Vec<f64>,
}

/// Nodes along the shorter side from which a surface serves. chosen: windows of 40
/// to 140 nodes are cut out of it.
const LEAST_SIDE: usize = 100;

impl MeasuredSurface {
    /// The height at a place of the unit square (clamped to it).
    #[must_use]
    pub fn at(&self, u: f64, v: f64) -> f64 {
        let along = |t: f64, n: usize| {
            let x = t.clamp(0.0, 1.0) * (n - 1) as f64;
            let i = (x as usize).min(n - 2);
            (i, x - i as f64)
        };
        let ((i, p), (j, q)) = (along(u, self.nx), along(v, self.ny));
        let h = |i: usize, j: usize| self.heights[j * self.nx + i];
        (h(i, j) * (1.0 - p) + h(i + 1, j) * p) * (1.0 - q)
            + (h(i, j + 1) * (1.0 - p) + h(i + 1, j + 1) * p) * q
    }

    fn new(name: &str, nx: usize, ny: usize, mut heights: Vec<f64>) -> Option<Self> {
        if nx < 2 || ny < 2 || heights.len() != nx * ny || heights.iter().any(|h| h.is_nan()) {
            return None;
        }
        // The plane, by moments: on a full grid x and y are orthogonal.
        let n = heights.len() as f64;
        let centre = |k: usize| {
            [
                (k % nx) as f64 - 0.5 * (nx - 1) as f64,
                (k / nx) as f64 - 0.5 * (ny - 1) as f64,
            ]
        };
        let mean = heights.iter().sum::<f64>() / n;
        let slope: Vec<f64> = (0..2)
            .map(|axis| {
                let (mut hx, mut xx) = (0.0, 0.0);
                for (k, h) in heights.iter().enumerate() {
                    let x = centre(k)[axis];
                    hx += x * (h - mean);
                    xx += x * x;
                }
                hx / xx
            })
            .collect();
        for (k, h) in heights.iter_mut().enumerate() {
            let c = centre(k);
            *h -= mean + slope[0] * c[0] + slope[1] * c[1];
        }
        let sd = (heights.iter().map(|h| h * h).sum::<f64>() / n).sqrt();
        if sd <= 0.0 {
            return None;
        }
        heights.iter_mut().for_each(|h| *h /= sd);
        Some(Self {
            name: name.to_owned(),
            nx,
            ny,
            heights,
        })
    }

    /// A window of the surface as a surface of its own.
    #[must_use]
    pub fn window(&self, i0: usize, j0: usize, nx: usize, ny: usize) -> Option<Self> {
        if i0 + nx > self.nx || j0 + ny > self.ny {
            return None;
        }
        let heights = (0..nx * ny)
            .map(|k| self.heights[(j0 + k / nx) * self.nx + i0 + k % nx])
            .collect();
        Self::new(&self.name, nx, ny, heights)
    }

    /// The surface turned about: left for right, back for front, high for low.
    #[must_use]
    pub fn mirrored(mut self, left: bool, back: bool, low: bool) -> Self {
        if back {
            self.heights.reverse();
        }
        // Reversing all of it has also put left for right.
        if left != back {
            self.heights.chunks_mut(self.nx).for_each(<[f64]>::reverse);
        }
        if low {
            self.heights.iter_mut().for_each(|h| *h = -*h);
        }
        self
    }

    /// Nodes along x and y.
    #[must_use]
    pub fn size(&self) -> (usize, usize) {
        (self.nx, self.ny)
    }
}

/// Measured surfaces without holes: two mountain reliefs and a worn contact scan;
/// empty where there are no shared data.
#[must_use]
pub fn measured_surfaces() -> Vec<MeasuredSurface> {
    [
        "dem_jacksboro_fault.csv",
        "dem_front_range_srtm.csv",
        "surface_19mm_scan.csv",
    ]
    .iter()
    .filter_map(|name| surface_file(&shared_data(&format!("I_interior/{name}"))?).ok()?)
    .collect()
}

/// Measured surfaces in the CSV files of a folder (rows of heights, `#` before
/// remarks), in order of name; files that are no full grid are left out.
///
/// # Errors
/// The folder or a file cannot be read, or no file holds a full grid of numbers.
pub fn surfaces_in(folder: &Path) -> io::Result<Vec<MeasuredSurface>> {
    let mut paths: Vec<_> = std::fs::read_dir(folder)?
        .map(|entry| Ok(entry?.path()))
        .collect::<io::Result<_>>()?;
    paths.retain(|path| path.extension().is_some_and(|e| e == "csv"));
    paths.sort();
    let mut surfaces = Vec::new();
    for path in &paths {
        surfaces.extend(surface_file(path)?);
    }
    if surfaces.is_empty() {
        return Err(io::Error::other(
            "no CSV file here holds a full grid of at least 100 by 100 heights",
        ));
    }
    Ok(surfaces)
}

fn surface_file(path: &Path) -> io::Result<Option<MeasuredSurface>> {
    let text = std::fs::read_to_string(path)?;
    let rows: Vec<Vec<f64>> = text
        .lines()
        .filter(|line| !line.starts_with('#'))
        .map(|line| {
            line.split(',')
                .map(|v| v.trim().parse().unwrap_or(f64::NAN))
                .collect()
        })
        .collect();
    let nx = rows.first().map_or(0, Vec::len);
    let name = path.file_name().unwrap_or_default().to_string_lossy();
    // Windows of up to 140 are cut out of it.
    if nx.min(rows.len()) < LEAST_SIDE {
        return Ok(None);
    }
    Ok(MeasuredSurface::new(&name, nx, rows.len(), rows.concat()))
}

/// One place of a measured layer: x, y, top and thickness, in metres.
pub type LayerRow = [f64; 4];

/// Drill holes through a real layer (rows of x, y, top, thickness, m); empty where
/// there are no shared data.
#[must_use]
pub fn measured_layers() -> Vec<LayerRow> {
    let Some(path) = shared_data("B_geostat/layer_top_thickness_base.csv") else {
        return Vec::new();
    };
    let Ok(text) = std::fs::read_to_string(path) else {
        return Vec::new();
    };
    let mut lines = text.lines();
    let head: Vec<&str> = lines.next().unwrap_or_default().split(',').collect();
    let column = |word: &str| head.iter().position(|h| h.to_lowercase().contains(word));
    let columns = (column("x"), column("y"), column("top"), column("thick"));
    let (Some(x), Some(y), Some(top), Some(thick)) = columns else {
        return Vec::new();
    };
    lines
        .filter_map(|line| {
            let cells: Vec<&str> = line.split(',').collect();
            let cell = |k: usize| cells.get(k)?.parse().ok();
            Some([cell(x)?, cell(y)?, cell(top)?, cell(thick)?])
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Each mirror maps the unit square's corners onto each other, and twice is nothing.
    #[test]
    fn mirrors_swap_the_corners() {
        let heights = vec![0.0, 3.0, 1.0, 2.0, 7.0, 5.0, 4.0, 9.0, 2.0];
        let surface = MeasuredSurface::new("made", 3, 3, heights).expect("a surface");
        let seen = |left, back, low| surface.clone().mirrored(left, back, low);
        let (u, v) = (0.2, 0.9);
        let near = |a: f64, b: f64| assert!((a - b).abs() < 1e-12, "{a} {b}");
        near(seen(true, false, false).at(u, v), surface.at(1.0 - u, v));
        near(seen(false, true, false).at(u, v), surface.at(u, 1.0 - v));
        near(
            seen(true, true, true).at(u, v),
            -surface.at(1.0 - u, 1.0 - v),
        );
        near(
            seen(true, true, true).mirrored(true, true, true).at(u, v),
            surface.at(u, v),
        );
    }
}
