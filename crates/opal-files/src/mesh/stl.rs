//! STL, binary and text. The format gives every face its own corners.

use super::raw::{Complaints, FACES_MAX, RawMesh, TOO_LARGE, lines, shown, words};
use opal_evidence::Faults;

const HEAD: usize = 84;
const RECORD: usize = 50;

/// How many faces a binary head announces; `None` when there is no whole head.
pub(super) fn announced(bytes: &[u8]) -> Option<usize> {
    let count = bytes.get(80..HEAD)?.try_into().ok()?;
    usize::try_from(u32::from_le_bytes(count)).ok()
}

/// True when the length is exactly what a binary head announces, which settles
/// the question even where the head begins with `solid`.
pub(super) fn fits_binary(bytes: &[u8]) -> bool {
    announced(bytes)
        .is_some_and(|n| n > 0 && (bytes.len() - HEAD) as u64 == n as u64 * RECORD as u64)
}

/// True when it begins as the text form does and soon names a facet or the end.
pub(super) fn looks_like_text(bytes: &[u8]) -> bool {
    let start = bytes.trim_ascii_start();
    let near = &start[..start.len().min(2048)];
    let has = |word: &[u8]| {
        near.windows(word.len())
            .any(|w| w.eq_ignore_ascii_case(word))
    };
    near.len() >= 5
        && near[..5].eq_ignore_ascii_case(b"solid")
        && (has(b"facet") || has(b"endsolid"))
}

/// Reads the binary form.
pub(super) fn read_binary(bytes: &[u8], file: &str) -> Result<RawMesh, Faults> {
    let wrong = Complaints::new(file);
    let Some(count) = announced(bytes) else {
        let found = format!("{} bytes long", bytes.len());
        return wrong.refuse(
            None,
            "file",
            found,
            "a binary STL file has a head of 84 bytes",
        );
    };
    let body = &bytes[HEAD..];
    let room = body.len() / RECORD;
    if count == 0 {
        return wrong.refuse(None, "number of faces", 0, "at least 4 make a solid");
    }
    if count > room {
        return wrong.refuse(
            None,
            "number of faces",
            count,
            &format!("the file has room for {room}: it is cut short, or no STL file"),
        );
    }
    if count > FACES_MAX {
        return wrong.refuse(None, "number of faces", count, TOO_LARGE);
    }
    let mut mesh = RawMesh {
        vertices: Vec::with_capacity(3 * count),
        faces: Vec::with_capacity(count),
        notes: Vec::new(),
    };
    let number = |at: &[u8]| f64::from(f32::from_le_bytes([at[0], at[1], at[2], at[3]]));
    for record in body.chunks_exact(RECORD).take(count) {
        let first = mesh.vertices.len() as u32;
        for at in record[12..48].chunks_exact(12) {
            mesh.vertices
                .push([number(at), number(&at[4..]), number(&at[8..])]);
        }
        mesh.faces.push([first, first + 1, first + 2]);
    }
    let left = body.len() - count * RECORD;
    if left > 0 {
        mesh.notes.push(format!(
            "{left} bytes after the last face were passed over."
        ));
    }
    Ok(mesh)
}

/// Reads the text form.
pub(super) fn read_text(bytes: &[u8], file: &str) -> Result<RawMesh, Faults> {
    let mut mesh = RawMesh::default();
    let mut wrong = Complaints::new(file);
    let mut corners = 0_u32;
    let mut ended = false;
    let mut last_line = 0;
    for (number, line) in lines(bytes) {
        last_line = number;
        let mut words = words(line);
        let word = words.next().unwrap_or("");
        let enough = if word.eq_ignore_ascii_case("vertex") {
            let mut next = || words.next().and_then(|w| w.parse::<f64>().ok());
            if let (Some(x), Some(y), Some(z)) = (next(), next(), next()) {
                mesh.vertices.push([x, y, z]);
                corners += 1;
                false
            } else {
                wrong.add(
                    Some(number),
                    "vertex",
                    shown(line),
                    "three numbers are needed",
                )
            }
        } else if word.eq_ignore_ascii_case("endloop") || word.eq_ignore_ascii_case("endfacet") {
            let whole = corners == 3;
            let nothing = corners == 0 && word.eq_ignore_ascii_case("endfacet");
            if whole {
                let first = mesh.vertices.len() as u32 - 3;
                mesh.faces.push([first, first + 1, first + 2]);
            }
            let found = std::mem::take(&mut corners);
            !whole
                && !nothing
                && wrong.add(
                    Some(number),
                    "corners of a facet",
                    found,
                    "exactly 3 are needed",
                )
        } else {
            ended |= word.eq_ignore_ascii_case("endsolid");
            false
        };
        if enough || mesh.too_large() {
            return wrong.or(mesh);
        }
    }
    if !ended || corners > 0 {
        wrong.add(
            Some(last_line),
            "end of the file",
            "missing",
            "a text STL file ends with endsolid: it is cut short",
        );
    }
    if mesh.faces.is_empty() {
        wrong.add(None, "number of faces", 0, "at least 4 make a solid");
    }
    wrong.or(mesh)
}
