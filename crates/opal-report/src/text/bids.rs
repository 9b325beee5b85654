//! The most to pay for many lots, as a table that a telephone shows.

use super::listed;
use super::spread::{at_most, money};
use crate::json::BidsDoc;
use opal_units::{Currency, Money};

/// Letters of a name that the table shows. Chosen: with them the table is 44
/// characters wide, which a telephone shows without turning (46).
const NAME: usize = 16;

/// The most to pay for each lot, the dearest first.
#[must_use]
pub fn bids(doc: &BidsDoc) -> String {
    let code = &doc.currency;
    let Ok(currency) = Currency::new(code) else {
        return String::new();
    };
    // The currency stands in the heading once.
    let bare = |told: String| told.replace(code.as_str(), "").trim().to_owned();
    let highest = |major: f64| {
        Money::from_major_rounded(major, currency)
            .map_or_else(|_| "?".to_owned(), |m| bare(at_most(m)))
    };
    let against = doc.lots.iter().any(|lot| lot.tender.is_some());
    let mut out = format!(
        "{} lots, the dearest first, {code}\n\n{:<19} {:>8} {:>5} {:>10}\n",
        doc.lots.len() + doc.not_worked_out.len(),
        "lot",
        "at most",
        "loss",
        if against { "tender bid" } else { "mean gain" }
    );
    for (k, lot) in doc.lots.iter().enumerate() {
        let name: String = lot.piece.chars().take(NAME).collect();
        if lot.set_by == "not-worth-buying" {
            out.push_str(&format!("{:>2} {name:<NAME$} {:>8}\n", k + 1, "leave it"));
            continue;
        }
        let amount = |text: &str| text.parse().unwrap_or(0.0);
        let last = match &lot.tender {
            Some(tender) => highest(amount(&tender.bid)),
            None => bare(money(amount(&lot.expected_gain), currency)),
        };
        out.push_str(&format!(
            "{:>2} {name:<NAME$} {:>8} {:>3.0} % {last:>10}\n",
            k + 1,
            highest(lot.major()),
            100.0 * lot.chance_of_loss,
        ));
    }
    out.push_str(&format!("\nAll of them: {} {code}", doc.in_all));
    if let Some(capital) = &doc.capital {
        out.push_str(&format!(" of the {capital} that you work with"));
    }
    out.push_str(
        ".\nLoss: the chance that the price is not earned back. How wide the gain is, and what it \
         rests on: opalwright bid LOT.\n",
    );
    let faults: Vec<String> = doc
        .not_worked_out
        .iter()
        .map(|fault| format!("{}: {}", fault.piece, fault.why))
        .collect();
    out.push_str(&listed("Not worked out", &faults));
    out.push_str(&listed("Mind", &doc.warnings));
    out
}
