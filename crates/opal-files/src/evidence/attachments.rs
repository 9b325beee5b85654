//! The files that an evidence file names.

use std::io::Read;
use std::path::{Component, Path, PathBuf};

/// Largest scan that is read, bytes. Chosen: because a million triangles as
/// ASCII text stay below it, and a small computer can hold it.
const MOST_BYTES: u64 = 512 * 1024 * 1024;

/// Where the files that an evidence file names come from: a folder, an upload,
/// a store.
pub trait Attachments {
    /// The bytes of a file by its name. The name is already known to be
    /// relative and to stay inside.
    ///
    /// # Errors
    /// In plain words: why there are none.
    fn bytes(&self, name: &str) -> Result<Vec<u8>, String>;
}

/// No files: for evidence without a scan.
#[derive(Clone, Copy, Debug, Default)]
pub struct NoAttachments;

impl Attachments for NoAttachments {
    fn bytes(&self, _name: &str) -> Result<Vec<u8>, String> {
        Err("no file of this name came along".to_owned())
    }
}

/// The files in one folder and below.
#[derive(Clone, Debug)]
pub struct Folder(PathBuf);

impl Folder {
    /// The files in this folder.
    #[must_use]
    pub fn new(path: impl Into<PathBuf>) -> Self {
        Self(path.into())
    }
}

impl Attachments for Folder {
    fn bytes(&self, name: &str) -> Result<Vec<u8>, String> {
        let root = self.0.canonicalize().map_err(|e| e.to_string())?;
        let path = root.join(name);
        // A link may lead out of the folder although the name does not.
        let path = path
            .canonicalize()
            .map_err(|_| format!("there is no such file in {}", self.0.display()))?;
        if !path.starts_with(&root) {
            return Err("it leads out of the folder of the evidence file".to_owned());
        }
        bounded(&path, MOST_BYTES)
    }
}

/// Reads a file up to a bound.
pub(crate) fn bounded(path: &Path, most: u64) -> Result<Vec<u8>, String> {
    let file = std::fs::File::open(path).map_err(|e| e.to_string())?;
    let mut bytes = Vec::new();
    file.take(most + 1)
        .read_to_end(&mut bytes)
        .map_err(|e| e.to_string())?;
    if bytes.len() as u64 > most {
        return Err(format!("it is larger than {} MiB", most / 1024 / 1024));
    }
    Ok(bytes)
}

/// Why a name must not be opened, or `None` when it is fine.
pub(crate) fn unsafe_name(name: &str) -> Option<&'static str> {
    if name.contains(['\\', ':', '\0']) {
        return Some("must be a plain name with forward slashes");
    }
    let inside = Path::new(name)
        .components()
        .all(|part| matches!(part, Component::Normal(_) | Component::CurDir));
    (!inside).then_some("must lie beside or below the evidence file (no '..', no leading '/')")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_stay_inside() {
        for name in ["rough.ply", "scans/rough.ply", "./a.stl"] {
            assert_eq!(unsafe_name(name), None, "{name}");
        }
        for name in ["/etc/passwd", "../a.ply", "a/../../b", "C:\\a.ply", "a\0b"] {
            assert!(unsafe_name(name).is_some(), "{name}");
        }
    }

    #[test]
    fn a_link_out_of_the_folder_is_not_followed() {
        let outer = tempfile::tempdir().expect("a folder");
        let inner = outer.path().join("in");
        std::fs::create_dir(&inner).expect("made");
        std::fs::write(outer.path().join("secret"), b"x").expect("written");
        std::fs::write(inner.join("open"), b"y").expect("written");
        let folder = Folder::new(&inner);
        assert_eq!(folder.bytes("open"), Ok(b"y".to_vec()));
        assert!(folder.bytes("missing").is_err());
        #[cfg(unix)]
        {
            std::os::unix::fs::symlink(outer.path().join("secret"), inner.join("link"))
                .expect("linked");
            assert!(folder.bytes("link").expect_err("out").contains("out of"));
        }
    }
}
