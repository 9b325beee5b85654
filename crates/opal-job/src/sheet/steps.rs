//! What to do at the bench, in order, and what the words assume.

use super::finish::{Finish, Turn, time_words};
use super::sized_words;
use crate::wheels::WheelsInForce;
use opal_plan::ValuedPlan;

/// What to do, in order.
pub(super) fn steps(valued: &ValuedPlan, finish: Option<&Finish>) -> Vec<String> {
    let plan = &valued.plan;
    if plan.stones.is_empty() {
        return vec!["Sell it as it is: no work is worth its cost.".to_owned()];
    }
    let mut steps: Vec<String> = plan
        .cuts
        .iter()
        .map(|cut| format!("Cut {}: {}", cut.order, cut.words))
        .collect();
    steps.push(back(valued));
    let mut turns = finish.map_or([].as_slice(), |f| &f.turns).iter().peekable();
    while let Some(turn) = turns.next_if(|turn| turn.in_bulk) {
        steps.push(format!(
            "Bulk off on the {}: from {} mm down to {} mm above the wanted face, never nearer. \
             {}. Stop every 0.5 mm, wet it, look: colour may lie higher than planned.",
            turn.wheel.name,
            depth(turn.from_mm),
            depth(turn.to_mm),
            capital(&time_words(turn.minutes))
        ));
    }
    match turns.next() {
        Some(first) => steps.push(open_face(first)),
        None => steps.push(format!(
            "Open the face: about {:.1} mm down to the colour. Stop every 0.2 mm, wet it and look.",
            plan.stock.top.mm()
        )),
    }
    let seen: Vec<String> = valued
        .revisions
        .iter()
        .take(3)
        .map(|(words, share)| format!("{words} ({})", opal_report::text::in_a_hundred(*share)))
        .collect();
    if !seen.is_empty() {
        steps.push(format!(
            "Once it is open, choose by what you see: {}.",
            seen.join("; ")
        ));
    }
    steps.extend(shape(valued));
    steps.extend(turns.map(finer));
    steps.push("Dry it, look at every side under a lamp, weigh it, write it down.".to_owned());
    steps
}

/// What the steps assume.
pub(super) fn notes(
    valued: &ValuedPlan,
    finish: Option<&Finish>,
    wheels: &WheelsInForce,
) -> Vec<String> {
    let mut notes = Vec::new();
    if let Some(finish) = finish {
        let each = if valued.stones.len() > 1 {
            "Each face"
        } else {
            "The face"
        };
        notes.push(format!(
            "{each} takes {} with changes of wheel. That rests on {}. Turn the stone a quarter at \
             each wheel, so that older scratches lie across.",
            time_words(finish.minutes),
            wheels.rests_on()
        ));
        notes.push(
            "The depths to leave are carried over from glass, as no figure for opal is published: \
             meant to hold nine times in ten, they may be wrong by a factor of two or more. The \
             loupe decides."
                .to_owned(),
        );
    }
    if valued.plan.cuts.iter().any(|c| c.words.contains("x axis")) {
        notes.push(
            "The x axis runs to the right in the drawing from above; angles turn from it towards \
             the top of the drawing."
                .to_owned(),
        );
    }
    notes
}

fn back(valued: &ValuedPlan) -> String {
    let off = valued.plan.stock.bottom.mm();
    if off < 0.05 {
        return "Back: only grind it flat.".to_owned();
    }
    format!("Back: grind about {off:.1} mm off, flat, so that a calliper can stand on it.")
}

fn depth(mm: f64) -> String {
    if mm >= 1.0 {
        format!("{mm:.1}")
    } else if mm >= 0.02 {
        format!("{mm:.2}")
    } else {
        format!("{mm:.3}")
    }
}

fn open_face(turn: &Turn) -> String {
    if turn.wheel.damage_um.is_none() {
        return finer(turn);
    }
    if turn.from_mm - turn.to_mm < 0.01 {
        return format!(
            "Open the face on the {}: hardly anything is to come off. Leave {} mm on it. Loupe: {}.",
            turn.wheel.name,
            depth(turn.to_mm),
            turn.wheel.look_for()
        );
    }
    format!(
        "Open the face on the {}, from {} mm down to {} mm above the wanted face, and leave \
         that on it. {}. Stop every 0.2 mm, wet it, look. Loupe before the change: {}.",
        turn.wheel.name,
        depth(turn.from_mm),
        depth(turn.to_mm),
        capital(&time_words(turn.minutes)),
        turn.wheel.look_for()
    )
}

fn finer(turn: &Turn) -> String {
    if turn.wheel.damage_um.is_none() {
        return format!(
            "Polish: {}. {}. Loupe: {}.",
            turn.wheel.name,
            capital(&time_words(turn.minutes)),
            turn.wheel.look_for()
        );
    }
    format!(
        "Rinse, then {}: {} down to {} mm above the face. {}. Loupe: {}.",
        turn.wheel.name,
        depth(turn.from_mm),
        depth(turn.to_mm),
        capital(&time_words(turn.minutes)),
        turn.wheel.look_for()
    )
}

fn shape(valued: &ValuedPlan) -> Vec<String> {
    let several = valued.plan.stones.len() > 1;
    let stones = valued.plan.stones.iter().enumerate();
    stones
        .map(|(k, cut)| {
            let which = if several {
                format!("Stone {}", k + 1)
            } else {
                "Shape".to_owned()
            };
            let words = sized_words(cut);
            if cut.natural.is_some() {
                return format!(
                    "{which}: {words}. Keep its line; only break sharp edges, before the finer wheels."
                );
            }
            format!(
                "{which}: {words}, from the template; dome {:.1} mm above a wall of {:.1} mm \
                 ({:.1} mm thick in the middle), bevel {:.1} mm. Leave the same on it as on the face.",
                cut.dome.height.mm(),
                cut.back.wall.mm(),
                cut.dome.height.mm() + cut.back.wall.mm(),
                cut.back.bevel.mm()
            )
        })
        .collect()
}

fn capital(words: &str) -> String {
    let mut letters = words.chars();
    letters
        .next()
        .map(|first| first.to_uppercase().chain(letters).collect())
        .unwrap_or_default()
}
