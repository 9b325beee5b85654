//! Faces are turned so that all look outward.

use super::edges::{Edges, NONE, ends};

/// The connected parts of a mesh.
pub(super) struct Parts {
    /// Which part each face belongs to.
    pub part: Vec<u32>,
    /// How many parts.
    pub count: usize,
    /// Faces that were turned to agree with their part.
    pub turned: usize,
    /// Edges whose two faces cannot agree: the surface is one-sided there.
    pub one_sided: usize,
}

/// Turns faces by flood fill over edges that two faces share, so that within a
/// part neighbours agree. The side that most faces looked to before is kept.
pub(super) fn agree(faces: &mut [[u32; 3]], edges: &Edges) -> Parts {
    let mut part = vec![NONE; faces.len()];
    let mut flipped = vec![false; faces.len()];
    let mut parts = Parts {
        part: Vec::new(),
        count: 0,
        turned: 0,
        one_sided: 0,
    };
    let mut stack = Vec::new();
    let mut members = Vec::new();
    for seed in 0..faces.len() {
        if part[seed] != NONE {
            continue;
        }
        let this = parts.count as u32;
        parts.count += 1;
        members.clear();
        part[seed] = this;
        stack.push(seed as u32);
        while let Some(face) = stack.pop() {
            members.push(face);
            for half in 3 * face..3 * face + 3 {
                let twin = edges.twin[half as usize];
                if twin == NONE {
                    continue;
                }
                let other = (twin / 3) as usize;
                let same_way = ends(faces, half) == ends(faces, twin);
                let wanted = flipped[face as usize] != same_way;
                if part[other] == NONE {
                    part[other] = this;
                    flipped[other] = wanted;
                    stack.push(other as u32);
                } else if flipped[other] != wanted {
                    parts.one_sided += 1;
                }
            }
        }
        let n_flipped = members.iter().filter(|&&f| flipped[f as usize]).count();
        let minority = 2 * n_flipped > members.len();
        for &face in &members {
            flipped[face as usize] ^= minority;
            parts.turned += usize::from(flipped[face as usize]);
        }
    }
    for (face, _) in faces.iter_mut().zip(&flipped).filter(|(_, f)| **f) {
        face.swap(1, 2);
    }
    parts.one_sided /= 2;
    parts.part = part;
    parts
}
