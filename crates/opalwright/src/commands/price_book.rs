//! `price-book`: the prices in force.

use super::output::{say, say_json, write_file};
use super::plan::MOST_PRICE_BYTES;
use crate::args::{Args, PriceBook};
use crate::exit::Failure;
use crate::wire;
use serde_json::json;

pub(super) fn run(args: &Args, command: &PriceBook) -> Result<(), Failure> {
    let prices = match &command.file {
        Some(path) => {
            let text = wire::text_file(path, MOST_PRICE_BYTES)?;
            wire::bench(args)?.set_prices(&path.display().to_string(), &text)?
        }
        None => wire::bench_to_look(args)?.prices()?,
    };
    if let Some(path) = &command.out {
        write_file(path, prices.text.as_bytes())?;
    }
    let book = prices.settings.book.parts();
    if command.json {
        return say_json(&json!({
            "format": "opalwright-price-book/1",
            "title": book.title,
            "invented": book.invented,
            "currency": book.currency.code(),
            "rows": book.rows.len(),
            "text": prices.text,
        }));
    }
    let mut told = format!(
        "'{}', in {}: {} rows{}.\n",
        book.title,
        book.currency,
        book.rows.len(),
        if book.invented {
            "; the shipped example, its prices are invented"
        } else {
            ""
        }
    );
    for variety in prices.settings.book.varieties() {
        told.push_str(&format!(
            "  {variety}: {}\n",
            prices.settings.book.brightnesses(variety).join(", ")
        ));
    }
    if command.file.is_some() {
        told.push_str("It is in force from now on.\n");
    }
    if let Some(path) = &command.out {
        told.push_str(&format!("Written to {}.\n", path.display()));
    } else if book.invented {
        told.push_str(
            "Put your own in its place: opalwright price-book --out prices.toml, edit, then \
             opalwright price-book prices.toml\n",
        );
    }
    say(&told)
}
