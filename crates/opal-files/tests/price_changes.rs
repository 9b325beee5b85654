//! A form changes fields of the price book; the cutter's text stays theirs.

use opal_files::{FieldChange, change_prices, example_prices, prices_as_json, read_prices};
use serde_json::{Value, json};

fn change(field: &str, value: Value) -> FieldChange {
    FieldChange {
        field: field.to_owned(),
        value: (!value.is_null()).then_some(value),
    }
}

/// Lines that are in one text and not in the other.
fn new_lines<'a>(before: &str, after: &'a str) -> Vec<&'a str> {
    after
        .lines()
        .filter(|line| !before.lines().any(|there| there == *line))
        .collect()
}

#[test]
fn one_field_changes_one_line_and_keeps_every_remark() {
    let text = example_prices();
    let edited = change_prices(text, &[change("bid.margin", json!(0.4))]).expect("there");
    assert_eq!(new_lines(text, &edited), ["margin = 0.4"]);
    assert_eq!(edited.lines().count(), text.lines().count());
    let edited = change_prices(text, &[change("row[1].per_carat.low", json!(75))]).expect("there");
    assert_eq!(
        new_lines(text, &edited),
        ["per_carat = { low = 75, high = 240 }"]
    );
    let read = read_prices("prices.toml", edited.as_bytes()).expect("there");
    assert_eq!(
        read.book.parts().rows.len(),
        read_prices("p", text.as_bytes())
            .expect("there")
            .book
            .parts()
            .rows
            .len()
    );
}

#[test]
fn rows_come_and_go_as_they_were_counted_before() {
    let text = example_prices();
    let rows = prices_as_json(text).expect("there")["row"]
        .as_array()
        .expect("there")
        .len();
    let last = format!("row[{}]", rows - 1);
    let edited = change_prices(
        text,
        &[
            change("row[0]", Value::Null),
            change(&last, Value::Null),
            change("row[1].per_carat.high", json!(300.5)),
            change(&format!("row[{rows}].variety"), json!("matrix")),
            change(&format!("row[{rows}].brightness"), json!("brilliant")),
            change(&format!("row[{rows}].per_face_mm2.low"), json!(2)),
            change(&format!("row[{rows}].per_face_mm2.high"), json!(9.5)),
        ],
    )
    .expect("there");
    let now = prices_as_json(&edited).expect("there");
    let before = prices_as_json(text).expect("there");
    let list = now["row"].as_array().expect("there");
    assert_eq!(list.len(), rows - 1);
    assert_eq!(list[0]["brightness"], before["row"][1]["brightness"]);
    assert_eq!(list[0]["per_carat"]["high"], 300.5);
    assert_eq!(
        list[rows - 2]["per_face_mm2"],
        json!({ "low": 2, "high": 9.5 })
    );
    read_prices("prices.toml", edited.as_bytes()).expect("there");
}

#[test]
fn a_table_that_was_left_out_is_made() {
    let text = example_prices();
    let without = change_prices(text, &[change("bench", Value::Null)]).expect("there");
    assert!(
        prices_as_json(&without)
            .expect("there")
            .get("bench")
            .is_none()
    );
    let edited = change_prices(&without, &[change("bench.kerf_mm", json!(0.6))]).expect("there");
    let read = read_prices("prices.toml", edited.as_bytes()).expect("there");
    assert_eq!(read.bench.kerf_mm, Some(0.6));
}

#[test]
fn json_books_are_changed_the_same_way() {
    let text = prices_as_json(example_prices()).expect("there").to_string();
    let changes = [
        change("costs.labour_per_hour", json!(52.5)),
        change("row[0]", Value::Null),
    ];
    let from_json = prices_as_json(&change_prices(&text, &changes).expect("there"));
    let from_toml = prices_as_json(&change_prices(example_prices(), &changes).expect("there"));
    assert_eq!(from_json, from_toml);
}

#[test]
fn every_path_that_leads_nowhere_is_told_at_once() {
    let faults = change_prices(
        example_prices(),
        &[
            change("row[400].variety", json!("black")),
            change("currency.code", json!("AUD")),
            change("row[", json!(1)),
        ],
    )
    .expect_err("refused");
    let fields: Vec<&str> = faults.0.iter().map(|fault| fault.field.as_str()).collect();
    assert_eq!(fields.len(), 3, "{faults}");
    for field in ["row[400].variety", "currency.code", "row["] {
        assert!(fields.contains(&field), "{field} in {fields:?}");
    }
}
