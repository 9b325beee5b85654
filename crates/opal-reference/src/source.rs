//! Where a row of data comes from.

use crate::table;
use serde::Deserialize;
use std::collections::BTreeMap;
use std::sync::LazyLock;

#[derive(Deserialize)]
struct File {
    source: BTreeMap<String, String>,
}

static SOURCES: LazyLock<BTreeMap<String, String>> =
    LazyLock::new(|| table::read::<File>("sources").source);

/// The citation behind a source key, or "common practice, no source", or
/// "from memory"; `None` for a key that does not exist.
#[must_use]
pub fn citation(key: &str) -> Option<&'static str> {
    SOURCES.get(key).map(String::as_str)
}

/// The citations behind a row's keys, joined for a person to read.
#[must_use]
pub fn citations(keys: &[String]) -> String {
    let texts: Vec<&str> = keys.iter().filter_map(|key| citation(key)).collect();
    texts.join("; ")
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Every table that stands in an array is a row and needs a source.
    fn walk(file: &str, path: &str, value: &toml::Value, used: &mut Vec<String>) {
        match value {
            toml::Value::Array(rows) => {
                for (i, row) in rows.iter().enumerate() {
                    let here = format!("{path}[{i}]");
                    if let toml::Value::Table(fields) = row {
                        let keys: Vec<String> = match fields.get("source") {
                            Some(toml::Value::String(key)) => vec![key.clone()],
                            Some(toml::Value::Array(keys)) => keys
                                .iter()
                                .map(|k| k.as_str().expect("a key").to_owned())
                                .collect(),
                            _ => Vec::new(),
                        };
                        assert!(!keys.is_empty(), "{file}: {here} names no source");
                        used.extend(keys);
                        for (name, field) in fields {
                            // Points of a curve inside a row share the row's source.
                            if !matches!(field, toml::Value::Array(_)) {
                                walk(file, &format!("{here}.{name}"), field, used);
                            }
                        }
                    }
                }
            }
            toml::Value::Table(fields) => {
                for (name, field) in fields {
                    walk(file, &format!("{path}.{name}"), field, used);
                }
            }
            _ => {}
        }
    }

    #[test]
    fn every_row_names_a_source_that_exists() {
        for (file, text) in table::FILES {
            if *file == "sources" {
                continue;
            }
            let tree: toml::Value = toml::from_str(text).expect("reads");
            let mut used = Vec::new();
            walk(file, "", &tree, &mut used);
            assert!(!used.is_empty(), "{file} has no rows");
            for key in used {
                assert!(citation(&key).is_some(), "{file}: no source '{key}'");
            }
        }
    }

    #[test]
    fn the_two_honest_words_are_there() {
        assert_eq!(citation("practice"), Some("common practice, no source"));
        assert_eq!(citation("memory"), Some("from memory"));
    }
}
