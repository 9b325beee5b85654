//! JSON text into the tree.

use super::{Entry, FaultList, Lines, Node, Value};
use jsonc_parser::ast;
use jsonc_parser::common::Ranged;
use jsonc_parser::{CollectOptions, ParseOptions, parse_to_ast};
use opal_evidence::Fault;

/// Plain JSON (RFC 8259) and nothing beside it.
const STRICT: ParseOptions = ParseOptions {
    allow_comments: false,
    allow_loose_object_property_names: false,
    allow_trailing_commas: false,
    allow_missing_commas: false,
    allow_single_quoted_strings: false,
    allow_hexadecimal_numbers: false,
    allow_unary_plus_numbers: false,
    allow_bare_decimal_point_numbers: false,
    allow_non_finite_numbers: false,
    allow_extended_string_escapes: false,
};

/// Reads a JSON text; the first error of its grammar is a fault.
pub(super) fn parse(text: &str, faults: &mut FaultList) -> Option<Node> {
    let lines = Lines::new(text);
    match parse_to_ast(text, &CollectOptions::default(), &STRICT) {
        Ok(result) => {
            let root = result
                .value
                .as_ref()
                .map(|value| node(value, &lines, "", faults));
            if faults.is_empty() { root } else { None }
        }
        Err(error) => {
            let mut fault = Fault::new("the text", "not JSON", error.kind().to_string());
            fault.line = Some(lines.of(error.range().start));
            faults.push(fault);
            None
        }
    }
}

fn node(value: &ast::Value<'_>, lines: &Lines, path: &str, faults: &mut FaultList) -> Node {
    let line = lines.of(value.range().start);
    let value = match value {
        ast::Value::StringLit(text) => Value::Text(text.value.clone().into_owned()),
        ast::Value::NumberLit(number) => match number.value.parse::<i64>() {
            Ok(whole) => Value::Whole(whole),
            Err(_) => Value::Number(
                number.value.parse().unwrap_or(f64::NAN),
                number.value.to_owned(),
            ),
        },
        ast::Value::BooleanLit(flag) => Value::Bool(flag.value),
        ast::Value::NullKeyword(_) => Value::Null,
        ast::Value::Array(list) => Value::List(
            list.elements
                .iter()
                .enumerate()
                .map(|(i, item)| node(item, lines, &format!("{path}[{i}]"), faults))
                .collect(),
        ),
        ast::Value::Object(object) => {
            let mut entries: Vec<Entry> = Vec::with_capacity(object.properties.len());
            for property in &object.properties {
                let key = property.name.as_str().to_owned();
                let line = lines.of(property.range.start);
                let field = super::check::joined(path, &key);
                if entries.iter().any(|e| e.key == key) {
                    let mut fault = Fault::new(&*field, "given twice", "must stand once");
                    fault.line = Some(line);
                    faults.push(fault);
                }
                let node = node(&property.value, lines, &field, faults);
                entries.push(Entry { key, line, node });
            }
            Value::Table(entries)
        }
    };
    Node { line, value }
}
