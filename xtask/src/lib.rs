//! Reads the workspace: its map, its layers, its licences.

pub mod licences;
pub mod map;

use std::path::{Path, PathBuf};

/// The workspace's folder.
#[must_use]
pub fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .parent()
        .map_or_else(PathBuf::new, Path::to_path_buf)
}

/// A file of the workspace as text.
///
/// # Errors
/// The file cannot be read; the message names it.
pub fn text(root: &Path, name: &str) -> Result<String, String> {
    std::fs::read_to_string(root.join(name)).map_err(|why| format!("{name}: {why}"))
}

/// Every Rust source file below a folder, in order of path.
///
/// # Errors
/// A folder cannot be read.
pub fn rust_files(folder: &Path) -> Result<Vec<PathBuf>, String> {
    let mut found = Vec::new();
    let mut todo = vec![folder.to_path_buf()];
    while let Some(next) = todo.pop() {
        let entries =
            std::fs::read_dir(&next).map_err(|why| format!("{}: {why}", next.display()))?;
        for entry in entries {
            let path = entry.map_err(|why| why.to_string())?.path();
            if path.is_dir() {
                todo.push(path);
            } else if path.extension().is_some_and(|e| e == "rs") {
                found.push(path);
            }
        }
    }
    found.sort();
    Ok(found)
}
