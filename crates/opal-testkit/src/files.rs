//! Where test data lie.

use std::path::{Path, PathBuf};

/// A file of the shared test data, by its path below their folder; `None`, with a
/// line on the terminal, where there is none.
#[must_use]
pub fn shared_data(path: &str) -> Option<PathBuf> {
    let full = Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/../../../shared/data")).join(path);
    if full.exists() {
        Some(full)
    } else {
        eprintln!("skipped: no shared data");
        None
    }
}

/// The files of a corpus folder, in order of name; empty where there is none.
#[must_use]
pub fn corpus(folder: &Path) -> Vec<PathBuf> {
    let mut files: Vec<PathBuf> = std::fs::read_dir(folder)
        .into_iter()
        .flatten()
        .flatten()
        .map(|entry| entry.path())
        .filter(|path| path.is_file())
        .collect();
    files.sort();
    files
}
