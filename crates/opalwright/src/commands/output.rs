//! Answers on the terminal, and files written whole or not at all.

use crate::exit::Failure;
use std::io::{ErrorKind, Write as _};
use std::path::{Path, PathBuf};

/// Prints an answer. A reader that went away (`| head`) is no fault.
pub(super) fn say(text: &str) -> Result<(), Failure> {
    let mut out = std::io::stdout().lock();
    match out.write_all(text.as_bytes()).and_then(|()| out.flush()) {
        Err(error) if error.kind() != ErrorKind::BrokenPipe => Err(Failure::internal(format!(
            "the answer could not be printed: {error}"
        ))),
        _ => Ok(()),
    }
}

/// Prints a document in its machine form.
pub(super) fn say_json(document: &impl serde::Serialize) -> Result<(), Failure> {
    let text = opal_report::json::to_text(document).map_err(opal_job::JobError::from)?;
    say(&text)
}

/// Writes a file: beside its place first, then moved there when it is whole.
pub(super) fn write_file(path: &Path, bytes: &[u8]) -> Result<(), Failure> {
    let failed = |error: std::io::Error| {
        Failure::user(format!("{} cannot be written: {error}", path.display()))
            .with_hint("name another place with --out FILE")
    };
    let mut part = path.as_os_str().to_owned();
    part.push(".part");
    let part = PathBuf::from(part);
    let written = std::fs::write(&part, bytes).and_then(|()| std::fs::rename(&part, path));
    if written.is_err() {
        let _ = std::fs::remove_file(&part);
    }
    written.map_err(failed)
}

/// A stone's name as a file name: letters, digits and dashes.
pub(crate) fn file_stem(name: &str) -> String {
    let mut stem = String::new();
    for letter in name.chars() {
        if letter.is_alphanumeric() {
            stem.extend(letter.to_lowercase());
        } else if !stem.ends_with('-') && !stem.is_empty() {
            stem.push('-');
        }
    }
    let stem = stem.trim_end_matches('-');
    if stem.is_empty() {
        "stone".to_owned()
    } else {
        stem.to_owned()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_become_safe_file_names() {
        for (name, stem) in [
            ("Gully 7", "gully-7"),
            ("../../etc/passwd", "etc-passwd"),
            ("Große Linse!", "große-linse"),
            ("***", "stone"),
        ] {
            assert_eq!(file_stem(name), stem);
        }
    }
}
