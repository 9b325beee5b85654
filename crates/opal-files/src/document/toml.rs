//! TOML text into the tree.

use super::{Entry, FaultList, Lines, Node, Value};
use ::toml::Spanned;
use ::toml::de::{DeTable, DeValue};
use opal_evidence::Fault;

/// Reads a TOML text; every error of its grammar is a fault.
pub(super) fn parse(text: &str, faults: &mut FaultList) -> Option<Node> {
    let lines = Lines::new(text);
    let (root, errors) = DeTable::parse_recoverable(text);
    if errors.is_empty() {
        return Some(Node {
            line: 1,
            value: table(root.get_ref(), &lines),
        });
    }
    for error in errors {
        let mut fault = Fault::new("the text", "not TOML", error.message());
        fault.line = error.span().map(|span| lines.of(span.start));
        faults.push(fault);
    }
    None
}

fn table(entries: &DeTable<'_>, lines: &Lines) -> Value {
    Value::Table(
        entries
            .iter()
            .map(|(key, value)| Entry {
                key: key.get_ref().clone().into_owned(),
                line: lines.of(key.span().start),
                node: node(value, lines),
            })
            .collect(),
    )
}

fn node(spanned: &Spanned<DeValue<'_>>, lines: &Lines) -> Node {
    let value = match spanned.get_ref() {
        DeValue::String(text) => Value::Text(text.clone().into_owned()),
        DeValue::Integer(number) => whole(number.as_str(), number.radix()),
        DeValue::Float(number) => decimal(number.as_str()),
        DeValue::Boolean(flag) => Value::Bool(*flag),
        DeValue::Datetime(date) => Value::Date(date.to_string()),
        DeValue::Array(items) => Value::List(items.iter().map(|item| node(item, lines)).collect()),
        DeValue::Table(entries) => table(entries, lines),
    };
    Node {
        line: lines.of(spanned.span().start),
        value,
    }
}

fn whole(text: &str, radix: u32) -> Value {
    match i64::from_str_radix(text, radix) {
        Ok(number) => Value::Whole(number),
        Err(_) => decimal(text),
    }
}

fn decimal(text: &str) -> Value {
    // TOML writes "+inf" and "nan" as Rust reads them.
    let number = text.parse::<f64>().unwrap_or(f64::NAN);
    Value::Number(number, text.to_owned())
}
