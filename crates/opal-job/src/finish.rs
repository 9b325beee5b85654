//! Answers about wheels, saw and drying.

use crate::ask::Ask;
use crate::at_the_bench::AtTheBench;
use crate::error::JobError;
use crate::settings::Settings;
use crate::wheels::WheelsInForce;
use opal_bench::Event;
use opal_evidence::{Fault, Faults};
use opal_finish::{Drying, DryingSpread, SawOrGrind, Schedule, ScheduleAsk, Weighing, Wheel};
use opal_reference::cautions::{self, Step};
use opal_report::json::{
    AreaMinutesDoc, DRYING_FORMAT, DryingDoc, DryingPointDoc, FINISH_FORMAT, FinishDoc, SAW_FORMAT,
    SawOrGrindDoc, TurnOfWheelDoc, length_figure, share_figure,
};
use opal_units::{Area, Length, Mass, SpreadError};

/// What to finish.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FinishAsk {
    /// Area of the face.
    pub face: Area,
    /// Stock above the wanted face when the first wheel starts.
    pub stock: Length,
    /// How surely no wheel's damage is to reach the face.
    pub confidence: f64,
    /// Minutes that a change of wheel takes.
    pub change_minutes: f64,
}

/// A slab of barren stock, to be sawn off or ground away.
#[derive(Clone, Debug, PartialEq)]
pub struct SawOrGrindAsk {
    /// How thick it is.
    pub thickness: Length,
    /// Area over which it would be ground.
    pub area: Area,
    /// Area that the blade would cut through.
    pub cut: Area,
    /// Feed over the usual one.
    pub pressure: f64,
    /// What the sawn-off piece is worth, major units.
    pub offcut_worth: f64,
    /// The wheel that would grind; `None` for the one that roughs.
    pub wheel: Option<String>,
}

/// Draws of the minutes. Chosen: quantiles to about a hundredth.
const N_DRAWS: usize = 2000;
/// Faces that the minutes are told for beside the one asked about, as shares of it.
const FACES: [f64; 4] = [0.5, 1.0, 2.0, 4.0];

impl AtTheBench {
    /// The turns of the wheels for a face, in machine form.
    ///
    /// # Errors
    /// A number out of its range.
    pub fn finish_doc(
        &self,
        what: &FinishAsk,
        wheels: &WheelsInForce,
        ask: &Ask,
    ) -> Result<FinishDoc, JobError> {
        let question = ScheduleAsk {
            wheels: &wheels.set.wheels,
            stock: what.stock,
            face: what.face,
            confidence: what.confidence,
            change_minutes: what.change_minutes,
        };
        let schedule = Schedule::fastest(&question)?;
        let minutes = schedule
            .minutes_spread(&question, ask.seed, N_DRAWS)
            .ok_or(SpreadError::Empty)?;
        let turns: Vec<TurnOfWheelDoc> = (0..schedule.turns.len())
            .map(|k| turn(&schedule, &question, k))
            .collect();
        let by_face = FACES.map(|share| {
            let question = ScheduleAsk {
                face: what.face * share,
                ..question
            };
            Schedule::fastest(&question).map(|schedule| AreaMinutesDoc {
                face_mm2: question.face.mm2(),
                minutes: schedule.minutes,
            })
        });
        let worn: Vec<f64> = turns.iter().filter_map(|turn| turn.wear).collect();
        Ok(FinishDoc {
            format: FINISH_FORMAT.to_owned(),
            piece: self.worked.evidence.piece.name.clone(),
            face_mm2: what.face.mm2(),
            stock_mm: what.stock.mm(),
            confidence: what.confidence,
            minutes: length_figure(&minutes, &ask.levels),
            leave_after_first_mm: schedule.leave_after_first.mm(),
            marks_if_rushed: schedule.chance_of_marks(&question, 0.5),
            wear: (!worn.is_empty()).then(|| worn.iter().sum()),
            currency: currency(&wheels.set.wheels),
            turns,
            by_face: by_face.into_iter().collect::<Result<_, _>>()?,
            cautions: cautions_at(&[Step::Grind, Step::Polish]),
            rests_on: vec![
                "damage depths published for glass, carried over to opal to a factor of two"
                    .to_owned(),
                wheels.rests_on(),
            ],
        })
    }

    /// The weighings since anything was last taken off, with their days.
    #[must_use]
    pub fn weighings(&self) -> Vec<Weighing> {
        let mut weighings: Vec<(jiff::Timestamp, Mass)> = Vec::new();
        for ((at, event), stands) in self.events.iter().zip(&self.worked.standing) {
            match event {
                Event::Weighed(weight) if *stands => weighings.push((*at, *weight)),
                Event::Sawn { .. }
                | Event::Ground { .. }
                | Event::WindowOpened { .. }
                | Event::Broken { .. }
                    if *stands =>
                {
                    weighings.clear();
                }
                _ => {}
            }
        }
        let Some(&(first, _)) = weighings.first() else {
            return Vec::new();
        };
        let day = |at: jiff::Timestamp| at.duration_since(first).as_secs_f64() / 86_400.0;
        weighings
            .iter()
            .map(|&(at, weight)| Weighing {
                day: day(at),
                weight,
            })
            .collect()
    }
}

fn turn(schedule: &Schedule, question: &ScheduleAsk<'_>, k: usize) -> TurnOfWheelDoc {
    let turn = &schedule.turns[k];
    let wheel = &question.wheels[turn.wheel];
    TurnOfWheelDoc {
        wheel: wheel.name.clone(),
        grain_um: wheel.grain.size.um(),
        grit: wheel.grain.words(),
        from_mm: turn.from.mm(),
        to_mm: turn.to.mm(),
        minutes: schedule
            .turn_minutes(question, k)
            .unwrap_or([turn.minutes; 3]),
        wear: schedule.turn_wear(question, k),
        look_for: wheel.look_for().to_owned(),
    }
}

fn currency(wheels: &[Wheel]) -> Option<String> {
    let wear = wheels.iter().find_map(|wheel| wheel.wear)?;
    Some(wear.price.currency().code().to_owned())
}

fn cautions_at(steps: &[Step]) -> Vec<String> {
    let mut texts: Vec<String> = Vec::new();
    for caution in steps.iter().flat_map(|step| cautions::at(*step)) {
        if !texts.contains(&caution.text) {
            texts.push(caution.text.clone());
        }
    }
    texts
}

/// Saw it off or grind it away, in machine form.
///
/// # Errors
/// A wheel that is not in the set, a size or rate that is not above 0.
pub fn saw_or_grind_doc(
    what: &SawOrGrindAsk,
    wheels: &WheelsInForce,
    settings: &Settings,
) -> Result<SawOrGrindDoc, JobError> {
    let wage = settings.costs.labour_per_hour / 60.0;
    // A cut that was not told is the area, whose fault is told once.
    let cut = (what.cut != what.area).then(|| ("cut_mm2", what.cut.mm2()));
    let faults: Vec<Fault> = [
        ("thickness_mm", what.thickness.mm()),
        ("area_mm2", what.area.mm2()),
        ("pressure", what.pressure),
        ("labour_per_hour", 60.0 * wage),
    ]
    .into_iter()
    .chain(cut)
    .filter(|(_, value)| !(value.is_finite() && *value > 0.0))
    .map(|(field, value)| Fault::new(field, value, "it must be above 0"))
    .chain(
        (!what.offcut_worth.is_finite())
            .then(|| Fault::new("offcut_worth", what.offcut_worth, "it must be an amount")),
    )
    .collect();
    if !faults.is_empty() {
        return Err(Faults(faults).into());
    }
    let set = &wheels.set;
    let wheel = match &what.wheel {
        Some(name) => set.wheel(name),
        None => set.roughing(),
    };
    let Some(wheel) = wheel else {
        let names: Vec<&str> = set.wheels.iter().map(|w| w.name.as_str()).collect();
        let asked = what.wheel.as_deref().unwrap_or("none");
        let limit = format!("one of {}", names.join("; "));
        return Err(Faults::from(Fault::new("wheel", asked, limit)).into());
    };
    let saw = set.saw.side(what.cut, what.pressure);
    let rate = wheel.removal_mm3_per_min;
    let compared = SawOrGrind::with_doubt(
        what.thickness,
        what.area,
        rate,
        saw,
        wage,
        what.offcut_worth,
    );
    // Every number was looked over above.
    let Some((middle, chance, even)) = compared else {
        return Err(Faults::from(Fault::new("saw-or-grind", "not above 0", "all above 0")).into());
    };
    let volume = (what.area * what.thickness).mm3();
    let minutes = [0.95, 0.5, 0.05].map(|p| volume / rate.quantile(p));
    let cents = |v: f64| (v * 100.0).round() / 100.0 + 0.0;
    Ok(SawOrGrindDoc {
        format: SAW_FORMAT.to_owned(),
        thickness_mm: what.thickness.mm(),
        area_mm2: what.area.mm2(),
        cut_mm2: what.cut.mm2(),
        pressure: what.pressure,
        wheel: wheel.name.clone(),
        currency: settings.currency().code().to_owned(),
        advice: if middle.saw() { "saw" } else { "grind" }.to_owned(),
        chance_saw_cheaper: chance,
        saw_minutes: middle.saw_minutes,
        grind_minutes: minutes,
        saw_cost: cents(middle.saw_cost),
        grind_cost: minutes.map(|m| cents(m * wage)),
        break_even_mm: even.map(Length::mm),
        cautions: cautions_at(&[Step::Saw, Step::Grind]),
        rests_on: vec![
            wheels.rests_on(),
            "your hour in the price book in force".to_owned(),
        ],
    })
}

/// Weighings as they are told, each a day and carats such as `7:41.05`, and one standard
/// deviation of the scale, ct. No parts are no weighings.
///
/// # Errors
/// Every part that is no pair of numbers, a weight or a scale that is not above 0.
pub fn told_weighings<'a>(
    parts: impl IntoIterator<Item = &'a str>,
    scale_ct: f64,
) -> Result<(Vec<Weighing>, Mass), Faults> {
    let mut weighings = Vec::new();
    let mut faults = Vec::new();
    for (k, part) in parts.into_iter().enumerate() {
        let pair = part
            .split_once(':')
            .and_then(|(day, ct)| Some((day.trim().parse().ok()?, ct.trim().parse().ok()?)))
            .filter(|(day, ct): &(f64, f64)| day.is_finite() && ct.is_finite() && *ct > 0.0);
        match pair {
            Some((day, ct)) => weighings.push(Weighing {
                day,
                weight: Mass::from_carats(ct),
            }),
            None => faults.push(Fault::new(
                format!("weights[{k}]"),
                format!("'{part}'"),
                "it must be a day and carats above 0, such as 7:41.05",
            )),
        }
    }
    if !(scale_ct > 0.0 && scale_ct.is_finite()) {
        faults.push(Fault::new("scale_ct", scale_ct, "it must be above 0 ct"));
    }
    if faults.is_empty() {
        Ok((weighings, Mass::from_carats(scale_ct)))
    } else {
        Err(Faults(faults))
    }
}

/// Is it still losing water, in machine form. `scale` is one standard deviation
/// of the scale.
///
/// # Errors
/// Fewer than three weighings, or weighings out of order.
pub fn drying_doc(
    piece: &str,
    weighings: &[Weighing],
    scale: Mass,
    ask: &Ask,
) -> Result<DryingDoc, JobError> {
    let fitted = Drying::fit(weighings)?;
    let spread = DryingSpread::of(weighings, scale, ask.seed, N_DRAWS)?;
    let days = weighings.last().map_or(0.0, |last| last.day);
    Ok(DryingDoc {
        format: DRYING_FORMAT.to_owned(),
        piece: piece.to_owned(),
        weighings: weighings.len(),
        weights: weighings
            .iter()
            .map(|w| DryingPointDoc {
                day: w.day,
                weight_ct: w.weight.carats(),
            })
            .collect(),
        days,
        advice: if fitted.settled && spread.settled >= SURE_ENOUGH {
            "cut"
        } else {
            "wait"
        }
        .to_owned(),
        settled: spread.settled,
        last_change_per_week: fitted.last_change_per_week,
        still_to_lose: share_figure(&spread.still_to_lose, &ask.levels),
        wait_days: length_figure(&spread.wait_days, &ask.levels),
        rests_on: vec![
            "the weights fall towards a last one at a steady rate; two weekly readings within a \
             thousandth count as equal (common practice, no source)"
                .to_owned(),
            "a steady weight does not prove that a stone will not craze: look it over with a torch \
             each time"
                .to_owned(),
        ],
    })
}

/// How sure it must be that little is left to lose before it is cut. Chosen: a
/// week more costs nothing, a crazed stone all of it.
const SURE_ENOUGH: f64 = 0.8;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn weighings_are_told_as_days_and_carats() {
        let told = told_weighings(["0:41.20", " 7 : 41.05"], 0.02);
        let (weighings, scale) = told.expect("two weighings");
        assert_eq!(weighings[1].day, 7.0);
        assert!((weighings[1].weight.carats() - 41.05).abs() < 1e-12);
        assert!((scale.carats() - 0.02).abs() < 1e-12);
        let none = told_weighings([], 0.01).expect("nothing told");
        assert!(none.0.is_empty());
    }

    #[test]
    fn all_that_is_wrong_with_the_weighings_is_told_at_once() {
        let told = told_weighings(["0:41.2", "seven:41", "14:-1", "21"], 0.0);
        let faults = told.expect_err("four faults").0;
        let fields: Vec<&str> = faults.iter().map(|fault| fault.field.as_str()).collect();
        assert_eq!(
            fields,
            ["weights[1]", "weights[2]", "weights[3]", "scale_ct"]
        );
    }
}
