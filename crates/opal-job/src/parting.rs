//! Pieces that came off at the bench as stones of their own, each with its share
//! of the cost.

use crate::appraise::BookAppraiser;
use crate::ask::Ask;
use crate::at_the_bench::AtTheBench;
use crate::bench::Bench;
use crate::error::JobError;
use crate::ledger::CostMove;
use crate::records::{EventRecord, Happening, NewEvent, NewStone, StoneRecord, birth_mark};
use crate::settings::Settings;
use jiff::Timestamp;
use opal_bench::{Event, Insides, Offcut, Worked, cut_to};
use opal_evidence::{Fault, Faults};
use opal_interior::{DrawOptions, Interiors};
use opal_plan::plan;
use opal_stone::Stone;
use opal_units::{Money, MoneyError};
use serde::{Deserialize, Serialize};
use serde_json::json;

/// Kind of the record that tells how the cost was parted.
const PARTED: &str = "parted";
/// Kinds of the records that a piece carries which came off another.
const PARTED_FROM: &str = "parted-from";
const WITHDRAWN: &str = "withdrawn";
const PUT_BACK: &str = "put-back";

/// Insides on which the parts are valued. Chosen: a share is then known to a few
/// hundredths, as well as a price is.
const N_INTERIORS: usize = 240;
/// Parts of a carat that weights are counted in.
const PER_CARAT: f64 = 1000.0;

/// What the cost was parted by.
#[derive(Clone, Copy, Debug, Deserialize, Eq, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum ShareRule {
    /// What each part was expected to bring when it was parted: the mean over
    /// the same possible insides of the best way to cut it, or of selling it as
    /// it is, by the price book in force.
    ExpectedValue,
    /// Weight: nothing was expected of any part.
    Weight,
}

/// True for a piece that came off another: what was seen of it was seen of that one.
pub(crate) fn came_off(events: &[EventRecord]) -> bool {
    events.iter().any(|record| record.event.kind == PARTED_FROM)
}

/// One part of a piece.
#[derive(Clone, Debug, Deserialize, Eq, PartialEq, Serialize)]
pub struct PartShare {
    /// What the stone is called; the piece itself goes on under its own name.
    pub stone: String,
    /// What its share goes by: minor units of money, or thousandths of a carat.
    pub weight: u64,
}

/// How the cost of a piece was parted when something came off it.
#[derive(Clone, Debug, Deserialize, Eq, PartialEq, Serialize)]
pub struct Parted {
    /// The event at the bench that did it, counted from 1.
    pub event: usize,
    /// What it was parted by.
    pub rule: ShareRule,
    /// What stayed first, then what came off.
    pub parts: Vec<PartShare>,
}

impl Parted {
    /// A cost in its shares, which sum to it exactly.
    ///
    /// # Errors
    /// No part has any weight.
    pub fn share_out(&self, cost: Money) -> Result<Vec<Money>, MoneyError> {
        let weights: Vec<u64> = self.parts.iter().map(|part| part.weight).collect();
        cost.share_out(&weights)
    }

    /// The share of the cost that goes to part `k`, 0..=1.
    #[must_use]
    pub fn share(&self, k: usize) -> f64 {
        let all: f64 = self.parts.iter().map(|part| part.weight as f64).sum();
        self.parts
            .get(k)
            .map_or(0.0, |part| part.weight as f64 / all.max(1.0))
    }

    /// From what each part is expected to bring, major units, and its weight.
    fn new(event: usize, parts: &[(&str, f64, &Stone)], settings: &Settings) -> Self {
        let minor = |major: f64| {
            Money::from_major_rounded(major.max(0.0), settings.currency())
                .map_or(0, |money| money.minor().unsigned_abs())
        };
        let rule = if parts.iter().any(|part| minor(part.1) > 0) {
            ShareRule::ExpectedValue
        } else {
            ShareRule::Weight
        };
        let weight = |&(_, worth, stone): &(&str, f64, &Stone)| match rule {
            ShareRule::ExpectedValue => minor(worth),
            ShareRule::Weight => (stone.weight.0.carats() * PER_CARAT).round().max(1.0) as u64,
        };
        Self {
            event,
            rule,
            parts: parts
                .iter()
                .map(|part| PartShare {
                    stone: part.0.to_owned(),
                    weight: weight(part),
                })
                .collect(),
        }
    }
}

/// The partings on record, oldest first.
pub(crate) fn partings(records: &[EventRecord]) -> Result<Vec<Parted>, serde_json::Error> {
    records
        .iter()
        .filter(|record| record.event.kind == PARTED)
        .map(|record| serde_json::from_str(&record.event.body))
        .collect()
}

/// Refuses a piece whose sawing was undone.
pub(crate) fn refuse_withdrawn(name: &str, records: &[EventRecord]) -> Result<(), Faults> {
    if withdrawn(records) {
        let limit = "the cut that made it was undone; undo that first";
        return Err(Fault::new("stone", name, limit).into());
    }
    Ok(())
}

/// True for a piece whose sawing was undone.
pub(crate) fn withdrawn(records: &[EventRecord]) -> bool {
    let last = records
        .iter()
        .rfind(|record| [WITHDRAWN, PUT_BACK].contains(&record.event.kind.as_str()));
    last.is_some_and(|record| record.event.kind == WITHDRAWN)
}

impl Bench {
    /// What else goes on record when the stone before becomes the stone after:
    /// pieces that came off become stones of their own, those whose cut was
    /// undone are withdrawn. Gives what it does to the cost.
    pub(crate) fn partings_between(
        &self,
        whole: &StoneRecord,
        before: &AtTheBench,
        after: &AtTheBench,
        at: Timestamp,
        happening: &mut Happening,
    ) -> Result<Vec<CostMove>, JobError> {
        let mut moves = Vec::new();
        let same = |a: &Offcut, b: &Offcut| a.event == b.event && a.name == b.name;
        let (old, new) = (&before.worked.offcuts, &after.worked.offcuts);
        for gone in old.iter().filter(|a| !new.iter().any(|b| same(a, b))) {
            let record = self.offcut_of(whole, gone)?;
            let own = self.at_the_bench(&gone.name, &Ask::default())?;
            let mut stand = own.events.iter().zip(&own.worked.standing);
            if stand.any(|((_, event), stands)| *stands && !matches!(event, Event::Undone { .. })) {
                let limit = "it was worked since: undo what was logged of it first";
                return Err(Faults::from(Fault::new("offcut", &gone.name, limit)).into());
            }
            happening
                .events
                .push((record.no, origin(WITHDRAWN, whole, gone)));
            moves.push(CostMove::PutBack { piece: record.mark });
        }
        for offcut in new.iter().filter(|b| !old.iter().any(|a| same(a, b))) {
            if let Ok(record) = self.offcut_of(whole, offcut) {
                happening
                    .events
                    .push((record.no, origin(PUT_BACK, whole, offcut)));
                let parted = before.partings.iter().find(|p| p.event == offcut.event);
                moves.extend(parted.map(|parted| CostMove::CameOff {
                    piece: record.mark,
                    parted: parted.clone(),
                }));
                continue;
            }
            let parted = self.parted(before, after, offcut)?;
            happening.events.push((
                whole.no,
                NewEvent {
                    kind: PARTED.to_owned(),
                    body: serde_json::to_string(&parted)?,
                },
            ));
            let evidence = offcut.evidence(&after.worked.evidence);
            let file = self.ports().reader.written(&evidence);
            moves.push(CostMove::CameOff {
                piece: birth_mark(&offcut.name, at, &file),
                parted,
            });
            happening.stones.push(NewStone {
                name: offcut.name.clone(),
                invented: whole.invented,
                file,
                events: vec![origin(PARTED_FROM, whole, offcut)],
            });
        }
        Ok(moves)
    }

    /// The stone that a piece became when it came off.
    fn offcut_of(&self, whole: &StoneRecord, offcut: &Offcut) -> Result<StoneRecord, JobError> {
        let record = self.ports().store.find(&offcut.name)?;
        let wanted = origin(PARTED_FROM, whole, offcut);
        let events = self.ports().store.events(record.no)?;
        if events.iter().any(|record| record.event == wanted) {
            return Ok(record);
        }
        let limit = "another stone has this name";
        Err(Faults::from(Fault::new("offcut", &offcut.name, limit)).into())
    }

    fn parted(
        &self,
        before: &AtTheBench,
        after: &AtTheBench,
        offcut: &Offcut,
    ) -> Result<Parted, JobError> {
        let ask = Ask::default();
        let options = DrawOptions {
            n: N_INTERIORS,
            seed: ask.seed,
        };
        let settings = self.prices()?.settings;
        let origin = before.origin.as_ref();
        let insides = Insides::draw(&before.worked, &before.taken_in, origin, &options)?;
        let worth = |part: &Stone| expected(&before.worked, part, insides.whole(), &settings, &ask);
        let (stayed, came_off) = (&after.worked.stone, &offcut.stone);
        let parts = [
            (
                after.opened.evidence.piece.name.as_str(),
                worth(stayed)?,
                stayed,
            ),
            (offcut.name.as_str(), worth(came_off)?, came_off),
        ];
        Ok(Parted::new(offcut.event, &parts, &settings))
    }
}

/// What a part is expected to bring: the mean of the best that can be done with it.
fn expected(
    worked: &Worked,
    part: &Stone,
    interiors: &Interiors,
    settings: &Settings,
    ask: &Ask,
) -> Result<f64, JobError> {
    let interiors = cut_to(interiors.clone(), worked, part);
    let appraiser = BookAppraiser::new(&worked.evidence, part, settings, interiors.n, ask.seed)?;
    let options = settings.one_stone_quickly(ask.seed);
    let plans = plan(part, &interiors, &appraiser, &settings.rules, &options)?;
    Ok(plans.first().map_or(0.0, |best| best.value.adapting.mean()))
}

fn origin(kind: &str, whole: &StoneRecord, offcut: &Offcut) -> NewEvent {
    NewEvent {
        kind: kind.to_owned(),
        body: json!({ "mark": whole.mark, "stone": whole.name, "event": offcut.event }).to_string(),
    }
}
