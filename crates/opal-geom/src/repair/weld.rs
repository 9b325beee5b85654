//! Vertices that stand in the same place become one.

use rayon::prelude::*;

const NONE: u32 = u32::MAX;

/// For every vertex, the first vertex that stands within `tolerance_mm` of it
/// (itself where there is none); a vertex marked unused maps to itself.
///
/// # Method
/// Spatial hashing with cells eight tolerances wide, so that most look-ups touch
/// one cell and none can hold more than a few hundred vertices. Vertices are
/// taken in order, so the answer depends on nothing else.
pub(super) fn first_at_same_place(
    vertices: &[[f64; 3]],
    used: &[bool],
    tolerance_mm: f64,
) -> Vec<u32> {
    let cell_mm = 8.0 * tolerance_mm;
    let table_len = (vertices.len().max(8) * 2).next_power_of_two();
    let mask = table_len as u64 - 1;
    let slot = |cell: [i64; 3]| {
        let mut h = 0_u64;
        for x in cell {
            h = (h ^ x as u64).wrapping_mul(0x9e37_79b9_7f4a_7c15);
            h ^= h >> 29;
        }
        (h & mask) as usize
    };
    let cells: Vec<[i64; 3]> = vertices
        .par_iter()
        .map(|p| p.map(|x| (x / cell_mm).floor() as i64))
        .collect();
    let mut head = vec![NONE; table_len];
    let mut next = vec![NONE; vertices.len()];
    let mut first = Vec::with_capacity(vertices.len());
    for (k, &p) in vertices.iter().enumerate() {
        if !used[k] {
            first.push(k as u32);
            continue;
        }
        let own_cell = cells[k];
        let low = p.map(|x| ((x - tolerance_mm) / cell_mm).floor() as i64);
        let high = p.map(|x| ((x + tolerance_mm) / cell_mm).floor() as i64);
        let mut found = NONE;
        for cx in low[0]..=high[0] {
            for cy in low[1]..=high[1] {
                for cz in low[2]..=high[2] {
                    let mut other = head[slot([cx, cy, cz])];
                    while other != NONE {
                        let q = vertices[other as usize];
                        let apart = crate::mesh::norm(crate::mesh::sub(p, q));
                        if apart <= tolerance_mm {
                            found = found.min(other);
                        }
                        other = next[other as usize];
                    }
                }
            }
        }
        if found == NONE {
            let place = slot(own_cell);
            next[k] = head[place];
            head[place] = k as u32;
            first.push(k as u32);
        } else {
            first.push(found);
        }
    }
    first
}
