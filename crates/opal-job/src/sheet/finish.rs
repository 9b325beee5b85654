//! From the coarse wheel to the polish, for the face of a plan.

use opal_finish::{HandOver, Schedule, ScheduleAsk, Wheel};
use opal_plan::{BenchRules, ValuedPlan};
use opal_units::{Area, Length, Seed};

/// Confidence that no wheel's damage reaches the face.
const CONFIDENCE: f64 = 0.9;
/// Minutes that a change of wheel costs. Chosen: to rinse, wipe and look.
const CHANGE_MINUTES: f64 = 2.0;
/// The coarsest grain that is let near the colour, µm. Chosen: it leaves out a
/// wheel of 90, which the trade keeps for big stock (common practice, no source).
const COARSEST_AT_FACE_UM: f64 = 100.0;
/// A coarser one takes the bulk off above this, mm, and stops at the other, for
/// the bar may stand higher than planned. Chosen.
const LEAST_BULK_MM: f64 = 2.0;
const KEPT_FROM_COARSEST_MM: f64 = 1.0;
/// Draws of the minutes in all. Chosen: because bounds told to two figures need no more.
const N_DRAWS: usize = 400;

/// One wheel's turn at the face.
pub(super) struct Turn {
    /// True for a wheel that is too coarse to come near the colour.
    pub(super) in_bulk: bool,
    pub(super) wheel: Wheel,
    pub(super) from_mm: f64,
    pub(super) to_mm: f64,
    /// Low, middle and high.
    pub(super) minutes: [f64; 3],
}

/// The turns, and how long they take in all.
pub(super) struct Finish {
    pub(super) turns: Vec<Turn>,
    pub(super) minutes: [f64; 3],
}

/// The fastest way down to the face and to its polish with the cutter's wheels;
/// `None` where nothing is cut, or no wheel could do it. Of several stones: for the
/// mean face.
pub(super) fn finish(valued: &ValuedPlan, rules: &BenchRules, wheels: &[Wheel]) -> Option<Finish> {
    let faces: Vec<f64> = valued
        .stones
        .iter()
        .map(|forecast| forecast.face_mm2.quantile(0.5))
        .filter(|area| *area > 0.0)
        .collect();
    if faces.is_empty() || valued.plan.stones.is_empty() {
        return None;
    }
    let coarse = wheels
        .iter()
        .take_while(|wheel| wheel.grain.size.um() > COARSEST_AT_FACE_UM)
        .count()
        // Whoever has none finer works with what there is.
        .min(wheels.len().saturating_sub(1));
    // A face that lies at the surface still loses what finishing takes.
    let stock = valued.plan.stock.top.max(rules.finishing_allowance);
    let in_bulk = coarse > 0 && stock.mm() > LEAST_BULK_MM;
    let ask = ScheduleAsk {
        wheels,
        stock,
        face: Area::from_mm2(faces.iter().sum::<f64>() / faces.len() as f64),
        confidence: CONFIDENCE,
        change_minutes: CHANGE_MINUTES,
    };
    let near_the_face = ScheduleAsk {
        wheels: &wheels[coarse..],
        stock: if in_bulk {
            Length::from_mm(KEPT_FROM_COARSEST_MM)
        } else {
            stock
        },
        ..ask
    };
    let mut schedule = Schedule::fastest(&near_the_face).ok()?;
    for turn in &mut schedule.turns {
        turn.wheel += coarse;
    }
    if in_bulk {
        let to = near_the_face.stock;
        let bulk = HandOver {
            wheel: coarse - 1,
            from: stock,
            to,
            minutes: (ask.face * (stock - to)).mm3()
                / wheels[coarse - 1].removal_mm3_per_min.median(),
        };
        schedule.turns.insert(0, bulk);
    }
    let all = schedule.minutes_spread(&ask, Seed(0), N_DRAWS)?;
    let turns = schedule
        .turns
        .iter()
        .enumerate()
        .filter_map(|(k, turn)| {
            Some(Turn {
                in_bulk: turn.wheel < coarse,
                wheel: wheels.get(turn.wheel)?.clone(),
                from_mm: turn.from.mm(),
                to_mm: turn.to.mm(),
                minutes: schedule.turn_minutes(&ask, k)?,
            })
        })
        .collect();
    Some(Finish {
        turns,
        minutes: [0.05, 0.5, 0.95].map(|p| all.quantile(p)),
    })
}

/// Minutes with their range, to two figures: `about 4 min (1 to 12)`.
pub(super) fn time_words([low, middle, high]: [f64; 3]) -> String {
    if high < 1.0 {
        return "under a minute".to_owned();
    }
    if middle >= 90.0 {
        let hours = [low, middle, high].map(|m| two_figures(m / 60.0));
        return format!("about {} h ({} to {})", hours[1], hours[0], hours[2]);
    }
    let [low, middle, high] = [low, middle, high].map(|m| {
        if m < 1.0 {
            "under 1".to_owned()
        } else {
            two_figures(m.round())
        }
    });
    if middle == "under 1" {
        return format!("under a minute (up to {high} min)");
    }
    format!("about {middle} min ({low} to {high})")
}

fn two_figures(value: f64) -> String {
    let step = if value >= 10.0 {
        10_f64.powf(value.log10().floor() - 1.0)
    } else {
        0.1
    };
    let rounded = (value / step).round() * step;
    if rounded >= 10.0 || rounded.fract().abs() < 1e-9 {
        format!("{rounded:.0}")
    } else {
        format!("{rounded:.1}")
    }
}

#[cfg(test)]
mod tests {
    use super::time_words;

    #[test]
    fn minutes_are_told_to_two_figures() {
        for (minutes, words) in [
            ([0.1, 0.3, 0.9], "under a minute"),
            ([0.2, 0.6, 1.8], "under a minute (up to 2 min)"),
            ([1.3, 4.0, 12.1], "about 4 min (1 to 12)"),
            ([0.4, 1.2, 3.6], "about 1 min (under 1 to 4)"),
            ([12.0, 36.4, 109.0], "about 36 min (12 to 110)"),
            ([45.0, 134.0, 402.0], "about 2.2 h (0.8 to 6.7)"),
        ] {
            assert_eq!(time_words(minutes), words);
        }
    }
}
