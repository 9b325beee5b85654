//! Faults of bench events, told as a person names them.

use crate::bench_events::words;
use jiff::Timestamp;
use jiff::civil::DateTime;
use opal_bench::Event;
use opal_evidence::{Fault, Faults};

/// The faults with their places in words: what was logged, and when by the clock on
/// the wall.
pub(crate) fn told(
    faults: Faults,
    events: &[(Timestamp, Event)],
    local: impl Fn(Timestamp) -> DateTime,
) -> Faults {
    let told = |fault: Fault| {
        let found = place(&fault.field).and_then(|(number, field)| {
            let (at, event) = events.get(number.checked_sub(1)?)?;
            let time = local(*at).strftime("%H:%M");
            Some(format!(
                "{} of the entry at {time} ({})",
                part(field),
                words(event)
            ))
        });
        Fault {
            place: found,
            ..fault
        }
    };
    Faults(faults.0.into_iter().map(told).collect())
}

/// The number of the event, counted from 1, and the field of it.
fn place(path: &str) -> Option<(usize, &str)> {
    let (number, field) = path.strip_prefix("event[")?.split_once("].")?;
    Some((number.parse().ok()?, field))
}

/// What a field of an event is called.
fn part(field: &str) -> String {
    let words = match field {
        "at_mm" => "the place",
        "point_mm" => "the place of the cut",
        "normal" => "the direction of the cut",
        "offcut" => "the name of what came off",
        "undoes" => "the number",
        "weight_ct" => "the weight",
        "weights_ct" => "the pair of weights",
        "minutes" => "the time at the wheel",
        "at_least_mm" => "the least thickness",
        other => return format!("the {}", without_unit(other).replace('_', " ")),
    };
    words.to_owned()
}

fn without_unit(field: &str) -> &str {
    let bare = field
        .strip_suffix("_mm")
        .or_else(|| field.strip_suffix("_ct"));
    bare.unwrap_or(field)
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::tz::TimeZone;
    use opal_bench::{Ground, Removed};
    use opal_units::Length;

    #[test]
    fn a_fault_names_what_was_logged_and_when() {
        let ground = Event::Ground {
            place: Ground::Face(None),
            removed: Removed::Depth(Length::from_mm(40.0)),
        };
        let at = "2026-03-04T10:32:00Z".parse().expect("a time");
        let faults = [
            Fault::new("event[1].depth_mm", 40, "too much"),
            Fault::new("event[1].colour_left_mm", 40, "too much"),
            Fault::new("kerf_mm", -1, "too little"),
        ];
        let local = |at| TimeZone::UTC.to_datetime(at);
        let told = told(Faults(faults.to_vec()), &[(at, ground)], local).0;
        assert_eq!(
            told[0].to_string(),
            "the depth of the entry at 10:32 (ground: 40.00 mm off the whole face) is 40; too much"
        );
        assert!(
            told[1]
                .place_words()
                .starts_with("the colour left of the entry")
        );
        assert_eq!(told[2].place_words(), "kerf (mm)");
    }
}
