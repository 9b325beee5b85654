//! How far is each node of a mask from the nearest node outside it?

/// Squared distance, in cells, from each node of the mask to the nearest node
/// that is not in it; 0 outside the mask. Everything beyond the grid counts as
/// outside.
///
/// # Method
/// Exact, by the lower envelope of parabolas, rows then columns:
/// Felzenszwalb & Huttenlocher (2012), Theory of Computing 8: 415–428. O(nodes).
///
/// # Units
/// Cells squared; multiply by the square of the grid's cell.
#[must_use]
pub fn squared_distance_inside(mask: &[bool], nx: usize, ny: usize) -> Vec<f64> {
    // A frame of outside nodes makes the edge of the grid an edge of the mask.
    let (wide, high) = (nx + 2, ny + 2);
    let mut field = vec![0.0; wide * high];
    for j in 0..ny {
        for i in 0..nx {
            if mask[j * nx + i] {
                field[(j + 1) * wide + i + 1] = FAR;
            }
        }
    }
    transform(&mut field, wide, high);
    let mut inside = Vec::with_capacity(nx * ny);
    for j in 0..ny {
        inside.extend_from_slice(&field[(j + 1) * wide + 1..(j + 1) * wide + 1 + nx]);
    }
    inside
}

/// Squared distance, in cells, from each node to the nearest node of the mask;
/// 0 in it, infinite where the mask is empty.
#[must_use]
pub fn squared_distance_to(mask: &[bool], nx: usize, ny: usize) -> Vec<f64> {
    let mut field: Vec<f64> = mask
        .iter()
        .map(|&inside| if inside { 0.0 } else { FAR })
        .collect();
    transform(&mut field, nx, ny);
    for value in &mut field {
        if *value >= FAR / 2.0 {
            *value = f64::INFINITY;
        }
    }
    field
}

/// What is left of a mask when every place that a disc of `radius_cells` cannot
/// reach is taken away: erosion, then dilation by the disc.
#[must_use]
pub fn opened_by_disc(mask: &[bool], nx: usize, ny: usize, radius_cells: f64) -> Vec<bool> {
    let eroded: Vec<bool> = squared_distance_inside(mask, nx, ny)
        .iter()
        .map(|&d2| d2 > radius_cells * radius_cells)
        .collect();
    // A node speaks for half a cell around it, hence the half; straight sides
    // come back exactly, and the mask is never left.
    let limit = (radius_cells + 0.5) * (radius_cells + 0.5);
    squared_distance_to(&eroded, nx, ny)
        .iter()
        .zip(mask)
        .map(|(&d2, &inside)| inside && d2 <= limit)
        .collect()
}

/// Larger than any squared distance on a grid that fits in memory, and small
/// enough that the parabolas' crossings keep their digits.
const FAR: f64 = 1e12;

fn transform(field: &mut [f64], nx: usize, ny: usize) {
    let longest = nx.max(ny);
    let mut line = vec![0.0; longest];
    let mut envelope = Envelope::new(longest);
    for j in 0..ny {
        line[..nx].copy_from_slice(&field[j * nx..(j + 1) * nx]);
        envelope.lower(&line[..nx], |i, value| field[j * nx + i] = value);
    }
    for i in 0..nx {
        for j in 0..ny {
            line[j] = field[j * nx + i];
        }
        envelope.lower(&line[..ny], |j, value| field[j * nx + i] = value);
    }
}

/// The lower envelope of parabolas rooted at the samples of one line.
struct Envelope {
    root: Vec<usize>,
    from: Vec<f64>,
}

impl Envelope {
    fn new(longest: usize) -> Self {
        Self {
            root: vec![0; longest],
            from: vec![0.0; longest + 1],
        }
    }

    fn lower(&mut self, line: &[f64], mut put: impl FnMut(usize, f64)) {
        let mut last = 0;
        self.root[0] = 0;
        self.from[0] = f64::NEG_INFINITY;
        self.from[1] = f64::INFINITY;
        for q in 1..line.len() {
            let mut crossing;
            loop {
                let p = self.root[last];
                let (qf, pf) = (q as f64, p as f64);
                crossing = ((line[q] + qf * qf) - (line[p] + pf * pf)) / (2.0 * (qf - pf));
                if crossing > self.from[last] || last == 0 {
                    break;
                }
                last -= 1;
            }
            if crossing > self.from[last] {
                last += 1;
                self.root[last] = q;
                self.from[last] = crossing;
            } else {
                self.root[last] = q;
            }
            self.from[last + 1] = f64::INFINITY;
        }
        let mut k = 0;
        for q in 0..line.len() {
            while self.from[k + 1] < q as f64 {
                k += 1;
            }
            let step = q as f64 - self.root[k] as f64;
            put(q, (step * step + line[self.root[k]]).min(FAR));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Against the definition, by brute force, on a mask of no pattern.
    #[test]
    fn equals_brute_force() {
        let (nx, ny) = (23, 17);
        let mask: Vec<bool> = (0..nx * ny).map(|k| (k * 7919 + 13) % 11 != 0).collect();
        let fast = squared_distance_inside(&mask, nx, ny);
        for j in 0..ny {
            for i in 0..nx {
                let mut best = f64::INFINITY;
                for b in -1..=ny as i64 {
                    for a in -1..=nx as i64 {
                        let beyond = a < 0 || b < 0 || a >= nx as i64 || b >= ny as i64;
                        if beyond || !mask[b as usize * nx + a as usize] {
                            let d2 = (a - i as i64).pow(2) + (b - j as i64).pow(2);
                            best = best.min(d2 as f64);
                        }
                    }
                }
                assert_eq!(fast[j * nx + i], best, "({i}, {j})");
            }
        }
    }

    #[test]
    fn an_empty_mask_is_infinitely_far() {
        assert!(
            squared_distance_to(&[false; 12], 4, 3)
                .iter()
                .all(|d| d.is_infinite())
        );
    }

    /// A 20 × 10 rectangle opened by a disc of radius 3 keeps
    /// 200 − (4 − π)·9 = 192.274334 (closed form: four corners lose a square
    /// less a quarter disc each).
    #[test]
    fn an_opened_rectangle_keeps_its_area() {
        let cell = 0.05;
        let (nx, ny) = (500, 300);
        let mask: Vec<bool> = (0..nx * ny)
            .map(|k| {
                let x = (k % nx) as f64 * cell - 2.5 + cell / 2.0;
                let y = (k / nx) as f64 * cell - 2.5 + cell / 2.0;
                (0.0..20.0).contains(&x) && (0.0..10.0).contains(&y)
            })
            .collect();
        let area = opened_by_disc(&mask, nx, ny, 3.0 / cell)
            .iter()
            .filter(|&&m| m)
            .count() as f64
            * cell
            * cell;
        assert!((area - 192.274_334).abs() < 0.4, "{area}");
    }
}
