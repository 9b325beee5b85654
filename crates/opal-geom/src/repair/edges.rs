//! Which faces meet along which edge.

/// A face's edge `k` runs from its corner `k` to the next; as a half-edge it
/// has the number 3 · face + k.
pub(super) struct Edges {
    /// The half-edge on the other side, or `NONE` where not exactly two faces meet.
    pub twin: Vec<u32>,
    /// Edges at which more than two faces meet.
    pub crowded: usize,
    /// Faces that repeat the corners of an earlier face.
    pub repeated: Vec<u32>,
    /// Half-edges that no half-edge running the other way answers, once the
    /// faces are oriented.
    pub unanswered: Vec<u32>,
}

pub(super) const NONE: u32 = u32::MAX;

/// Start and end of a half-edge.
pub(super) fn ends(faces: &[[u32; 3]], half: u32) -> (u32, u32) {
    let face = faces[half as usize / 3];
    let k = half as usize % 3;
    (face[k], face[(k + 1) % 3])
}

fn opposite(faces: &[[u32; 3]], half: u32) -> u32 {
    faces[half as usize / 3][(half as usize + 2) % 3]
}

/// Sorts out who meets whom.
///
/// # Method
/// Half-edges are put in buckets by their lower end (counting sort), and each
/// bucket is ordered by the upper end: linear in the faces.
pub(super) fn edges(faces: &[[u32; 3]], n_vertices: usize) -> Edges {
    let n_half = faces.len() * 3;
    let mut start = vec![0_u32; n_vertices + 1];
    for half in 0..n_half as u32 {
        let (a, b) = ends(faces, half);
        start[a.min(b) as usize + 1] += 1;
    }
    for k in 0..n_vertices {
        start[k + 1] += start[k];
    }
    let mut next = start.clone();
    let mut order = vec![(0_u32, 0_u32); n_half];
    for half in 0..n_half as u32 {
        let (a, b) = ends(faces, half);
        let place = &mut next[a.min(b) as usize];
        order[*place as usize] = (a.max(b), half);
        *place += 1;
    }

    let mut result = Edges {
        twin: vec![NONE; n_half],
        crowded: 0,
        repeated: Vec::new(),
        unanswered: Vec::new(),
    };
    let mut third: Vec<(u32, u32)> = Vec::new();
    for vertex in 0..n_vertices {
        let bucket = &mut order[start[vertex] as usize..start[vertex + 1] as usize];
        bucket.sort_unstable();
        for group in bucket.chunk_by(|a, b| a.0 == b.0) {
            if let [(_, one), (_, other)] = *group {
                result.twin[one as usize] = other;
                result.twin[other as usize] = one;
            }
            result.crowded += usize::from(group.len() > 2);
            if group.len() > 1 {
                third.clear();
                third.extend(
                    group
                        .iter()
                        .map(|&(_, half)| (opposite(faces, half), half / 3)),
                );
                third.sort_unstable();
                for same in third.chunk_by(|a, b| a.0 == b.0) {
                    result
                        .repeated
                        .extend(same[1..].iter().map(|&(_, face)| face));
                }
            }
            let forward = |half: u32| ends(faces, half).0 == vertex as u32;
            let ahead = group.iter().filter(|&&(_, half)| forward(half)).count();
            let (more, fewer) = if 2 * ahead > group.len() {
                (true, group.len() - ahead)
            } else {
                (false, ahead)
            };
            if group.len() != 2 * fewer {
                let surplus = group
                    .iter()
                    .map(|&(_, half)| half)
                    .filter(|&half| forward(half) == more);
                result.unanswered.extend(surplus.skip(fewer));
            }
        }
    }
    result.repeated.sort_unstable();
    result.repeated.dedup();
    result.unanswered.sort_unstable();
    result
}
