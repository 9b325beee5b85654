//! Scans in and out: PLY, OBJ and STL.

mod obj;
mod ply;
mod ply_header;
mod raw;
mod stl;
mod unit;
mod write;

use opal_evidence::{Fault, Faults};
use opal_geom::{MeshFault, RepairLimits, Repaired, TriMesh, repair_within};
use raw::Complaints;
use std::fmt;

pub use unit::{MeshUnit, UnknownUnit};
pub use write::{ply_bytes, stl_bytes};

/// Longest file read. Chosen: ten million faces as binary STL.
pub const MESH_BYTES_MAX: usize = 512 * 1024 * 1024;

/// What kind of mesh file it is, told by what stands in it.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum MeshFormat {
    /// PLY, text or binary.
    Ply,
    /// OBJ.
    Obj,
    /// STL, text.
    StlText,
    /// STL, binary.
    StlBinary,
}

impl fmt::Display for MeshFormat {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Ply => "PLY",
            Self::Obj => "OBJ",
            Self::StlText | Self::StlBinary => "STL",
        })
    }
}

/// A mesh as its file gives it, in mm, nothing repaired yet.
#[derive(Clone, Debug, PartialEq)]
pub struct ReadMesh {
    /// The mesh; faces may name corners that do not exist.
    pub mesh: TriMesh,
    /// What kind of file it was.
    pub format: MeshFormat,
    /// What was passed over while reading, in plain words.
    pub notes: Vec<String>,
}

/// Reads a mesh from the bytes of a file. The kind is told by what stands in
/// them; a name that says otherwise is noted.
///
/// # Errors
/// All that is wrong with the file, with line, field, value and limit: cut
/// short, counts that the file has no room for, no faces, no mesh at all.
pub fn read_mesh(bytes: &[u8], file: &str, unit: MeshUnit) -> Result<ReadMesh, Faults> {
    let wrong = Complaints::new(file);
    if bytes.is_empty() {
        return wrong.refuse(None, "file", "empty", "a PLY, OBJ or STL mesh is needed");
    }
    if bytes.len() > MESH_BYTES_MAX {
        let limit =
            format!("at most {MESH_BYTES_MAX} bytes are read: export the scan with fewer faces");
        return wrong.refuse(None, "file", format!("{} bytes long", bytes.len()), &limit);
    }
    let extension = file
        .rsplit_once('.')
        .map(|(_, e)| e.to_ascii_lowercase())
        .unwrap_or_default();
    let Some(format) = format_of(bytes, &extension) else {
        return wrong.refuse(
            None,
            "file",
            format!(
                "no mesh: it begins with {}",
                raw::shown(&bytes[..bytes.len().min(24)])
            ),
            "a PLY, OBJ or STL mesh is needed",
        );
    };
    let mut raw = match format {
        MeshFormat::Ply => ply::read(bytes, file)?,
        MeshFormat::Obj => obj::read(bytes, file)?,
        MeshFormat::StlText => stl::read_text(bytes, file)?,
        MeshFormat::StlBinary => stl::read_binary(bytes, file)?,
    };
    if raw.too_large() {
        let found = format!("{} faces, {} corners", raw.faces.len(), raw.vertices.len());
        return wrong.refuse(None, "mesh", found, raw::TOO_LARGE);
    }
    if !extension.is_empty() && extension != format.to_string().to_ascii_lowercase() {
        raw.notes.insert(
            0,
            format!("The file is named .{extension} but holds {format}: read as {format}."),
        );
    }
    let factor = unit.in_mm();
    if factor != 1.0 {
        for x in raw.vertices.iter_mut().flatten() {
            *x *= factor;
        }
    }
    Ok(ReadMesh {
        mesh: TriMesh {
            vertices: raw.vertices,
            faces: raw.faces,
        },
        format,
        notes: raw.notes,
    })
}

/// Reads a scan and makes it whole: [`read_mesh`], then the repair of
/// `opal-geom` within the usual limits. The notes of both stand together.
///
/// # Errors
/// As [`read_mesh`], and every reason for which a repair refuses.
pub fn read_scan(bytes: &[u8], file: &str, unit: MeshUnit) -> Result<Repaired, Faults> {
    let read = read_mesh(bytes, file, unit)?;
    let limits = RepairLimits {
        loose_corners: matches!(read.format, MeshFormat::StlText | MeshFormat::StlBinary),
        ..RepairLimits::default()
    };
    let mut whole = repair_within(read.mesh, &limits).map_err(|fault| as_faults(&fault, file))?;
    let longest_mm = whole.mesh.bounds().map_or(0.0, |b| b.longest_mm());
    if !USUAL_MM.contains(&longest_mm) {
        whole.notes.insert(
            0,
            format!("With lengths read as {unit} the longest side is {longest_mm:.1} mm. Is that the stone on the bench?"),
        );
    }
    whole.notes.splice(0..0, read.notes);
    Ok(whole)
}

/// Longest sides for which nobody asks whether the unit is right. Chosen: from
/// a chip to a piece that still fits a hand saw.
const USUAL_MM: std::ops::RangeInclusive<f64> = 5.0..=250.0;

fn format_of(bytes: &[u8], extension: &str) -> Option<MeshFormat> {
    let first_line = raw::lines(&bytes[..bytes.len().min(64)])
        .next()
        .map(|(_, l)| l.trim_ascii());
    if first_line == Some(b"ply") {
        return Some(MeshFormat::Ply);
    }
    if stl::fits_binary(bytes) {
        return Some(MeshFormat::StlBinary);
    }
    if stl::looks_like_text(bytes) {
        return Some(MeshFormat::StlText);
    }
    if looks_like_obj(bytes) {
        return Some(MeshFormat::Obj);
    }
    // Too broken to be told by itself: the name says what it was meant to be.
    match extension {
        "stl" => Some(MeshFormat::StlBinary),
        "obj" => Some(MeshFormat::Obj),
        _ => None,
    }
}

/// A `v` or `f` line within the first lines, and no byte 0.
fn looks_like_obj(bytes: &[u8]) -> bool {
    let start = &bytes[..bytes.len().min(64 * 1024)];
    !start.contains(&0)
        && raw::lines(start).any(|(_, l)| l.starts_with(b"v ") || l.starts_with(b"f "))
}

fn as_faults(fault: &MeshFault, file: &str) -> Faults {
    let (field, value, limit) = match fault {
        MeshFault::Empty => ("number of faces", "0".to_owned(), "at least 4 make a solid".to_owned()),
        MeshFault::TooManyFaces { faces, max } => {
            ("number of faces or corners", faces.to_string(), format!("at most {max} can be handled"))
        }
        MeshFault::NoUsableFace { faces, not_finite, no_area } => (
            "number of usable faces",
            "0".to_owned(),
            format!("of {faces} faces {not_finite} have a corner that is missing or not a number and {no_area} have no area"),
        ),
        MeshFault::AbsurdSize { longest_mm, min_mm, max_mm, question } => (
            "longest side",
            format!("{longest_mm:.4} mm"),
            format!("{min_mm} to {max_mm} mm is expected: {question}"),
        ),
        MeshFault::TooOpen { open_share, limit } => (
            "open part of the surface",
            format!("{:.1} %", open_share * 100.0),
            format!("at most {:.1} % can be closed without guessing: scan the missing side too, or give an outline with heights instead", limit * 100.0),
        ),
        MeshFault::OneSided { edges } => (
            "number of edges where the surface turns over",
            edges.to_string(),
            "a surface that turns over into itself has no inside: export the scan as one closed surface".to_owned(),
        ),
        MeshFault::TooManyParts { parts, max } => (
            "number of separate pieces",
            parts.to_string(),
            format!("at most {max} are handled: delete what is not the stone and read it again"),
        ),
        MeshFault::NoVolume { volume_mm3 } => (
            "volume",
            format!("{volume_mm3:.3} mm³"),
            "next to nothing for its size: it is a sheet, not a solid".to_owned(),
        ),
    };
    Fault {
        file: Some(file.to_owned()),
        ..Fault::new(field, value, limit)
    }
    .into()
}
