//! The bench in plain words.

use super::spread::{in_a_hundred, money};
use crate::json::{LogDoc, NowDoc};
use opal_units::Currency;

/// What happened, and what the stone is now.
#[must_use]
pub fn log(doc: &LogDoc) -> String {
    let mut out = format!("{}: {:.2} ct now, ", doc.piece, doc.weight_ct);
    out += match doc.stage.as_str() {
        "rough" => "not sawn yet",
        "sawn" => "sawn, the face not begun",
        _ => "the face is being opened",
    };
    if let Some(wheel) = &doc.wheel {
        out += &format!("; on the spindle: {wheel}");
    }
    out += ".\n";
    for event in &doc.events {
        let undone = if event.stands { "" } else { "  (undone)" };
        out += &format!("{:>4}  {}{undone}\n", event.number, event.words);
    }
    for offcut in &doc.offcuts {
        let share = offcut.share_of_cost.map_or(String::new(), |share| {
            format!(", {:.0} % of the cost", 100.0 * share)
        });
        out += &format!(
            "Came off at event {}: {}, about {:.2} ct{share}. It is a stone of its own: weigh it.\n",
            offcut.event, offcut.name, offcut.weight_ct
        );
    }
    for note in &doc.notes {
        out += &format!("Note: {note}\n");
    }
    out
}

/// What to do next.
#[must_use]
pub fn now(doc: &NowDoc, currency: Currency) -> String {
    let mut out = format!("What now, with {}:\n", doc.piece);
    for (k, advice) in doc.advice.iter().enumerate() {
        let gain = advice.gain;
        let over = if gain.abs() < 0.005 {
            "what can be had now without further risk".to_owned()
        } else {
            let word = if gain > 0.0 { "more" } else { "less" };
            format!(
                "{} {word} than can be had now, give or take {}",
                money(gain.abs(), currency),
                money(2.0 * advice.gain_error, currency)
            )
        };
        out += &format!(
            "{:>3}. {}\n     {} on average: {over}.\n     Chance of ending with less than half: {}.\n",
            k + 1,
            advice.words,
            money(advice.worth.mean, currency),
            in_a_hundred(advice.ruin)
        );
    }
    if let Some(facing) = &doc.facing {
        let at = |key: &str| facing.stop_depth_mm.quantiles.get(key).copied();
        if let (Some(low), Some(middle), Some(high)) = (at("0.05"), at("0.5"), at("0.95")) {
            out += &format!(
                "\nThe face: stop about {middle:.1} mm below where it stands ({low:.1} to \
                 {high:.1}), by what shows.\nChance that the bar is gone through somewhere by \
                 then: {}.\n",
                in_a_hundred(facing.through)
            );
        }
        out += "  depth   colour  potch   through   worth on average\n";
        let most = facing
            .curve
            .iter()
            .map(|step| step.worth.mean)
            .fold(1e-9, f64::max);
        // Depths at which nothing is to be had only fill the screen.
        for step in &facing.curve {
            if step.worth.mean < 0.05 * most {
                continue;
            }
            let bar = (24.0 * step.worth.mean / most).clamp(0.0, 24.0) as usize;
            out += &format!(
                "  {:>4.1}    {:>4.0} %  {:>4.0} %   {:>4.0} %   {:<24} {}\n",
                step.depth_mm,
                100.0 * step.colour,
                100.0 * step.covered,
                100.0 * step.through,
                "█".repeat(bar),
                money(step.worth.mean, currency)
            );
        }
    }
    for note in &doc.notes {
        out += &format!("Note: {note}\n");
    }
    out
}
