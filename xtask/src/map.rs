//! The map in ARCHITECTURE.md against the crates as they are.

use std::collections::BTreeMap;
use std::path::Path;

/// The table of crates in ARCHITECTURE.md.
#[derive(Debug)]
pub struct Map {
    layers: BTreeMap<String, u32>,
    owners: BTreeMap<String, String>,
}

/// A crate of the workspace.
#[derive(Debug)]
pub struct Crate {
    /// Its name, which is its folder's.
    pub name: String,
    /// Our crates that it uses (not for tests alone).
    pub ours: Vec<String>,
    /// Third-party crates that it uses (not for tests alone).
    pub theirs: Vec<String>,
}

impl Map {
    /// Reads the table whose rows are `| layer | crate | … |` and the table
    /// whose rows are `| third party | owner | … |`.
    ///
    /// # Errors
    /// The file or a table is missing.
    pub fn read(root: &Path) -> Result<Self, String> {
        let text = crate::text(root, "ARCHITECTURE.md")?;
        let mut layers = BTreeMap::new();
        let mut owners = BTreeMap::new();
        for row in text.lines().filter(|line| line.starts_with('|')) {
            let cells: Vec<&str> = row.trim_matches('|').split('|').map(str::trim).collect();
            let name = |cell: &str| cell.trim_matches('`').to_owned();
            match cells.as_slice() {
                [first, second, ..] if first.parse::<u32>().is_ok() && second.starts_with('`') => {
                    layers.insert(name(second), first.parse().unwrap_or(u32::MAX));
                }
                [first, second, ..] if first.starts_with('`') && second.starts_with("`opal") => {
                    for library in first.split(',') {
                        owners.insert(name(library.trim()), name(second));
                    }
                }
                _ => {}
            }
        }
        if layers.is_empty() || owners.is_empty() {
            return Err(
                "ARCHITECTURE.md: no table of crates, or none of third-party owners".to_owned(),
            );
        }
        Ok(Self { layers, owners })
    }

    /// The layer of a crate.
    #[must_use]
    pub fn layer(&self, name: &str) -> Option<u32> {
        self.layers.get(name).copied()
    }

    /// Names in the table of crates.
    pub fn names(&self) -> impl Iterator<Item = &str> {
        self.layers.keys().map(String::as_str)
    }

    /// The one crate that may use a third-party crate, where it has an owner.
    #[must_use]
    pub fn owner(&self, library: &str) -> Option<&str> {
        self.owners.get(library).map(String::as_str)
    }
}

/// The crates under `crates/`, in order of name.
///
/// # Errors
/// A manifest cannot be read.
pub fn workspace_crates(root: &Path) -> Result<Vec<Crate>, String> {
    let entries = std::fs::read_dir(root.join("crates")).map_err(|why| format!("crates: {why}"))?;
    let mut names: Vec<String> = entries
        .filter_map(Result::ok)
        .filter(|entry| entry.path().is_dir())
        .map(|entry| entry.file_name().to_string_lossy().into_owned())
        .collect();
    names.sort();
    names
        .into_iter()
        .map(|name| {
            let manifest: toml::Table = crate::text(root, &format!("crates/{name}/Cargo.toml"))?
                .parse()
                .map_err(|why| format!("crates/{name}/Cargo.toml: {why}"))?;
            let used: Vec<String> = manifest
                .get("dependencies")
                .and_then(toml::Value::as_table)
                .map(|table| table.keys().cloned().collect())
                .unwrap_or_default();
            let (ours, theirs) = used.into_iter().partition(|d| d.starts_with("opal"));
            Ok(Crate { name, ours, theirs })
        })
        .collect()
}
