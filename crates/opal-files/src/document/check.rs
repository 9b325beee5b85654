//! A tree held against a JSON Schema: what is wrong, in plain words.
//!
//! It knows the part of JSON Schema that `schemars` writes for our shapes:
//! types, required and known fields, lists and their lengths, ranges, words
//! to choose from, and choices between a few types.

use super::{Entry, FaultList, Node, Value};
use opal_evidence::Fault;
use serde_json::{Map, Value as Json};

/// Longest text shown in a fault.
const SHOWN: usize = 60;
/// Words nearer than this (Jaro–Winkler, 0 to 1) are offered as a correction.
const NEAR: f64 = 0.8;

/// Checks the tree; gives back what was sound, as JSON.
pub(super) fn against(root: &Node, schema: &Json, faults: &mut FaultList) -> Option<Json> {
    Checker {
        root: schema,
        faults,
    }
    .node(root, root.line, schema, "")
}

/// A field's path inside another.
pub(super) fn joined(path: &str, key: &str) -> String {
    if path.is_empty() {
        key.to_owned()
    } else {
        format!("{path}.{key}")
    }
}

struct Checker<'a> {
    root: &'a Json,
    faults: &'a mut FaultList,
}

impl<'a> Checker<'a> {
    fn node(&mut self, node: &Node, line: u32, schema: &'a Json, path: &str) -> Option<Json> {
        let schema = self.resolved(schema);
        let Some(schema) = self.chosen(node, schema) else {
            let limit = self.expected(schema);
            self.fault(path, line, shown(node), limit);
            return None;
        };
        match &node.value {
            Value::Table(entries) => self.table(node, entries, schema, path),
            Value::List(items) => self.list(node, items, line, schema, path),
            Value::Text(text) => self.text(text, line, schema, path),
            Value::Whole(number) => self.number(*number as f64, node, line, schema, path),
            Value::Number(number, _) => self.number(*number, node, line, schema, path),
            Value::Bool(flag) => Some(Json::Bool(*flag)),
            Value::Null | Value::Date(_) => None,
        }
    }

    fn table(
        &mut self,
        node: &Node,
        entries: &[Entry],
        schema: &'a Json,
        path: &str,
    ) -> Option<Json> {
        let empty = Map::new();
        let known = schema.get("properties").and_then(Json::as_object);
        let mut sound = Map::new();
        for entry in entries {
            let field = joined(path, &entry.key);
            match known.and_then(|k| k.get(&entry.key)) {
                Some(inner) => {
                    // `null` for a field that may be left out says nothing.
                    if matches!(entry.node.value, Value::Null) && self.may_be_null(inner) {
                        continue;
                    }
                    if let Some(value) = self.node(&entry.node, entry.line, inner, &field) {
                        sound.insert(entry.key.clone(), value);
                    }
                }
                None => {
                    let words: Vec<&str> =
                        known.unwrap_or(&empty).keys().map(String::as_str).collect();
                    let limit = match nearest(&entry.key, &words) {
                        Some(word) => format!("did you mean {word}?"),
                        None => format!("the fields here are {}", words.join(", ")),
                    };
                    self.fault(&field, entry.line, "not a known field".to_owned(), limit);
                }
            }
        }
        let required = schema.get("required").and_then(Json::as_array);
        for key in required.into_iter().flatten().filter_map(Json::as_str) {
            if !entries.iter().any(|e| e.key == key) {
                let inner = known.and_then(|k| k.get(key));
                let limit = inner.map_or_else(
                    || "must be given".to_owned(),
                    |inner| self.expected(self.resolved(inner)),
                );
                let field = joined(path, key);
                self.fault(&field, node.line, "missing".to_owned(), limit);
            }
        }
        Some(Json::Object(sound))
    }

    fn list(
        &mut self,
        node: &Node,
        items: &[Node],
        line: u32,
        schema: &'a Json,
        path: &str,
    ) -> Option<Json> {
        let count = |key: &str| schema.get(key).and_then(Json::as_u64);
        let n = items.len() as u64;
        if count("minItems").is_some_and(|least| n < least)
            || count("maxItems").is_some_and(|most| n > most)
        {
            let limit = self.expected(schema);
            let what = match n {
                1 => "a list of 1".to_owned(),
                n if n <= 4 => shown(node),
                n => format!("a list of {n}"),
            };
            self.fault(path, line, what, limit);
            return None;
        }
        let Some(inner) = schema.get("items") else {
            return Some(Json::Array(Vec::new()));
        };
        let mut sound = Vec::with_capacity(items.len());
        let mut whole = true;
        for (i, item) in items.iter().enumerate() {
            match self.node(item, item.line, inner, &format!("{path}[{i}]")) {
                Some(value) => sound.push(value),
                // Rows keep their places, so that later faults name the right one.
                None if self.is_table(inner) => sound.push(Json::Object(Map::new())),
                None => whole = false,
            }
        }
        whole.then_some(Json::Array(sound))
    }

    fn text(&mut self, text: &str, line: u32, schema: &'a Json, path: &str) -> Option<Json> {
        let words = words(schema);
        if !words.is_empty() && !words.contains(&text) {
            let mut limit = self.expected(schema);
            if words.len() > 1
                && let Some(word) = nearest(text, &words)
            {
                limit = format!("{limit}; did you mean \"{word}\"?");
            }
            self.fault(path, line, quoted(text), limit);
            return None;
        }
        let length = text.chars().count() as u64;
        let limit = |key: &str| schema.get(key).and_then(Json::as_u64);
        if limit("minLength").is_some_and(|least| length < least) || {
            limit("minLength").is_some() && text.trim().is_empty()
        } {
            self.fault(path, line, quoted(text), "must not be empty".to_owned());
            return None;
        }
        if let Some(most) = limit("maxLength")
            && length > most
        {
            let limit = format!("must be at most {most} letters");
            self.fault(path, line, format!("{length} letters long"), limit);
            return None;
        }
        Some(Json::String(text.to_owned()))
    }

    fn number(
        &mut self,
        number: f64,
        node: &Node,
        line: u32,
        schema: &'a Json,
        path: &str,
    ) -> Option<Json> {
        let limit = |key: &str| schema.get(key).and_then(Json::as_f64);
        let outside = !number.is_finite()
            || limit("minimum").is_some_and(|least| number < least)
            || limit("exclusiveMinimum").is_some_and(|least| number <= least)
            || limit("maximum").is_some_and(|most| number > most)
            || limit("exclusiveMaximum").is_some_and(|most| number >= most);
        if outside {
            let limit = self.expected(schema);
            self.fault(path, line, shown(node), limit);
            return None;
        }
        match node.value {
            Value::Whole(whole) => Some(Json::from(whole)),
            _ => Some(Json::from(number)),
        }
    }

    fn fault(&mut self, path: &str, line: u32, value: String, limit: String) {
        let field = if path.is_empty() { "the file" } else { path };
        let mut fault = Fault::new(field, value, limit);
        fault.line = Some(line);
        self.faults.push(fault);
    }

    fn resolved(&self, schema: &'a Json) -> &'a Json {
        let mut schema = schema;
        // References point one way only; the bound keeps a bad schema from looping.
        for _ in 0..16 {
            let Some(name) = schema
                .get("$ref")
                .and_then(Json::as_str)
                .and_then(|r| r.strip_prefix("#/$defs/"))
            else {
                break;
            };
            match self.root.get("$defs").and_then(|d| d.get(name)) {
                Some(inner) => schema = inner,
                None => break,
            }
        }
        schema
    }

    /// The branch of a choice that fits the node's type; the schema itself when
    /// it is no choice and fits.
    fn chosen(&self, node: &Node, schema: &'a Json) -> Option<&'a Json> {
        if let Some(branches) = schema.get("anyOf").and_then(Json::as_array) {
            return branches
                .iter()
                .map(|b| self.resolved(b))
                .find_map(|b| self.chosen(node, b));
        }
        if !words(schema).is_empty() {
            return matches!(node.value, Value::Text(_)).then_some(schema);
        }
        let fits = types(schema).any(|kind| match &node.value {
            Value::Table(_) => kind == "object",
            Value::List(_) => kind == "array",
            Value::Text(_) => kind == "string",
            Value::Whole(_) => kind == "number" || kind == "integer",
            Value::Number(..) => kind == "number",
            Value::Bool(_) => kind == "boolean",
            Value::Null | Value::Date(_) => false,
        });
        fits.then_some(schema)
    }

    fn may_be_null(&self, schema: &'a Json) -> bool {
        let schema = self.resolved(schema);
        types(schema).any(|kind| kind == "null")
            || schema
                .get("anyOf")
                .and_then(Json::as_array)
                .is_some_and(|branches| branches.iter().any(|b| self.may_be_null(b)))
    }

    fn is_table(&self, schema: &'a Json) -> bool {
        types(self.resolved(schema)).any(|kind| kind == "object")
    }

    /// "must be …", from a schema.
    fn expected(&self, schema: &'a Json) -> String {
        format!("must be {}", self.kind(schema))
    }

    fn kind(&self, schema: &'a Json) -> String {
        let schema = self.resolved(schema);
        if let Some(branches) = schema.get("anyOf").and_then(Json::as_array) {
            let kinds: Vec<String> = branches
                .iter()
                .filter(|b| types(self.resolved(b)).next() != Some("null"))
                .map(|b| self.kind(b))
                .collect();
            return kinds.join(", or ");
        }
        let words = words(schema);
        if !words.is_empty() {
            let quoted: Vec<String> = words.iter().map(|w| format!("\"{w}\"")).collect();
            return match quoted.as_slice() {
                [one] => one.clone(),
                many => format!("one of {}", many.join(", ")),
            };
        }
        let number = |key: &str| schema.get(key).and_then(Json::as_f64);
        match types(schema).find(|kind| *kind != "null") {
            Some(kind @ ("number" | "integer")) => {
                let what = if kind == "integer" {
                    "a whole number"
                } else {
                    "a number"
                };
                let low = match (number("minimum"), number("exclusiveMinimum")) {
                    (Some(least), _) => format!(" of at least {least}"),
                    (None, Some(least)) => format!(" above {least}"),
                    (None, None) => String::new(),
                };
                let joint = if low.is_empty() { "" } else { " and" };
                let high = match (number("maximum"), number("exclusiveMaximum")) {
                    (Some(most), _) => format!("{joint} at most {most}"),
                    (None, Some(most)) => format!("{joint} below {most}"),
                    (None, None) => String::new(),
                };
                format!("{what}{low}{high}")
            }
            Some("string") => "a text in quotes".to_owned(),
            Some("boolean") => "true or false".to_owned(),
            Some("array") => {
                let count = |key: &str| schema.get(key).and_then(Json::as_u64);
                let inner = schema.get("items").map(|inner| self.kind(inner));
                let inner = inner.unwrap_or_else(|| "values".to_owned());
                match (count("minItems"), count("maxItems")) {
                    (Some(a), Some(b)) if a == b => format!("a list of {a}, each {inner}"),
                    (Some(a), Some(b)) => format!("a list of {a} to {b}, each {inner}"),
                    (Some(a), None) => format!("a list of {a} or more, each {inner}"),
                    (None, Some(b)) => format!("a list of at most {b}, each {inner}"),
                    (None, None) => format!("a list, each {inner}"),
                }
            }
            Some("object") => {
                let fields = schema.get("properties").and_then(Json::as_object);
                let names: Vec<&str> = fields
                    .map(|f| f.keys().map(String::as_str).collect())
                    .unwrap_or_default();
                format!("a table with {}", names.join(", "))
            }
            _ => "something else".to_owned(),
        }
    }
}

/// The words to choose from, when the schema is a choice of words.
fn words(schema: &Json) -> Vec<&str> {
    if let Some(word) = schema.get("const").and_then(Json::as_str) {
        return vec![word];
    }
    if let Some(list) = schema.get("enum").and_then(Json::as_array) {
        return list.iter().filter_map(Json::as_str).collect();
    }
    let branches = schema.get("oneOf").and_then(Json::as_array);
    branches.into_iter().flatten().flat_map(words).collect()
}

fn types(schema: &Json) -> impl Iterator<Item = &str> {
    let kind = schema.get("type");
    let one = kind.and_then(Json::as_str);
    let many = kind.and_then(Json::as_array).into_iter().flatten();
    one.into_iter().chain(many.filter_map(Json::as_str))
}

fn nearest<'w>(word: &str, words: &[&'w str]) -> Option<&'w str> {
    words
        .iter()
        .map(|w| (strsim::jaro_winkler(word, w), *w))
        .filter(|(near, _)| *near >= NEAR)
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, w)| w)
}

fn quoted(text: &str) -> String {
    let mut short: String = text.chars().take(SHOWN).collect();
    if text.chars().count() > SHOWN {
        short.push('…');
    }
    // Debug form: control characters stay on one line.
    format!("{short:?}")
}

fn shown(node: &Node) -> String {
    match &node.value {
        Value::Null => "null".to_owned(),
        Value::Bool(flag) => flag.to_string(),
        Value::Whole(number) => number.to_string(),
        Value::Number(_, text) => text.clone(),
        Value::Text(text) => quoted(text),
        Value::Date(date) => format!("the date {date}"),
        Value::List(items) if items.len() <= 4 => {
            let inner: Vec<String> = items.iter().map(shown).collect();
            format!("[{}]", inner.join(", "))
        }
        Value::List(items) => format!("a list of {}", items.len()),
        Value::Table(_) => "a table".to_owned(),
    }
}
