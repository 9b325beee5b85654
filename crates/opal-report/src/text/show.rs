//! A stone as it was taken in, told.

use super::{Detail, listed};
use crate::json::{ListDoc, ShowDoc};

/// A stone with the evidence that it was built from.
#[must_use]
pub fn show(doc: &ShowDoc, detail: Detail) -> String {
    let mut out = doc.piece.clone();
    if let Some(record) = &doc.record {
        out.push_str(&format!(
            ", number {}{}",
            record.number,
            if record.invented {
                " (an invented example)"
            } else {
                ""
            }
        ));
    }
    out.push('\n');
    let form = match doc.form.as_str() {
        "unknown" => "form not known",
        form => form,
    };
    out.push_str(&format!("  {form}"));
    if let Some(origin) = &doc.origin {
        out.push_str(&format!(" from {origin}"));
    }
    match doc.weighed_ct {
        Some(ct) => out.push_str(&format!(", {ct:.1} ct on the scale")),
        None => out.push_str(&format!(
            ", not weighed: about {:.0} ± {:.0} ct by its size",
            doc.shape.weight_ct[0], doc.shape.weight_ct[1]
        )),
    }
    if let Some(asking) = &doc.asking {
        out.push_str(&format!(", asked {} {}", asking.amount, asking.currency));
    }
    out.push('\n');
    if let Some(check) = &doc.shape.check {
        out.push_str(&format!("  {check}\n"));
    }
    for bar in &doc.bars {
        let mut seen = Vec::new();
        for (count, what) in [
            (bar.measured, "measured"),
            (bar.at_least, "seen, not through"),
            (bar.absent, "found missing"),
        ] {
            if count > 0 {
                seen.push(format!("{what} at {count}"));
            }
        }
        if bar.quick_look {
            seen.push("a quick look".to_owned());
        }
        if seen.is_empty() {
            seen.push("named only".to_owned());
        }
        out.push_str(&format!("  bar {}: {}\n", bar.name, seen.join(", ")));
    }
    if doc.bars.is_empty() {
        out.push_str("  no bar has been seen yet\n");
    }
    if doc.exposures + doc.cracks > 0 {
        out.push_str(&format!(
            "  {} surface(s) counted for specks, {} crack(s) seen\n",
            doc.exposures, doc.cracks
        ));
    }
    if detail == Detail::Figures {
        let shape = &doc.shape;
        out.push_str(&format!(
            "  shape from {}: {:.0} ± {:.0} mm³, skin ± {:.2} mm, grid {} × {} at {} mm\n  specific gravity {} ± {} ({})\n",
            shape.from,
            shape.volume_mm3[0],
            shape.volume_mm3[1],
            shape.skin_sigma_mm,
            shape.nodes[0],
            shape.nodes[1],
            shape.cell_mm,
            doc.specific_gravity.value,
            doc.specific_gravity.sigma,
            if doc.specific_gravity.measured {
                "measured"
            } else {
                "usual for its form"
            }
        ));
    }
    out.push_str(&listed("Mind", &doc.notes));
    out
}

/// The stones in the store.
#[must_use]
pub fn list(doc: &ListDoc) -> String {
    if doc.stones.is_empty() {
        return "No stones yet. Take one in: opalwright take-in EVIDENCE\n".to_owned();
    }
    let mut out = String::new();
    for stone in &doc.stones {
        let day = stone.record.taken_in.get(..10).unwrap_or_default();
        out.push_str(&format!(
            "{:>4}  {:<30} taken in {day}{}\n",
            stone.record.number,
            stone.piece,
            if stone.record.invented {
                ", invented example"
            } else {
                ""
            }
        ));
    }
    out
}
