//! Where the store stands when nobody says.

use crate::exit::Failure;
use std::ffi::OsString;
use std::path::PathBuf;

/// Names the store for a whole session.
pub(crate) const STORE_VARIABLE: &str = "OPALWRIGHT_STORE";

/// The folder and file below the platform's data folder.
const FOLDER: &str = "opalwright";
const FILE: &str = "stones.db";

/// The store's path: the variable, else the platform's data folder.
pub(crate) fn default_store() -> Result<PathBuf, Failure> {
    find(|name| std::env::var_os(name).filter(|value| !value.is_empty())).ok_or_else(|| {
        Failure::user("no data folder is known here, so there is no place for the store")
            .with_hint("name one with --store PATH")
    })
}

fn find(variable: impl Fn(&str) -> Option<OsString>) -> Option<PathBuf> {
    if let Some(path) = variable(STORE_VARIABLE) {
        return Some(path.into());
    }
    let data = if cfg!(target_os = "windows") {
        PathBuf::from(variable("APPDATA")?)
    } else if cfg!(target_os = "macos") {
        PathBuf::from(variable("HOME")?).join("Library/Application Support")
    } else {
        // XDG Base Directory Specification 0.8: a relative path is ignored.
        match variable("XDG_DATA_HOME").map(PathBuf::from) {
            Some(path) if path.is_absolute() => path,
            _ => PathBuf::from(variable("HOME")?).join(".local/share"),
        }
    };
    Some(data.join(FOLDER).join(FILE))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn with(pairs: &'static [(&str, &str)]) -> Option<PathBuf> {
        find(|name| {
            pairs
                .iter()
                .find(|(there, _)| *there == name)
                .map(|(_, value)| OsString::from(value))
        })
    }

    /// XDG Base Directory Specification 0.8.
    #[cfg(target_os = "linux")]
    #[test]
    fn follows_the_platform() {
        assert_eq!(
            with(&[("HOME", "/h")]),
            Some("/h/.local/share/opalwright/stones.db".into())
        );
        assert_eq!(
            with(&[("HOME", "/h"), ("XDG_DATA_HOME", "/d")]),
            Some("/d/opalwright/stones.db".into())
        );
        assert_eq!(
            with(&[("HOME", "/h"), ("XDG_DATA_HOME", "d")]),
            Some("/h/.local/share/opalwright/stones.db".into())
        );
        assert_eq!(
            with(&[("HOME", "/h"), ("OPALWRIGHT_STORE", "/s.db")]),
            Some("/s.db".into())
        );
        assert_eq!(with(&[]), None);
    }
}
