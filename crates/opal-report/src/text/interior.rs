//! What may lie inside, told.

use super::{Detail, in_a_hundred, listed};
use crate::json::InteriorDoc;
use std::collections::BTreeMap;

fn quantiles(values: &BTreeMap<String, f64>) -> String {
    let told: Vec<String> = values
        .iter()
        .map(|(level, value)| format!("{level}: {value:.2}"))
        .collect();
    told.join("  ")
}

/// The range that the outermost levels span.
fn range(values: &BTreeMap<String, f64>) -> String {
    match (values.values().next(), values.values().next_back()) {
        (Some(low), Some(high)) if low == high => format!("{low:.1} mm"),
        (Some(low), Some(high)) => format!("{low:.1} to {high:.1} mm"),
        _ => String::new(),
    }
}

/// The forecast at the places asked for.
#[must_use]
pub fn interior(doc: &InteriorDoc, detail: Detail) -> String {
    let mut out = format!(
        "{}: {} possible insides, seed {}.\n",
        doc.piece, doc.n_interiors, doc.seed
    );
    for point in &doc.points {
        out.push_str(&format!(
            "\nat {:.1}, {:.1} mm\n",
            point.at_mm[0], point.at_mm[1]
        ));
        if point.bars.is_empty() {
            out.push_str("  outside the stone\n");
        }
        for bar in &point.bars {
            let top = bar
                .top_mm
                .as_ref()
                .map_or_else(String::new, |top| format!("; top at {}", range(top)));
            out.push_str(&format!(
                "  bar {}: there {}; thickness {}{top}\n",
                bar.name,
                in_a_hundred(bar.present),
                range(&bar.thickness_mm),
            ));
            if detail == Detail::Figures {
                if let Some(top) = &bar.top_mm {
                    out.push_str(&format!("    top, mm        {}\n", quantiles(top)));
                }
                out.push_str(&format!(
                    "    thickness, mm  {}\n",
                    quantiles(&bar.thickness_mm)
                ));
            }
        }
    }
    out.push_str(&listed("It rests on", &doc.rests_on));
    out.push_str(&listed("Mind", &doc.warnings));
    out
}
