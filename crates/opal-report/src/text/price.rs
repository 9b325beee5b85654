//! What a finished stone would fetch, told.

use super::spread::{in_a_hundred, money};
use super::{Detail, listed};
use crate::json::PriceDoc;
use opal_units::Currency;

/// What a finished stone would fetch, and how to offer it.
#[must_use]
pub fn price(doc: &PriceDoc, detail: Detail) -> String {
    let Ok(currency) = Currency::new(&doc.currency) else {
        return String::new();
    };
    let tell = |major: f64| money(major, currency);
    let at = |level: &str| {
        doc.amount
            .quantiles
            .get(level)
            .copied()
            .unwrap_or(doc.amount.mean)
    };
    let mut out = format!(
        "{}: about {}, nine in ten between {} and {}.\n",
        doc.piece,
        tell(at("0.5")),
        tell(at("0.05")),
        tell(at("0.95"))
    );
    if doc.price_by == "piece" {
        out.push_str("Offer it by the piece.\n");
    } else {
        out.push_str(&format!(
            "Offer it by the carat: {} a carat.\n",
            tell(doc.per_counted_carat)
        ));
    }
    out.push_str(&format!(
        "\n  ask                    {}\n",
        tell(doc.asking.ask)
    ));
    if let (Some(floor), Some(below)) = (doc.asking.floor, doc.asking.below_floor) {
        out.push_str(&format!(
            "  not below              {} (what it cost; {} that buyers pay less)\n",
            tell(floor),
            in_a_hundred(below)
        ));
    }
    let [soon, half, late] = doc.asking.days;
    out.push_str(&format!(
        "  days until it sells    about {half:.0}, nine in ten {soon:.0} to {late:.0}\n"
    ));
    out.push_str(&format!(
        "  over the face          {} a mm² (compare stones of any thickness by it)\n",
        per_mm2(doc.per_face_mm2, &doc.currency)
    ));
    if detail == Detail::Figures {
        out.push_str(&format!(
            "  over counted carats    {} ({:.2} ct)\n  over carats as weighed {} ({:.2} ct)\n  \
             learned from sales     {:.0} %, seed {}\n",
            tell(doc.per_counted_carat),
            doc.counted_ct,
            tell(doc.per_scale_carat),
            doc.finished.weight_ct,
            100.0 * doc.learned,
            doc.seed
        ));
    }
    out.push_str(&listed("Why", &doc.why));
    if !doc.finished.not_judged.is_empty() {
        out.push_str(&format!(
            "\nNobody judged: {}. What a price hangs on is spread for it.\n",
            doc.finished.not_judged.join(", ")
        ));
    }
    out.push_str(&listed("Mind", &doc.warnings));
    out
}

/// Two figures after the point: a face is paid in small money.
fn per_mm2(major: f64, code: &str) -> String {
    format!("{major:.2} {code}")
}
