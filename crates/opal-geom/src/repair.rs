//! A scan as it came becomes a closed solid, or is refused with the fault named.

mod close;
mod edges;
mod orient;
mod weld;

use crate::{TriMesh, layers, winding_number};
use thiserror::Error;

/// What a repair may do before it refuses.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RepairLimits {
    /// Vertices closer than this share of the mesh's diagonal become one.
    pub weld_share: f64,
    /// Largest share of the whole surface that lids over holes may make up.
    pub open_share_max: f64,
    /// Shortest longest side, mm.
    pub size_mm_min: f64,
    /// Longest longest side, mm.
    pub size_mm_max: f64,
    /// True for a format that writes every face's corners anew: joining equal
    /// corners is then no repair and gets no note.
    pub loose_corners: bool,
}

impl Default for RepairLimits {
    /// Chosen: 1e-5 of a 50 mm piece is half a micrometre, far below any
    /// scanner's error; 5 % of the surface as flat lids can hide about 1 % of
    /// the volume of a round body; pieces of rough run from a few millimetres to
    /// well below a metre, and a wrong unit misses that by 10 or more.
    fn default() -> Self {
        Self {
            weld_share: 1e-5,
            open_share_max: 0.05,
            size_mm_min: 1.0,
            size_mm_max: 1000.0,
            loose_corners: false,
        }
    }
}

/// A mesh made whole.
#[derive(Clone, Debug, PartialEq)]
pub struct Repaired {
    /// The mesh: welded, oriented outward, small holes closed.
    pub mesh: TriMesh,
    /// Every change, and every doubt left, in plain words. Empty for a clean scan.
    pub notes: Vec<String>,
    /// True when the surface has no open edge left.
    pub closed: bool,
    /// Share of the surface that was open and got a lid.
    pub open_share: f64,
    /// Volume, mm³.
    pub volume_mm3: f64,
    /// Edges at which more than two faces meet; the mesh touches itself there.
    pub crowded_edges: usize,
    /// True when the mesh was found to lie inside itself somewhere.
    pub overlaps: bool,
}

/// Why a mesh is refused.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum MeshFault {
    /// No faces.
    #[error("the scan holds no faces")]
    Empty,
    /// More faces than can be numbered.
    #[error("the scan holds {faces} faces; at most {max} can be handled")]
    TooManyFaces {
        /// How many.
        faces: usize,
        /// How many may be.
        max: usize,
    },
    /// Nothing left after dropping what is not a face.
    #[error(
        "none of the {faces} faces is usable: {not_finite} have a corner that is missing or not a number, {no_area} have no area"
    )]
    NoUsableFace {
        /// Faces that came in.
        faces: usize,
        /// Faces with corners that do not exist or are not finite.
        not_finite: usize,
        /// Faces without area.
        no_area: usize,
    },
    /// Size outside the limits.
    #[error("the longest side is {longest_mm} mm; {min_mm} to {max_mm} mm is expected: {question}")]
    AbsurdSize {
        /// Longest side, mm.
        longest_mm: f64,
        /// Shortest allowed, mm.
        min_mm: f64,
        /// Longest allowed, mm.
        max_mm: f64,
        /// What may be wrong, as a question.
        question: String,
    },
    /// Too much of the surface is missing.
    #[error("{:.1} % of the surface is open; at most {:.1} % can be closed without guessing: scan the missing side too, or give an outline with heights instead", open_share * 100.0, limit * 100.0)]
    TooOpen {
        /// Share that is open.
        open_share: f64,
        /// Share that may be.
        limit: f64,
    },
    /// The surface has no inside.
    #[error(
        "the surface turns over into itself at {edges} edges, so it has no inside and no volume: export the scan as one closed surface"
    )]
    OneSided {
        /// Edges whose faces cannot agree.
        edges: usize,
    },
    /// A heap of pieces rather than a stone.
    #[error(
        "the scan holds {parts} separate pieces, none of them dust; at most {max} are handled: delete what is not the stone and read it again"
    )]
    TooManyParts {
        /// Pieces larger than dust.
        parts: usize,
        /// How many may be.
        max: usize,
    },
    /// The surface encloses next to nothing.
    #[error(
        "the surface encloses {volume_mm3:.3} mm³, next to nothing for its size: it is a sheet, not a solid"
    )]
    NoVolume {
        /// Volume, mm³.
        volume_mm3: f64,
    },
}

/// Repairs a mesh within the usual limits.
///
/// # Errors
/// See [`repair_within`].
pub fn repair(mesh: TriMesh) -> Result<Repaired, MeshFault> {
    repair_within(mesh, &RepairLimits::default())
}

/// Repairs a mesh: drops what is no face, welds, drops repeated faces, makes
/// neighbours agree, turns all outward, closes small holes; every step that
/// changed anything leaves a note in plain words.
///
/// # Errors
/// Refused when empty or unusable, absurdly large or small, too open,
/// one-sided, or without volume.
pub fn repair_within(mesh: TriMesh, limits: &RepairLimits) -> Result<Repaired, MeshFault> {
    const MAX_FACES: usize = (u32::MAX / 4) as usize;
    if mesh.faces.is_empty() {
        return Err(MeshFault::Empty);
    }
    if mesh.faces.len() > MAX_FACES || mesh.vertices.len() > MAX_FACES {
        let faces = mesh.faces.len().max(mesh.vertices.len());
        return Err(MeshFault::TooManyFaces {
            faces,
            max: MAX_FACES,
        });
    }
    let mut notes = Vec::new();
    let mut mesh = whole_faces_welded(mesh, limits, &mut notes)?;

    let mut found = edges::edges(&mesh.faces, mesh.vertices.len());
    if !found.repeated.is_empty() {
        notes.push(format!(
            "{} repeated: left out.",
            plural(found.repeated.len(), "face was", "faces were")
        ));
        drop_faces(&mut mesh.faces, &found.repeated);
        found = edges::edges(&mesh.faces, mesh.vertices.len());
    }
    let parts = orient::agree(&mut mesh.faces, &found);
    if parts.one_sided > 0 {
        return Err(MeshFault::OneSided {
            edges: parts.one_sided,
        });
    }
    if parts.turned > 0 {
        notes.push(format!(
            "{} the wrong way: turned to agree with the neighbours.",
            plural(parts.turned, "face looked", "faces looked")
        ));
        found = edges::edges(&mesh.faces, mesh.vertices.len());
    }
    let crowded_edges = found.crowded;
    if crowded_edges > 0 {
        notes.push(format!(
            "More than two faces meet at {}: the surface touches itself there.",
            plural(crowded_edges, "edge", "edges")
        ));
    }

    let area = mesh.area_mm2();
    let mut part = parts.part;
    let mut left_open = 0;
    let mut open_share = 0.0;
    if !found.unanswered.is_empty() {
        let lids = close::lids(&mesh, &found.unanswered);
        open_share = lids.area_mm2 / (lids.area_mm2 + area);
        if open_share > limits.open_share_max || !open_share.is_finite() {
            return Err(MeshFault::TooOpen {
                open_share,
                limit: limits.open_share_max,
            });
        }
        left_open = lids.left_open;
        notes.push(format!(
            "{} closed with flat lids, {:.2} % of the surface, the widest {:.1} mm across.",
            plural(lids.holes, "hole was", "holes were"),
            open_share * 100.0,
            lids.widest_mm
        ));
        // A lid belongs to the part whose rim it closes.
        let mut part_at = vec![0_u32; mesh.vertices.len() + lids.vertices.len()];
        for (face, &p) in mesh.faces.iter().zip(&part) {
            for &k in face {
                part_at[k as usize] = p;
            }
        }
        part.extend(lids.faces.iter().map(|f| part_at[f[0] as usize]));
        mesh.vertices.extend(lids.vertices);
        mesh.faces.extend(lids.faces);
    }

    settle_parts(&mut mesh, &part, parts.count, &mut notes)?;
    let volume_mm3 = mesh.volume_mm3();
    let area = mesh.area_mm2();
    // A ball has the most volume for its area; a sheet has none of it.
    let most = area.powf(1.5) / (6.0 * std::f64::consts::PI.sqrt());
    if volume_mm3.is_nan() || volume_mm3 <= 1e-4 * most {
        return Err(MeshFault::NoVolume { volume_mm3 });
    }
    if left_open > 0 {
        notes.push(format!(
            "{} could not be closed: the volume is a little unsure.",
            plural(left_open, "edge", "edges")
        ));
    }
    let overlaps = note_overlap(&mesh, volume_mm3, &mut notes);
    Ok(Repaired {
        mesh,
        notes,
        closed: left_open == 0,
        open_share,
        volume_mm3,
        crowded_edges,
        overlaps,
    })
}

/// Drops faces without three good corners, checks the size, welds, drops faces
/// without area, and numbers the vertices anew.
fn whole_faces_welded(
    mesh: TriMesh,
    limits: &RepairLimits,
    notes: &mut Vec<String>,
) -> Result<TriMesh, MeshFault> {
    let TriMesh {
        vertices,
        mut faces,
    } = mesh;
    let n_in = faces.len();
    // Heights beyond this are no lengths of stones in any unit, and would
    // overflow when multiplied.
    let good: Vec<bool> = vertices
        .iter()
        .map(|p| p.iter().all(|x| x.abs() < 1e12))
        .collect();
    let has = |k: u32| good.get(k as usize).copied().unwrap_or(false);
    faces.retain(|face| face.iter().all(|&k| has(k)));
    let not_finite = n_in - faces.len();
    let mut used = vec![false; vertices.len()];
    for &k in faces.iter().flatten() {
        used[k as usize] = true;
    }
    let points = vertices
        .iter()
        .zip(&used)
        .filter(|(_, used)| **used)
        .map(|(p, _)| *p);
    let Some(bounds) = crate::Bounds::around(points) else {
        return Err(MeshFault::NoUsableFace {
            faces: n_in,
            not_finite,
            no_area: 0,
        });
    };
    let longest_mm = bounds.longest_mm();
    if longest_mm == 0.0 {
        return Err(MeshFault::NoUsableFace {
            faces: n_in,
            not_finite,
            no_area: faces.len(),
        });
    }
    check_size(longest_mm, limits)?;

    let first =
        weld::first_at_same_place(&vertices, &used, limits.weld_share * bounds.diagonal_mm());
    let welded = (0..vertices.len())
        .filter(|&k| {
            let same = first[k] as usize;
            let unequal = vertices[k] != vertices[same];
            used[k] && same != k && (unequal || !limits.loose_corners)
        })
        .count();
    let mut number = vec![u32::MAX; vertices.len()];
    let mut kept = Vec::new();
    for k in 0..vertices.len() {
        if used[k] && first[k] as usize == k {
            number[k] = kept.len() as u32;
            kept.push(vertices[k]);
        }
    }
    for k in faces.iter_mut().flatten() {
        *k = number[first[*k as usize] as usize];
    }
    let n_before = faces.len();
    faces.retain(|&[a, b, c]| a != b && b != c && c != a);
    let no_area = n_before - faces.len();
    if faces.is_empty() {
        return Err(MeshFault::NoUsableFace {
            faces: n_in,
            not_finite,
            no_area,
        });
    }
    if not_finite > 0 {
        notes.push(format!(
            "{} a corner that is missing or not a number: left out.",
            plural(not_finite, "face has", "faces have")
        ));
    }
    if welded > 0 {
        notes.push(format!(
            "{} in the same place as another: joined.",
            plural(welded, "corner stood", "corners stood")
        ));
    }
    if no_area > 0 {
        notes.push(format!(
            "{} no area: left out.",
            plural(no_area, "face has", "faces have")
        ));
    }
    Ok(TriMesh {
        vertices: kept,
        faces,
    })
}

fn check_size(longest_mm: f64, limits: &RepairLimits) -> Result<(), MeshFault> {
    let (min_mm, max_mm) = (limits.size_mm_min, limits.size_mm_max);
    if (min_mm..=max_mm).contains(&longest_mm) {
        return Ok(());
    }
    let guesses = [("metres", 1000.0), ("inches", 25.4), ("centimetres", 10.0)];
    let likely = |factor: f64| (5.0..=400.0).contains(&(longest_mm * factor));
    let question = guesses
        .into_iter()
        .map(|(name, factor)| {
            (
                name,
                if longest_mm < min_mm {
                    factor
                } else {
                    1.0 / factor
                },
            )
        })
        .find(|&(_, factor)| likely(factor))
        .map_or_else(
            || "is the unit right?".to_owned(),
            |(name, factor)| {
                let sense = if longest_mm < min_mm {
                    "is the file in"
                } else {
                    "was the file not in"
                };
                format!(
                    "{sense} {name}? Then the longest side would be {:.1} mm",
                    longest_mm * factor
                )
            },
        );
    Err(MeshFault::AbsurdSize {
        longest_mm,
        min_mm,
        max_mm,
        question,
    })
}

/// Turns every part outward; leaves out parts that lie inside another and
/// parts too small to matter; notes the rest.
fn settle_parts(
    mesh: &mut TriMesh,
    part: &[u32],
    count: usize,
    notes: &mut Vec<String>,
) -> Result<(), MeshFault> {
    let mean = mesh.mean_mm();
    let mut volume = vec![0.0; count];
    for (&face, &p) in mesh.faces.iter().zip(part) {
        let [a, b, c] = mesh.corners(face).map(|x| crate::mesh::sub(x, mean));
        volume[p as usize] += crate::mesh::dot(a, crate::mesh::cross(b, c)) / 6.0;
    }
    let inward = volume.iter().filter(|v| **v < 0.0).count();
    for (face, &p) in mesh.faces.iter_mut().zip(part) {
        if volume[p as usize] < 0.0 {
            face.swap(1, 2);
        }
    }
    if inward > 0 {
        notes.push(if count == 1 {
            "The whole surface looked inward: turned outward.".to_owned()
        } else {
            format!("{} of {count} parts looked inward: turned outward.", inward)
        });
    }
    if count == 1 {
        return Ok(());
    }
    let largest = volume.iter().fold(0.0, |a: f64, v| a.max(v.abs()));
    let parts = volume
        .iter()
        .filter(|v| v.abs() >= DUST_SHARE * largest)
        .count();
    if parts > PARTS_MAX {
        return Err(MeshFault::TooManyParts {
            parts,
            max: PARTS_MAX,
        });
    }
    keep_outer_parts(mesh, part, &volume, notes);
    Ok(())
}

/// Most parts above dust. Chosen: each is tested against the others face by face.
const PARTS_MAX: usize = 64;

/// A loose part smaller than this share of the largest is scanner dust. Chosen:
/// below what the scale could tell.
const DUST_SHARE: f64 = 0.001;

fn keep_outer_parts(mesh: &mut TriMesh, part: &[u32], volume: &[f64], notes: &mut Vec<String>) {
    let count = volume.len();
    let mut order: Vec<usize> = (0..count).collect();
    order.sort_by(|&a, &b| volume[b].abs().total_cmp(&volume[a].abs()).then(a.cmp(&b)));
    let largest = volume[order[0]].abs();
    let mut faces_of: Vec<Vec<[u32; 3]>> = vec![Vec::new(); count];
    for (&face, &p) in mesh.faces.iter().zip(part) {
        faces_of[p as usize].push(face);
    }
    let mut keep = vec![false; count];
    let mut kept: Vec<TriMesh> = Vec::new();
    let (mut dust, mut dust_volume, mut hollows, mut hollow_volume) = (0, 0.0, 0, 0.0);
    for &p in &order {
        let size = volume[p].abs();
        if size < DUST_SHARE * largest {
            dust += 1;
            dust_volume += size;
            continue;
        }
        let alone = only_used(&mesh.vertices, std::mem::take(&mut faces_of[p]));
        let probe = alone.vertices[0];
        if kept.iter().any(|outer| winding_number(outer, probe) > 0.5) && inside_all(&kept, &alone)
        {
            hollows += 1;
            hollow_volume += size;
            continue;
        }
        keep[p] = true;
        kept.push(alone);
    }
    let mut place = 0;
    mesh.faces.retain(|_| {
        place += 1;
        keep[part[place - 1] as usize]
    });
    *mesh = only_used(&mesh.vertices, std::mem::take(&mut mesh.faces));
    if dust > 0 {
        notes.push(format!(
            "{} ({dust_volume:.3} mm³ together) left out as scanner dust.",
            plural(dust, "loose part", "loose parts")
        ));
    }
    if hollows > 0 {
        notes.push(format!(
            "{} inside another ({hollow_volume:.1} mm³) left out: a scan of the outside cannot see a hollow.",
            plural(hollows, "closed part lies", "closed parts lie")
        ));
    }
    if kept.len() > 1 {
        notes.push(format!(
            "The scan holds {} separate pieces; they are counted together. If only one is the stone, delete the others and read it again.",
            kept.len()
        ));
    }
}

/// True when a few vertices spread over the part all lie inside one of the kept.
fn inside_all(kept: &[TriMesh], part: &TriMesh) -> bool {
    let step = (part.faces.len() / 8).max(1);
    kept.iter().any(|outer| {
        part.faces
            .iter()
            .step_by(step)
            .all(|face| winding_number(outer, part.vertices[face[0] as usize]) > 0.5)
    })
}

/// Looks along z on a coarse grid for places where the mesh lies inside itself.
fn note_overlap(mesh: &TriMesh, volume_mm3: f64, notes: &mut Vec<String>) -> bool {
    let Some(bounds) = mesh.bounds() else {
        return false;
    };
    let size = bounds.size_mm();
    let grid = bounds.grid(size[0].max(size[1]) / 160.0);
    let seen = layers(mesh, &grid);
    if seen.overlapping.is_empty() {
        return false;
    }
    let once = seen.filled_volume_mm3();
    notes.push(format!(
        "The surface passes through itself over {:.1} mm² seen from above; where it does, volume is counted twice (about {:.2} % of the whole).",
        seen.overlapping.len() as f64 * grid.cell_area_mm2(),
        (100.0 * (volume_mm3 - once) / volume_mm3).abs()
    ));
    true
}

/// The faces with only the vertices that they use, numbered anew in order.
fn only_used(vertices: &[[f64; 3]], mut faces: Vec<[u32; 3]>) -> TriMesh {
    let mut number = vec![u32::MAX; vertices.len()];
    for &k in faces.iter().flatten() {
        number[k as usize] = 0;
    }
    let mut kept = Vec::new();
    for (k, p) in vertices.iter().enumerate() {
        if number[k] == 0 {
            number[k] = kept.len() as u32;
            kept.push(*p);
        }
    }
    for k in faces.iter_mut().flatten() {
        *k = number[*k as usize];
    }
    TriMesh {
        vertices: kept,
        faces,
    }
}

fn drop_faces(faces: &mut Vec<[u32; 3]>, sorted: &[u32]) {
    let mut k = 0;
    faces.retain(|_| {
        k += 1;
        sorted.binary_search(&(k - 1)).is_err()
    });
}

fn plural(n: usize, one: &str, many: &str) -> String {
    format!("{n} {}", if n == 1 { one } else { many })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::solids::{cuboid, icosphere, torus};

    fn ball() -> TriMesh {
        icosphere(10.0, 4)
    }

    fn soup(mesh: &TriMesh) -> TriMesh {
        let vertices: Vec<_> = mesh.faces.iter().flat_map(|&f| mesh.corners(f)).collect();
        let faces = (0..mesh.faces.len() as u32)
            .map(|k| [3 * k, 3 * k + 1, 3 * k + 2])
            .collect();
        TriMesh { vertices, faces }
    }

    fn joined(mut a: TriMesh, b: &TriMesh) -> TriMesh {
        let shift = a.vertices.len() as u32;
        a.vertices.extend(&b.vertices);
        a.faces.extend(b.faces.iter().map(|f| f.map(|k| k + shift)));
        a
    }

    #[test]
    fn a_clean_mesh_comes_back_as_it_was_without_a_note() {
        for mesh in [
            ball(),
            cuboid([0.0; 3], [3.0, 4.0, 5.0]),
            torus(9.0, 3.0, 40, 20),
        ] {
            let done = repair(mesh.clone()).expect("clean");
            assert_eq!(done.notes, Vec::<String>::new());
            assert_eq!(done.mesh, mesh);
            assert!(done.closed && done.open_share == 0.0);
        }
    }

    #[test]
    fn loose_triangles_are_joined() {
        let done = repair(soup(&ball())).expect("only unjoined");
        assert!(done.closed);
        assert_eq!(done.mesh.vertices.len(), ball().vertices.len());
        assert!((done.volume_mm3 - ball().volume_mm3()).abs() < 1e-9);
        assert!(
            done.notes.len() == 1 && done.notes[0].contains("joined"),
            "{:?}",
            done.notes
        );
    }

    #[test]
    fn wrong_looking_faces_and_an_inward_surface_are_turned() {
        let mut mixed = ball();
        for face in mixed.faces.iter_mut().step_by(7) {
            face.swap(0, 1);
        }
        let done = repair(mixed).expect("can be oriented");
        assert!((done.volume_mm3 - ball().volume_mm3()).abs() < 1e-9);
        assert!(done.notes[0].contains("wrong way"));

        let mut inward = ball();
        inward.faces.iter_mut().for_each(|f| f.swap(0, 1));
        let done = repair(inward).expect("can be turned");
        assert!((done.volume_mm3 - ball().volume_mm3()).abs() < 1e-9);
        assert_eq!(
            done.notes,
            ["The whole surface looked inward: turned outward."]
        );
    }

    #[test]
    fn small_holes_get_lids_and_large_ones_a_refusal() {
        let mut holed = ball();
        holed.faces.remove(100);
        let mesh = holed.clone();
        holed
            .faces
            .retain(|f| f.iter().any(|&k| mesh.vertices[k as usize][2] < 9.6));
        let done = repair(holed).expect("small holes");
        assert!(done.closed && done.open_share > 0.0);
        assert!((done.volume_mm3 / ball().volume_mm3() - 1.0).abs() < 5e-3);
        assert!(
            done.notes[0].starts_with("2 holes were closed"),
            "{:?}",
            done.notes
        );

        let mut half = ball();
        half.faces
            .retain(|f| f.iter().all(|&k| mesh.vertices[k as usize][2] < 0.1));
        let refusal = repair(half).expect_err("a third is missing");
        let MeshFault::TooOpen { open_share, .. } = refusal else {
            unreachable!("{refusal}")
        };
        assert!((open_share - 1.0 / 3.0).abs() < 0.05);
    }

    #[test]
    fn nonsense_faces_are_left_out_and_told() {
        let mut mesh = ball();
        let n = mesh.vertices.len() as u32;
        mesh.vertices
            .extend([[f64::NAN, 0.0, 0.0], [f64::INFINITY; 3]]);
        mesh.faces.extend([
            [0, 1, n],
            [0, 1, n + 1],
            [0, 1, n + 7],
            [3, 3, 4],
            [0, 11, 5],
        ]);
        let repeated = mesh.faces[0];
        mesh.faces.push(repeated);
        let done = repair(mesh).expect("the rest is whole");
        assert!((done.volume_mm3 - ball().volume_mm3()).abs() < 1e-9);
        let all = done.notes.join("\n");
        assert!(
            all.contains("3 faces have a corner")
                && all.contains("1 face has no area")
                && all.contains("repeated"),
            "{all}"
        );
    }

    #[test]
    fn nothing_and_nonsense_are_refused() {
        assert_eq!(repair(TriMesh::default()), Err(MeshFault::Empty));
        let point = TriMesh {
            vertices: vec![[1.0; 3]; 3],
            faces: vec![[0, 1, 2]; 5],
        };
        assert!(matches!(
            repair(point),
            Err(MeshFault::NoUsableFace { no_area: 5, .. })
        ));
        let missing = TriMesh {
            vertices: vec![],
            faces: vec![[0, 1, 2]],
        };
        assert!(matches!(
            repair(missing),
            Err(MeshFault::NoUsableFace { not_finite: 1, .. })
        ));
        let nan = TriMesh {
            vertices: vec![[f64::NAN; 3]; 3],
            faces: vec![[0, 1, 2]],
        };
        assert!(matches!(repair(nan), Err(MeshFault::NoUsableFace { .. })));
        let sheet = cuboid([0.0; 3], [20.0, 20.0, 1e-6]);
        assert!(repair(sheet).is_err());
    }

    #[test]
    fn a_wrong_unit_is_refused_with_a_question() {
        let metres = repair(ball().scaled(0.001))
            .expect_err("0.02 mm")
            .to_string();
        assert!(
            metres.contains("is the file in metres? Then the longest side would be 20.0 mm"),
            "{metres}"
        );
        let micro = repair(ball().scaled(1000.0)).expect_err("20 m").to_string();
        assert!(micro.contains("was the file not in metres?"), "{micro}");
    }

    /// A strip with a half twist, closed up, has one side (Möbius).
    #[test]
    fn a_one_sided_surface_is_refused() {
        let n = 40_u32;
        let mut mesh = TriMesh::default();
        for i in 0..n {
            let u = std::f64::consts::TAU * f64::from(i) / f64::from(n);
            for s in [-3.0, 3.0] {
                let r = 10.0 + s * (u / 2.0).cos();
                mesh.vertices
                    .push([r * u.cos(), r * u.sin(), s * (u / 2.0).sin()]);
            }
            let (a, b) = (2 * i, 2 * i + 1);
            let (c, d) = if i + 1 == n { (1, 0) } else { (a + 2, b + 2) };
            mesh.faces.extend([[a, b, c], [b, d, c]]);
        }
        assert!(matches!(repair(mesh), Err(MeshFault::OneSided { .. })));
    }

    #[test]
    fn dust_hollows_and_second_pieces_are_told_apart() {
        let shift = |mesh: TriMesh, x: f64| {
            mesh.moved([1.0, 0.0, 0.0, 0.0, 1.0, 0.0, 0.0, 0.0, 1.0], [x, 0.0, 0.0])
        };
        let v = ball().volume_mm3();
        let dusty = joined(ball(), &shift(icosphere(0.1, 1), 15.0));
        let done = repair(dusty).expect("dust");
        assert!((done.volume_mm3 - v).abs() < 1e-9 && done.notes[0].contains("dust"));
        let mut inner = icosphere(4.0, 2);
        inner.faces.iter_mut().for_each(|f| f.swap(0, 1));
        let done = repair(joined(ball(), &inner)).expect("a shell inside");
        assert!((done.volume_mm3 - v).abs() < 1e-9, "{:?}", done.notes);
        assert!(done.notes.iter().any(|n| n.contains("hollow")));
        let done = repair(joined(ball(), &shift(icosphere(5.0, 3), 40.0))).expect("two pieces");
        assert!(done.volume_mm3 > v && done.notes[0].contains("2 separate pieces"));
        let done = repair(joined(ball(), &shift(ball(), 5.0))).expect("overlap");
        assert!(
            done.overlaps
                && done
                    .notes
                    .iter()
                    .any(|n| n.contains("passes through itself"))
        );
    }

    #[test]
    fn one_thread_or_many_give_the_same_mesh() {
        let run = |threads| {
            let pool = rayon::ThreadPoolBuilder::new()
                .num_threads(threads)
                .build()
                .expect("a pool");
            pool.install(|| repair(soup(&icosphere(10.0, 5))))
        };
        assert_eq!(run(1), run(4));
    }
}
