//! What the cutter's own stones have taught, told.

use super::listed;
use crate::json::{ForecastRecordDoc, LearnedDoc, TaughtDoc};

/// What the stones have taught, field by field, and how forecasts did.
#[must_use]
pub fn learned(doc: &LearnedDoc) -> String {
    let mut out = format!(
        "{} on record, {} finished.\n",
        stones(doc.stones),
        doc.finished
    );
    for origin in &doc.origins {
        out.push_str(&format!(
            "\nWhat {} has taught you ({})\n",
            origin.origin,
            stones(origin.stones)
        ));
        for taught in &origin.taught {
            out.push_str(&format!("  · {}\n", sentence(taught)));
        }
    }
    if !doc.forecasts.is_empty() {
        out.push_str("\nHow the forecasts did\n");
        for record in &doc.forecasts {
            out.push_str(&format!("  · {}\n", verdict(record)));
        }
    }
    out.push_str(&listed("Mind", &doc.warnings));
    out
}

fn stones(n: usize) -> String {
    format!("{n} {}", if n == 1 { "stone" } else { "stones" })
}

fn sentence(taught: &TaughtDoc) -> String {
    let [low, high] = taught.between;
    let rests = format!("from {}", stones(taught.stones));
    if taught.what == "yield" {
        return format!(
            "{:.0} % of the rough becomes finished stone, nine in ten {:.0} to {:.0} % ({rests}; \
             a field not met yet: {:.0} %)",
            100.0 * taught.middle,
            100.0 * low,
            100.0 * high,
            100.0 * taught.elsewhere
        );
    }
    let subject = match taught.what.as_str() {
        "specks" => "the number of specks is",
        _ => "the bar's thickness is",
    };
    format!(
        "{subject} {:.1} times what is usual for the form of rough, nine in ten {low:.1} to \
         {high:.1} ({rests}; a field not met yet: {:.1})",
        taught.middle, taught.elsewhere
    )
}

fn verdict(record: &ForecastRecordDoc) -> String {
    let (what, digits, unit) = match record.what.as_str() {
        "clean-share" => ("clean share", 2, ""),
        "minutes" => ("minutes", 0, " minutes"),
        "price" => ("price", 0, " in money"),
        _ => ("finished weight", 1, " ct"),
    };
    let of = match record.of.as_str() {
        "all" => "all stones".to_owned(),
        of => of.to_owned(),
    };
    let clear = record.stones > 2 && record.bias.abs() > 2.0 * record.bias_error;
    let lean = if !clear {
        "no clear lean either way".to_owned()
    } else if record.bias > 0.0 {
        format!("forecast too low by {:.digits$}{unit}", record.bias)
    } else {
        format!("forecast too high by {:.digits$}{unit}", -record.bias)
    };
    format!(
        "{what}, {of}: {lean}; {} of {} within nine in ten; spread × {:.2} would have fitted",
        record.held_90, record.stones, record.widening
    )
}
