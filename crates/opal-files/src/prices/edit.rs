//! Changes to single fields of a price file that leave the rest of it, remarks and
//! all, as the cutter wrote it.

use crate::document;
use opal_evidence::{Fault, Faults};
use serde_json::{Map, Value as Json};
use toml_edit::{Array, ArrayOfTables, DocumentMut, InlineTable, Item, Table, Value};

const STEP: &str = "must be a row that is there, or the next one";

/// One field put to another value, or taken out.
#[derive(Clone, Debug, PartialEq)]
pub struct FieldChange {
    /// Its path as faults name it, such as `row[3].per_carat.low`.
    pub field: String,
    /// The value; `None` takes the field, or the row, out.
    pub value: Option<Json>,
}

/// The text with those fields changed. Rows are counted as they stood before; what is
/// taken out goes last, so that the counts of the others hold.
///
/// The result is not judged: read it with [`super::read_prices`].
///
/// # Errors
/// The text is neither TOML nor JSON; every path that leads nowhere.
pub fn change_prices(text: &str, changes: &[FieldChange]) -> Result<String, Faults> {
    let unreadable = |why: String| Faults::from(Fault::new("the price book", "not readable", why));
    let mut ordered: Vec<(&FieldChange, Vec<Step>)> = Vec::new();
    let mut faults = Vec::new();
    for change in changes {
        match steps(&change.field) {
            Some(path) => ordered.push((change, path)),
            None => faults.push(fault(change, "must be a path such as row[3].per_carat.low")),
        }
    }
    // Rows go from the end on, so that one taken out moves none of those still to go.
    ordered.sort_by(|(a, a_path), (b, b_path)| match (&a.value, &b.value) {
        (None, None) => b_path.cmp(a_path),
        (a, b) => a.is_none().cmp(&b.is_none()),
    });
    let mut apply = |put: &mut Put<'_>| {
        for (change, path) in &ordered {
            if let Err(limit) = put(path, change.value.as_ref()) {
                faults.push(fault(change, limit));
            }
        }
    };
    let edited = if text.trim_start().starts_with('{') {
        let mut document: Json =
            serde_json::from_str(text).map_err(|error| unreadable(error.to_string()))?;
        apply(&mut |path, value| put_json(&mut document, path, value));
        format!("{document:#}\n")
    } else {
        let mut document: DocumentMut = text
            .parse()
            .map_err(|error: toml_edit::TomlError| unreadable(error.to_string()))?;
        apply(&mut |path, value| put_toml(document.as_item_mut(), path, value));
        document.to_string()
    };
    if faults.is_empty() {
        Ok(edited)
    } else {
        Err(Faults(faults))
    }
}

/// The price file as JSON with the same fields, for a form; `None` where it is neither
/// TOML nor JSON.
#[must_use]
pub fn prices_as_json(text: &str) -> Option<Json> {
    document::fields_of(text)
}

fn fault(change: &FieldChange, limit: &str) -> Fault {
    let value = change
        .value
        .as_ref()
        .map_or("taken out".to_owned(), Json::to_string);
    Fault::new(change.field.clone(), value, limit)
}

/// Puts a value at a path of a document, or takes out what stands there.
type Put<'a> = dyn FnMut(&[Step], Option<&Json>) -> Result<(), &'static str> + 'a;

/// A step of a path: into a table, or into a list.
#[derive(Clone, Debug, Eq, Ord, PartialEq, PartialOrd)]
enum Step {
    Row(usize),
    Key(String),
}

fn steps(field: &str) -> Option<Vec<Step>> {
    let mut path = Vec::new();
    for part in field.split('.') {
        let (key, rows) = part.split_at(part.find('[').unwrap_or(part.len()));
        if key.is_empty() {
            return None;
        }
        path.push(Step::Key(key.to_owned()));
        let mut rest = rows;
        while !rest.is_empty() {
            let (row, after) = rest.strip_prefix('[')?.split_once(']')?;
            path.push(Step::Row(row.parse().ok()?));
            rest = after;
        }
    }
    Some(path)
}

fn put_json(at: &mut Json, path: &[Step], value: Option<&Json>) -> Result<(), &'static str> {
    match path {
        [] => return Err("must name a field"),
        [Step::Key(key), rest @ ..] => {
            let table = at.as_object_mut().ok_or("must lead through tables")?;
            match (rest, value) {
                ([], Some(value)) => drop(table.insert(key.clone(), value.clone())),
                ([], None) => drop(table.remove(key)),
                (_, None) if !table.contains_key(key) => {}
                ([next, ..], _) => {
                    let place = table.entry(key.as_str()).or_insert_with(|| match next {
                        Step::Key(_) => Json::Object(Map::new()),
                        Step::Row(_) => Json::Array(Vec::new()),
                    });
                    return put_json(place, rest, value);
                }
            }
        }
        [Step::Row(row), rest @ ..] => {
            let rows = at
                .as_array_mut()
                .ok_or("must lead through a list of rows")?;
            match (rest, value) {
                ([], None) if *row < rows.len() => drop(rows.remove(*row)),
                ([], _) => return Err("must be a row to be taken out, or a field of one"),
                _ => {
                    if *row == rows.len() && value.is_some() {
                        rows.push(Json::Object(Map::new()));
                    }
                    return put_json(rows.get_mut(*row).ok_or(STEP)?, rest, value);
                }
            }
        }
    }
    Ok(())
}

fn put_toml(at: &mut Item, path: &[Step], value: Option<&Json>) -> Result<(), &'static str> {
    match path {
        [] => return Err("must name a field"),
        [Step::Key(key), rest @ ..] => {
            let inline = matches!(at, Item::Value(_));
            let table = at.as_table_like_mut().ok_or("must lead through tables")?;
            match (rest, value) {
                ([], Some(value)) => {
                    set(table.entry(key).or_insert(Item::None), toml_value(value)?)
                }
                ([], None) => drop(table.remove(key)),
                (_, None) if !table.contains_key(key) => {}
                ([next, ..], _) => {
                    let place = table.entry(key).or_insert_with(|| match next {
                        Step::Row(_) => Item::ArrayOfTables(ArrayOfTables::new()),
                        Step::Key(_) if inline => Item::Value(InlineTable::new().into()),
                        Step::Key(_) => Item::Table(Table::new()),
                    });
                    return put_toml(place, rest, value);
                }
            }
        }
        [Step::Row(row), rest @ ..] => {
            let Item::ArrayOfTables(rows) = at else {
                return Err("must lead through a list of rows");
            };
            match (rest, value) {
                ([], None) if *row < rows.len() => drop(rows.remove(*row)),
                ([], _) => return Err("must be a row to be taken out, or a field of one"),
                _ => {
                    if *row == rows.len() && value.is_some() {
                        rows.push(Table::new());
                    }
                    return within_row(rows.get_mut(*row).ok_or(STEP)?, rest, value);
                }
            }
        }
    }
    Ok(())
}

/// The rest of a path inside a row.
fn within_row(table: &mut Table, path: &[Step], value: Option<&Json>) -> Result<(), &'static str> {
    let mut item = Item::Table(std::mem::take(table));
    let done = put_toml(&mut item, path, value);
    if let Item::Table(back) = item {
        *table = back;
    }
    done
}

/// Puts a value in place of another, with the blanks and remarks around it kept.
fn set(item: &mut Item, mut value: Value) {
    if let Item::Value(old) = item {
        *value.decor_mut() = old.decor().clone();
    }
    *item = Item::Value(value);
}

fn toml_value(json: &Json) -> Result<Value, &'static str> {
    Ok(match json {
        Json::Null => return Err("must not be null inside a value"),
        Json::Bool(v) => (*v).into(),
        Json::Number(v) => match v.as_i64() {
            Some(whole) => whole.into(),
            None => v.as_f64().ok_or("must be a number that fits")?.into(),
        },
        Json::String(v) => v.as_str().into(),
        Json::Array(list) => {
            let mut array = Array::new();
            for v in list {
                array.push(toml_value(v)?);
            }
            array.into()
        }
        Json::Object(map) => {
            let mut table = InlineTable::new();
            for (key, v) in map {
                table.insert(key, toml_value(v)?);
            }
            table.into()
        }
    })
}
