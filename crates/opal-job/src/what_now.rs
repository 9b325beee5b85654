//! What to do next at the bench.

use crate::appraise::BookAppraiser;
use crate::ask::Ask;
use crate::at_the_bench::AtTheBench;
use crate::bench::{Bench, PricesInForce};
use crate::error::JobError;
use crate::held_insides::HeldInsides;
use crate::wheels::WheelsInForce;
use opal_bench::{Action, Followed, Now, NowAsk, now};
use opal_interior::forms::FormPrior;
use opal_report::json::{
    AdviceDoc, DepthDoc, FacingDoc, NOW_FORMAT, NowDoc, length_figure, money_figure,
};

impl Bench {
    /// What to do next, in machine form: as it was told before, where nothing
    /// changed since, else worked out and kept as a forecast.
    ///
    /// # Errors
    /// As [`AtTheBench::now_doc`]; the store fails.
    pub fn what_now(
        &self,
        at: &AtTheBench,
        prices: &PricesInForce,
        wheels: &WheelsInForce,
        ask: &Ask,
        held: &mut HeldInsides,
    ) -> Result<NowDoc, JobError> {
        let inputs = self.inputs_at_the_bench(at, prices, wheels, ask)?;
        if let Some(record) = &at.opened.record
            && let Some(kept) = self.ports().store.last_run(record.no, "now", &inputs)?
            && let Ok(doc) = serde_json::from_str(&kept.run.output)
        {
            return Ok(doc);
        }
        let doc = at.now_doc(prices, wheels, ask, held)?;
        let text = serde_json::to_string(&doc)?;
        self.keep(&at.opened, "now", &inputs, ask, &text)?;
        Ok(doc)
    }
}

impl AtTheBench {
    /// What to do next, from all that was seen so far.
    ///
    /// # Errors
    /// Insides that cannot be drawn, a price book that does not cover the stone.
    pub fn now(
        &self,
        prices: &PricesInForce,
        wheels: &WheelsInForce,
        ask: &Ask,
        held: &mut HeldInsides,
    ) -> Result<(Now, Vec<String>), JobError> {
        let settings = &prices.settings;
        let worked = &self.worked;
        let (interiors, followed) = held.of(self, ask)?;
        let appraiser = BookAppraiser::new(
            &worked.evidence,
            &worked.stone,
            settings,
            interiors.n,
            ask.seed,
        )?;
        let options = settings.one_stone_quickly(ask.seed);
        let plans = opal_plan::propose(
            &worked.stone,
            &interiors,
            &appraiser,
            &settings.rules,
            &options,
        )?;
        let now = now(&NowAsk {
            worked,
            interiors: &interiors,
            plans: &plans,
            appraiser: &appraiser,
            rules: &settings.rules,
            wheels: &wheels.set.wheels,
            minute: settings.costs.labour_per_hour / 60.0,
            seed: ask.seed,
        })?;
        let mut notes = now.notes.clone();
        notes.extend(interiors.warnings.clone());
        if let Some(origin) = &self.origin {
            notes.push(origin.words(&FormPrior::of(worked.evidence.piece.form)));
        }
        if interiors.n < ask.n_interiors {
            notes.push(format!(
                "{} of {} possible insides agree with the potch on the face; the answer rests on \
                 those.",
                interiors.n, ask.n_interiors
            ));
        }
        if let Followed::DrawnAnew(why) = followed {
            notes.push(why);
        }
        if settings.prices_invented() {
            notes.push(crate::rests_on::INVENTED_PRICES.to_owned());
        }
        Ok((now, notes))
    }

    /// What to do next, in machine form.
    ///
    /// # Errors
    /// As [`AtTheBench::now`].
    pub fn now_doc(
        &self,
        prices: &PricesInForce,
        wheels: &WheelsInForce,
        ask: &Ask,
        held: &mut HeldInsides,
    ) -> Result<NowDoc, JobError> {
        let (now, notes) = self.now(prices, wheels, ask, held)?;
        let levels = &ask.levels;
        let cents = |v: f64| (v * 100.0).round() / 100.0 + 0.0;
        let share = |v: f64| (v * 1e4).round() / 1e4;
        let advice = now
            .advice
            .iter()
            .map(|one| {
                let (action, at_mm, depth_mm) = match one.action {
                    Action::OpenWindow { at_mm } => ("open-window", Some(at_mm), None),
                    Action::Saw => ("saw", None, None),
                    Action::TakeOff { depth } => ("take-off", None, Some(depth.mm())),
                    Action::DigOut { at_mm, .. } => ("dig-out", Some(at_mm), None),
                    Action::FinerWheel { .. } => ("finer-wheel", None, None),
                    Action::StopAndShape => ("stop-and-shape", None, None),
                    Action::KeepWhole => ("keep-whole", None, None),
                    Action::SellAsItIs => ("sell-as-it-is", None, None),
                };
                AdviceDoc {
                    action: action.to_owned(),
                    words: one.words.clone(),
                    at_mm,
                    depth_mm,
                    worth: money_figure(&one.worth, levels),
                    gain: cents(one.gain),
                    gain_error: cents(one.gain_error),
                    ruin: share(one.ruin),
                }
            })
            .collect();
        let facing = now.facing.as_ref().map(|facing| FacingDoc {
            blind_mm: share(facing.blind.mm()),
            stop_depth_mm: length_figure(&facing.stop_depth_mm, levels),
            advised: money_figure(&facing.advised, levels),
            stop_now: money_figure(&facing.stop_now, levels),
            best_fixed_mm: share(facing.best_fixed.0.mm()),
            best_fixed: money_figure(&facing.best_fixed.1, levels),
            seen_inside: money_figure(&facing.seen_inside, levels),
            through: share(
                facing.advised_through.iter().filter(|t| **t).count() as f64
                    / facing.advised_through.len() as f64,
            ),
            curve: facing
                .steps
                .iter()
                .map(|step| DepthDoc {
                    depth_mm: share(step.depth.mm()),
                    worth: money_figure(&step.worth, levels),
                    covered: share(step.covered),
                    colour: share(step.colour),
                    through: share(step.through),
                })
                .collect(),
        });
        Ok(NowDoc {
            format: NOW_FORMAT.to_owned(),
            piece: self.worked.evidence.piece.name.clone(),
            seed: ask.seed.0,
            n_interiors: now.n_interiors,
            currency: prices.settings.currency().code().to_owned(),
            prices_invented: prices.settings.prices_invented(),
            n_events: self.events.len(),
            advice,
            facing,
            notes,
        })
    }
}
