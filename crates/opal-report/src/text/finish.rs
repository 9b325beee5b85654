//! Wheels, saw and drying in plain words.

use crate::json::{DryingDoc, Figure, FinishDoc, SawOrGrindDoc};

/// A chance in words.
fn in_100(chance: f64) -> String {
    match (100.0 * chance).round() {
        n if n < 1.0 => "less than 1 in 100".to_owned(),
        n if n > 99.0 => "more than 99 in 100".to_owned(),
        n => format!("about {n:.0} in 100"),
    }
}

/// The quantile at a level, where it was asked for.
fn at(figure: &Figure, key: &str) -> f64 {
    figure.quantiles.get(key).copied().unwrap_or(f64::NAN)
}

fn ending(rests_on: &[String], cautions: &[String]) -> String {
    let mut out = String::new();
    for line in rests_on {
        out += &format!("It rests on: {line}\n");
    }
    for caution in cautions {
        out += &format!("Take care: {caution}\n");
    }
    out
}

/// The turns of the wheels.
#[must_use]
pub fn finish(doc: &FinishDoc) -> String {
    let mut out = format!(
        "{}: a face of {:.0} mm², {:.2} mm above the wanted surface.\nLeave {:.2} mm when the \
         first wheel stops.\n",
        doc.piece, doc.face_mm2, doc.stock_mm, doc.leave_after_first_mm
    );
    for turn in &doc.turns {
        let [low, middle, high] = turn.minutes;
        out += &format!(
            "  {:<22} {:>5.1} µm  from {:.3} to {:.3} mm above, {middle:.0} min ({low:.0} to \
             {high:.0})\n      before the next: {}\n",
            turn.wheel, turn.grain_um, turn.from_mm, turn.to_mm, turn.look_for
        );
    }
    out += &format!(
        "About {:.0} minutes in all ({:.0} to {:.0}).\n",
        at(&doc.minutes, "0.5"),
        at(&doc.minutes, "0.05"),
        at(&doc.minutes, "0.95")
    );
    let faces: Vec<String> = doc
        .by_face
        .iter()
        .map(|face| format!("{:.0} mm²: {:.0} min", face.face_mm2, face.minutes))
        .collect();
    out += &format!(
        "A large flat face takes longer, because the hand's force spreads over it: {}.\n",
        faces.join(", ")
    );
    out += &format!(
        "Give the finer wheels their time: with half of it, marks of the first are left on {} \
         faces.\n",
        in_100(doc.marks_if_rushed)
    );
    if let (Some(wear), Some(currency)) = (doc.wear, &doc.currency) {
        out += &format!("It uses up about {wear:.2} {currency} of the wheels.\n");
    }
    out + &ending(&doc.rests_on, &doc.cautions)
}

/// Saw it off or grind it away.
#[must_use]
pub fn saw_or_grind(doc: &SawOrGrindDoc) -> String {
    let [fast, middle, slow] = doc.grind_minutes;
    let [cheap, cost, dear] = doc.grind_cost;
    let [low, even, high] = doc.break_even_mm;
    let advice = match doc.advice.as_str() {
        "saw" => "Saw it off.",
        _ => "Grind it away.",
    };
    let mut out = format!(
        "{advice} The chance that sawing is the cheaper: {}.\n\
         Sawing: {:.0} min, {:.2} {}, blade and all.\n\
         Grinding on {}: {middle:.0} min ({fast:.0} to {slow:.0}), {cost:.2} {} ({cheap:.2} to \
         {dear:.2}).\n\
         Sawing is the cheaper from about {even:.1} mm up ({low:.1} to {high:.1}).\n",
        in_100(doc.chance_saw_cheaper),
        doc.saw_minutes,
        doc.saw_cost,
        doc.currency,
        doc.wheel,
        doc.currency,
    );
    if doc.pressure > 1.0 {
        out +=
            "Pressing hard costs more blade than it saves time; sparks say that it is too much.\n";
    }
    out + &ending(&doc.rests_on, &doc.cautions)
}

/// Is it still losing water?
#[must_use]
pub fn drying(doc: &DryingDoc) -> String {
    let mut out = format!(
        "{}: {} weighings over {:.0} days.\n",
        doc.piece, doc.weighings, doc.days
    );
    out += &if doc.advice == "cut" {
        "It has stopped losing water, as far as a scale can tell: it may be cut.\n".to_owned()
    } else {
        format!(
            "Wait: weigh it weekly, about {:.0} more days ({:.0} to {:.0}).\n",
            at(&doc.wait_days, "0.5"),
            at(&doc.wait_days, "0.05"),
            at(&doc.wait_days, "0.95")
        )
    };
    out += &format!(
        "Still to lose: {:.2} % of its weight ({:.2} to {:.2}). The chance that little is left: \
         {}.\n",
        100.0 * at(&doc.still_to_lose, "0.5"),
        100.0 * at(&doc.still_to_lose, "0.05"),
        100.0 * at(&doc.still_to_lose, "0.95"),
        in_100(doc.settled)
    );
    out + &ending(&doc.rests_on, &[])
}
