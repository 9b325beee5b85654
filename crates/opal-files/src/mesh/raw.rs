//! What a mesh file holds before anything is repaired, and what is wrong in it.

use opal_evidence::{Fault, Faults};
use std::fmt::Display;

/// Numbers as they stand in the file, polygons already cut into triangles.
#[derive(Debug, Default)]
pub(super) struct RawMesh {
    pub(super) vertices: Vec<[f64; 3]>,
    pub(super) faces: Vec<[u32; 3]>,
    pub(super) notes: Vec<String>,
}

/// Most faces read. Chosen: ten times the finest scan that the rest is measured
/// on; more would only fill the memory.
pub(super) const FACES_MAX: usize = 10_000_000;

/// Most corners read: three for each face.
pub(super) const VERTICES_MAX: usize = 3 * FACES_MAX;

/// An index that stands for 'no such vertex'; the repair leaves such faces out.
pub(super) const NO_VERTEX: u32 = u32::MAX;

impl RawMesh {
    /// Adds a polygon as a fan about its first corner; fewer than three corners
    /// make no face, and are told by `false`.
    pub(super) fn push_polygon(&mut self, corners: &[u32]) -> bool {
        for pair in corners.windows(2).skip(1) {
            if self.faces.len() > FACES_MAX {
                break;
            }
            self.faces.push([corners[0], pair[0], pair[1]]);
        }
        corners.len() >= 3
    }

    /// True when it is larger than is read.
    pub(super) fn too_large(&self) -> bool {
        self.faces.len() > FACES_MAX || self.vertices.len() > VERTICES_MAX
    }
}

/// What a fault says of a mesh that is too large.
pub(super) const TOO_LARGE: &str =
    "at most 10 million faces and 30 million corners are read: export the scan with fewer faces";

/// Faults of one file, gathered until there are enough to show.
pub(super) struct Complaints<'a> {
    file: &'a str,
    list: Vec<Fault>,
}

/// Faults shown at most: a file that is wrong in every line needs no more.
const SHOWN: usize = 20;

impl<'a> Complaints<'a> {
    pub(super) fn new(file: &'a str) -> Self {
        Self {
            file,
            list: Vec::new(),
        }
    }

    /// Adds a fault; true when there are enough and reading should stop.
    pub(super) fn add(
        &mut self,
        line: Option<usize>,
        field: &str,
        value: impl Display,
        limit: &str,
    ) -> bool {
        self.list.push(Fault {
            file: Some(self.file.to_owned()),
            line: line.and_then(|l| u32::try_from(l).ok()),
            field: field.to_owned(),
            value: value.to_string(),
            limit: limit.to_owned(),
            place: None,
        });
        self.list.len() >= SHOWN
    }

    /// True when nothing was wrong so far.
    pub(super) fn is_empty(&self) -> bool {
        self.list.is_empty()
    }

    /// The mesh when nothing was wrong.
    pub(super) fn or(self, mesh: RawMesh) -> Result<RawMesh, Faults> {
        if self.list.is_empty() {
            Ok(mesh)
        } else {
            Err(Faults(self.list))
        }
    }

    /// Refuses with one more fault.
    pub(super) fn refuse<T>(
        mut self,
        line: Option<usize>,
        field: &str,
        value: impl Display,
        limit: &str,
    ) -> Result<T, Faults> {
        self.add(line, field, value, limit);
        Err(Faults(self.list))
    }
}

/// The words of a line, as text; `None` where one is not text.
pub(super) fn words(line: &[u8]) -> impl Iterator<Item = &str> {
    line.split(u8::is_ascii_whitespace)
        .filter(|w| !w.is_empty())
        .map(|w| std::str::from_utf8(w).unwrap_or("\u{fffd}"))
}

/// A piece of a line short enough to show in a fault.
pub(super) fn shown(line: &[u8]) -> String {
    let text: String = String::from_utf8_lossy(&line[..line.len().min(160)])
        .chars()
        .map(|c| if c.is_control() { ' ' } else { c })
        .take(40)
        .collect();
    format!("'{}'", text.trim())
}

/// Lines with their numbers from 1, without their ends.
pub(super) fn lines(bytes: &[u8]) -> impl Iterator<Item = (usize, &[u8])> {
    bytes
        .split(|&b| b == b'\n')
        .map(|line| line.strip_suffix(b"\r").unwrap_or(line))
        .enumerate()
        .map(|(k, line)| (k + 1, line))
}
