//! A TOML or JSON text as one kind of tree, in which every value knows its
//! line, held against the schema of what it should be.
//!
//! One definition serves reading, checking and the published schema: the serde
//! shape of a file gives its JSON Schema, and [`read`] walks the tree along
//! that schema. So a new field is checked the day it is added.

mod check;
mod json;
mod toml;

use opal_evidence::{Fault, Faults};
use schemars::JsonSchema;
use serde::de::DeserializeOwned;

/// Largest text that is read, bytes.
/// Chosen: because an outline of thousands of points fits many times.
pub(crate) const MOST_BYTES: usize = 8 * 1024 * 1024;
/// Most faults that are listed; more help nobody.
const MOST_FAULTS: usize = 200;

/// One value of the text.
#[derive(Clone, Debug)]
pub(crate) struct Node {
    /// Where it begins, counted from 1.
    pub(crate) line: u32,
    /// What it is.
    pub(crate) value: Value,
}

/// What a value can be.
#[derive(Clone, Debug)]
pub(crate) enum Value {
    Null,
    Bool(bool),
    Whole(i64),
    /// A number with its text, so that it is shown as it was written.
    Number(f64, String),
    Text(String),
    /// A date or time; no field of ours is one.
    Date(String),
    List(Vec<Node>),
    Table(Vec<Entry>),
}

/// One field of a table.
#[derive(Clone, Debug)]
pub(crate) struct Entry {
    pub(crate) key: String,
    /// The line of the key.
    pub(crate) line: u32,
    pub(crate) node: Node,
}

/// What a reading of a text gave: the shape with whatever was sound, and all
/// faults found so far.
pub(crate) struct Read<T> {
    /// The shape, faulty fields left out. `None` when nothing could be read.
    pub(crate) shape: Option<T>,
    /// The faults.
    pub(crate) faults: FaultList,
}

/// Reads a text into a shape. `name` is the file's name, for the faults and to
/// tell JSON from TOML.
pub(crate) fn read<T: DeserializeOwned + JsonSchema>(name: &str, bytes: &[u8]) -> Read<T> {
    let mut faults = FaultList::new(name);
    let Some(root) = parse(name, bytes, &mut faults) else {
        return Read {
            shape: None,
            faults,
        };
    };
    let schema = schemars::schema_for!(T);
    let sound = check::against(&root, schema.as_value(), &mut faults);
    faults.root = Some(root);
    let shape = match sound.map(serde_json::from_value::<T>) {
        Some(Ok(shape)) => Some(shape),
        Some(Err(error)) => {
            // The schema let something through that the shape does not take.
            if faults.is_empty() {
                faults.push(Fault::new("the file", "not understood", error.to_string()));
            }
            None
        }
        None => None,
    };
    Read { shape, faults }
}

/// The fields of a text that is TOML or JSON; `None` where it is neither.
pub(crate) fn fields_of(text: &str) -> Option<serde_json::Value> {
    if text.trim_start().starts_with('{') {
        return serde_json::from_str(text).ok();
    }
    let table: ::toml::Table = text.parse().ok()?;
    serde_json::to_value(table).ok()
}

fn parse(name: &str, bytes: &[u8], faults: &mut FaultList) -> Option<Node> {
    if bytes.len() > MOST_BYTES {
        faults.push(Fault::new(
            "the file",
            format!("{} bytes long", bytes.len()),
            format!("must be at most {MOST_BYTES} bytes"),
        ));
        return None;
    }
    // Some editors put a byte-order mark before the first letter.
    let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
    let text = match std::str::from_utf8(bytes) {
        Ok(text) => text,
        Err(error) => {
            let good = &bytes[..error.valid_up_to()];
            let line = 1 + good.iter().filter(|&&b| b == b'\n').count();
            let mut fault = Fault::new("the text", "not UTF-8", "save the file as UTF-8");
            fault.line = u32::try_from(line).ok();
            faults.push(fault);
            return None;
        }
    };
    if text.trim().is_empty() {
        faults.push(Fault::new(
            "the file",
            "empty",
            "must hold an evidence file, a price book or the like",
        ));
        return None;
    }
    let json = name.to_ascii_lowercase().ends_with(".json") || text.trim_start().starts_with('{');
    if json {
        json::parse(text, faults)
    } else {
        toml::parse(text, faults)
    }
}

/// Faults of one file, each with its line.
pub(crate) struct FaultList {
    name: String,
    root: Option<Node>,
    faults: Vec<Fault>,
}

impl FaultList {
    fn new(name: &str) -> Self {
        Self {
            name: name.to_owned(),
            root: None,
            faults: Vec::new(),
        }
    }

    pub(crate) fn is_empty(&self) -> bool {
        self.faults.is_empty()
    }

    /// Adds a fault; its file is filled in, and its line found by the field's
    /// path where it has none.
    pub(crate) fn push(&mut self, mut fault: Fault) {
        if self.faults.len() >= MOST_FAULTS {
            return;
        }
        if fault.line.is_none()
            && let Some(root) = &self.root
        {
            fault.line = Some(line_of(root, &fault.field));
        }
        fault.file = Some(self.name.clone());
        self.faults.push(fault);
    }

    /// Adds a fault unless something at that field, or in it, is already known
    /// to be wrong.
    pub(crate) fn push_new(&mut self, fault: Fault) {
        let known = self
            .faults
            .iter()
            .any(|f| f.field == fault.field || is_within(&f.field, &fault.field));
        if !known {
            self.push(fault);
        }
    }

    /// Adds a fault.
    pub(crate) fn add(
        &mut self,
        field: impl Into<String>,
        value: impl std::fmt::Display,
        limit: impl Into<String>,
    ) {
        self.push_new(Fault::new(field, value, limit));
    }

    /// Adds a fault of another file that this one names, with its own place.
    pub(crate) fn push_as_is(&mut self, fault: Fault) {
        if self.faults.len() < MOST_FAULTS {
            self.faults.push(fault);
        }
    }

    /// All faults in the order of the file, or `None` when there are none.
    pub(crate) fn into_faults(mut self) -> Option<Faults> {
        if self.faults.is_empty() {
            return None;
        }
        let name = self.name;
        self.faults
            .sort_by_key(|f| (f.file.as_deref() != Some(&name), f.line.unwrap_or(0)));
        Some(Faults(self.faults))
    }
}

/// True when `inner` names something inside `outer`.
fn is_within(inner: &str, outer: &str) -> bool {
    inner
        .strip_prefix(outer)
        .is_some_and(|rest| rest.starts_with('.') || rest.starts_with('['))
}

/// The line of a field by its path, or of the innermost part of the path that
/// is there.
fn line_of(root: &Node, path: &str) -> u32 {
    let mut node = root;
    let mut line = root.line;
    for part in path.split('.') {
        let (key, indices) = match part.find('[') {
            Some(at) => part.split_at(at),
            None => (part, ""),
        };
        let Value::Table(entries) = &node.value else {
            return line;
        };
        let Some(entry) = entries.iter().find(|e| e.key == key) else {
            return line;
        };
        node = &entry.node;
        line = entry.line;
        for index in indices.split(['[', ']']).filter(|s| !s.is_empty()) {
            let (Value::List(items), Ok(index)) = (&node.value, index.parse::<usize>()) else {
                return line;
            };
            let Some(item) = items.get(index) else {
                return line;
            };
            node = item;
            line = item.line;
        }
    }
    line
}

/// Turns byte offsets into lines.
struct Lines {
    starts: Vec<usize>,
}

impl Lines {
    fn new(text: &str) -> Self {
        let starts = std::iter::once(0)
            .chain(text.match_indices('\n').map(|(at, _)| at + 1))
            .collect();
        Self { starts }
    }

    fn of(&self, offset: usize) -> u32 {
        let line = self.starts.partition_point(|&start| start <= offset);
        u32::try_from(line).unwrap_or(u32::MAX)
    }
}
