//! Broken evidence files: each is refused with all of its faults, in the words
//! that stand beside it. `OPAL_BLESS=1` writes the words anew.

use opal_files::{Folder, read_evidence};
use std::path::Path;

#[test]
fn every_broken_file_names_all_its_faults() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/broken");
    let mut names: Vec<String> = std::fs::read_dir(&folder)
        .expect("the folder")
        .map(|entry| {
            entry
                .expect("an entry")
                .file_name()
                .into_string()
                .expect("a name")
        })
        .filter(|name| name.ends_with(".toml") || name.ends_with(".json"))
        .collect();
    names.sort();
    assert!(names.len() >= 10);
    let mut wrong = Vec::new();
    for name in names {
        let bytes = std::fs::read(folder.join(&name)).expect("reads");
        let faults = read_evidence(&name, &bytes, &Folder::new(&folder))
            .expect_err("a broken file is refused");
        // The words of a missing file name the folder, which differs from place to place.
        let text = faults
            .to_string()
            .replace(&folder.display().to_string(), "tests/broken");
        let expected_path = folder.join(format!("{name}.expected"));
        if std::env::var_os("OPAL_BLESS").is_some() {
            std::fs::write(&expected_path, format!("{text}\n")).expect("written");
        }
        let expected = std::fs::read_to_string(&expected_path).unwrap_or_default();
        if expected.trim_end() != text {
            wrong.push(format!("--- {name}\n{text}"));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn bytes_that_are_no_text_are_refused() {
    for bytes in [&b"\xff\xfe\x00"[..], &b"a = 1\nb = \xff"[..], &[0; 64][..]] {
        let faults =
            read_evidence("x.toml", bytes, &opal_files::NoAttachments).expect_err("not a text");
        assert!(!faults.0.is_empty());
    }
    let long = vec![b' '; 9 * 1024 * 1024];
    let faults = read_evidence("x.toml", &long, &opal_files::NoAttachments).expect_err("long");
    assert!(faults.to_string().contains("must be at most"), "{faults}");
    let deep = "[".repeat(100_000);
    assert!(read_evidence("x.json", deep.as_bytes(), &opal_files::NoAttachments).is_err());
    let deep = format!("a = {}", "[".repeat(100_000));
    assert!(read_evidence("x.toml", deep.as_bytes(), &opal_files::NoAttachments).is_err());
}
