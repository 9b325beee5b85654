//! The map, the layers and the licences hold.

use xtask::{licences, map, root, rust_files, text};

#[test]
fn the_map_names_every_crate_and_no_other() {
    let map = map::Map::read(&root()).expect("ARCHITECTURE.md reads");
    let crates = map::workspace_crates(&root()).expect("crates read");
    let mut named: Vec<&str> = map.names().collect();
    let mut there: Vec<&str> = crates.iter().map(|c| c.name.as_str()).collect();
    named.sort_unstable();
    there.sort_unstable();
    assert_eq!(named, there, "left: ARCHITECTURE.md, right: crates/");
}

#[test]
fn arrows_point_down() {
    let map = map::Map::read(&root()).expect("ARCHITECTURE.md reads");
    let mut wrong = Vec::new();
    for one in map::workspace_crates(&root()).expect("crates read") {
        for used in &one.ours {
            if map.layer(used) >= map.layer(&one.name) {
                wrong.push(format!("{} uses {used}, which is not below it", one.name));
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn third_party_crates_keep_to_their_owner() {
    let map = map::Map::read(&root()).expect("ARCHITECTURE.md reads");
    let mut wrong = Vec::new();
    for one in map::workspace_crates(&root()).expect("crates read") {
        for library in &one.theirs {
            if map.owner(library).is_some_and(|owner| owner != one.name) {
                wrong.push(format!(
                    "{} uses {library}, which has another owner",
                    one.name
                ));
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// The core does no I/O: below `opal-job` no source names files, sockets,
/// processes, clocks or the environment.
#[test]
fn the_core_does_no_io() {
    let map = map::Map::read(&root()).expect("ARCHITECTURE.md reads");
    let job = map.layer("opal-job").expect("opal-job is on the map");
    let mut wrong = Vec::new();
    for one in map::workspace_crates(&root()).expect("crates read") {
        if map.layer(&one.name).is_none_or(|layer| layer > job) {
            continue;
        }
        for file in
            rust_files(&root().join("crates").join(&one.name).join("src")).expect("sources read")
        {
            let source = std::fs::read_to_string(&file).expect("a source reads");
            // What stands behind it is tests: a whole file, or by our habit its end.
            let product = source.split("[cfg(test)]").next().unwrap_or("");
            for door in [
                "std::fs",
                "std::net",
                "std::process",
                "std::env::",
                "SystemTime::now",
                "Instant::now",
            ] {
                if product.contains(door) {
                    wrong.push(format!("{} names {door}", file.display()));
                }
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn every_licence_is_accepted() {
    let all = licences::packages(&root()).expect("cargo metadata answers");
    assert!(
        all.len() > 50,
        "cargo metadata named {} packages only",
        all.len()
    );
    let wrong: Vec<String> = all
        .iter()
        .filter(|package| !licences::accepted(&package.licence))
        .map(|package| format!("{}: '{}'", package.name, package.licence))
        .collect();
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn licence_expressions_are_judged() {
    assert!(licences::accepted("MIT OR Apache-2.0"));
    assert!(licences::accepted("GPL-3.0-only OR MIT"));
    assert!(!licences::accepted("GPL-3.0-only"));
    assert!(!licences::accepted("MIT AND GPL-2.0-only"));
    assert!(!licences::accepted(""));
}

#[test]
fn a_glossary_term_stands_once() {
    let glossary = text(&root(), "GLOSSARY.md").expect("GLOSSARY.md reads");
    let mut terms: Vec<String> = glossary
        .lines()
        .filter_map(|line| line.strip_prefix("**"))
        .filter_map(|line| line.split_once("**"))
        .map(|(term, _)| term.to_lowercase())
        .collect();
    assert!(terms.len() > 40, "{} terms only", terms.len());
    terms.sort();
    let twice: Vec<_> = terms.windows(2).filter(|pair| pair[0] == pair[1]).collect();
    assert!(twice.is_empty(), "{twice:?}");
}

/// README.md's first command and second command are the ones that CI runs.
#[test]
fn the_two_commands_are_in_the_readme() {
    let readme = text(&root(), "README.md").expect("README.md reads");
    assert!(readme.contains("cargo run --release -- demo"));
    assert!(readme.contains("bash tests/run"));
    let ci = text(&root(), ".ci/run").expect(".ci/run reads");
    assert!(ci.contains("bash tests/run"));
}

/// `cargo run` at the root, as the readme has it, has one program to start.
///
/// Read from the metadata: building it once more, with the features of that selection
/// alone, would cost as much as all the other tests.
#[test]
fn the_first_command_finds_its_program() {
    let output =
        std::process::Command::new(std::env::var_os("CARGO").unwrap_or_else(|| "cargo".into()))
            .args(["metadata", "--format-version", "1", "--no-deps", "--locked"])
            .current_dir(root())
            .output()
            .expect("cargo starts");
    let metadata: serde_json::Value =
        serde_json::from_slice(&output.stdout).expect("cargo metadata is JSON");
    let list = |value: &serde_json::Value| value.as_array().cloned().unwrap_or_default();
    let by_default = list(&metadata["workspace_default_members"]);
    let programs: Vec<String> = list(&metadata["packages"])
        .iter()
        .filter(|package| by_default.contains(&package["id"]))
        .flat_map(|package| list(&package["targets"]))
        .filter(|target| list(&target["kind"]).contains(&"bin".into()))
        .map(|target| target["name"].as_str().unwrap_or_default().to_owned())
        .collect();
    assert_eq!(programs, ["opalwright"]);
}
