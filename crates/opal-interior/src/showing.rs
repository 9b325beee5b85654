//! Where a bar of some height meets the skin: the places that a quick look sees.

use opal_stone::Stone;

/// The line along which a level plane leaves the stone, as places spread evenly
/// over directions from the middle of the cut; empty when it misses the stone.
pub(crate) fn showing_edge(stone: &Stone, height_mm: f64, places: usize) -> Vec<[f64; 2]> {
    let grid = &stone.grid;
    let cut: Vec<[f64; 2]> = (0..grid.len())
        .filter(|&k| {
            f64::from(stone.bottom_mm[k]) <= height_mm && height_mm <= f64::from(stone.top_mm[k])
        })
        .map(|k| grid.at_index(k))
        .collect();
    if cut.is_empty() {
        return Vec::new();
    }
    let mean = |axis: usize| cut.iter().map(|p| p[axis]).sum::<f64>() / cut.len() as f64;
    let centre = [mean(0), mean(1)];
    // Farthest cut node in each sector.
    let mut farthest: Vec<Option<(f64, [f64; 2])>> = vec![None; places];
    for p in cut {
        let (dx, dy) = (p[0] - centre[0], p[1] - centre[1]);
        let turn = dy.atan2(dx) / std::f64::consts::TAU + 0.5;
        let sector = ((turn * places as f64) as usize).min(places - 1);
        let reach = dx.hypot(dy);
        if farthest[sector].is_none_or(|(r, _)| reach > r) {
            farthest[sector] = Some((reach, p));
        }
    }
    farthest.into_iter().flatten().map(|(_, p)| p).collect()
}

/// The height at which a level cut is largest, mm: where an edge lies when
/// nothing is known of the bar.
pub(crate) fn middle_height_mm(stone: &Stone) -> f64 {
    let (low, high) = stone.height_range_mm();
    0.5 * (low + high)
}
