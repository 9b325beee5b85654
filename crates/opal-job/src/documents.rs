//! Answers as documents: machine form and plain words from the same results.

use crate::error::JobError;
use crate::job::{BidAnswer, Job, Plans};
use crate::ports::Progress;
use crate::records::StoneRecord;
use opal_interior::at_points;
use opal_plan::Order;
use opal_report::json::{
    AskedDoc, BidDoc, BidFacts, InteriorDoc, ListDoc, ListedDoc, PLAN_FORMAT, PlanDoc, PlanWhyDoc,
    RecordDoc, ShowDoc, WayToCutDoc, plan_key,
};
use opal_report::text::{self, Detail};
use opal_value::PriceUnit;
use std::sync::Arc;

/// A record as documents show it.
#[must_use]
pub fn record_doc(record: &StoneRecord) -> RecordDoc {
    RecordDoc {
        number: record.no.0,
        taken_in: record.taken_in.to_string(),
        revisions: record.revisions,
        invented: record.invented,
    }
}

/// The stones of a store.
#[must_use]
pub fn list_doc(stones: &[StoneRecord]) -> ListDoc {
    ListDoc {
        format: opal_report::json::LIST_FORMAT.to_owned(),
        stones: stones
            .iter()
            .map(|stone| ListedDoc {
                piece: stone.name.clone(),
                record: record_doc(stone),
            })
            .collect(),
    }
}

/// The word for how to price a stone.
fn price_word(unit: PriceUnit) -> &'static str {
    match unit {
        PriceUnit::Carat => "carat",
        PriceUnit::Piece => "piece",
    }
}

impl Job {
    /// The stone as it was taken in.
    ///
    /// # Errors
    /// As [`Job::stone`].
    pub fn show_doc(
        &mut self,
        record: Option<&StoneRecord>,
        progress: &dyn Progress,
    ) -> Result<ShowDoc, JobError> {
        let stone = self.stone(progress)?;
        Ok(ShowDoc::new(
            self.evidence(),
            &stone,
            record.map(record_doc),
        ))
    }

    /// What may lie inside at given places, mm in the stone frame.
    ///
    /// # Errors
    /// As [`Job::interiors`].
    pub fn interior_doc(
        &mut self,
        points_mm: &[[f64; 2]],
        progress: &dyn Progress,
    ) -> Result<InteriorDoc, JobError> {
        let interiors = self.interiors(progress)?;
        let levels = &self.ask().levels;
        let points = at_points(&interiors, points_mm, levels);
        Ok(InteriorDoc::new(
            &self.evidence().piece.name,
            &interiors,
            &points,
            levels,
        ))
    }

    fn plan_words(&mut self, progress: &dyn Progress) -> Result<PlanWords, JobError> {
        let interiors = self.interiors(progress)?;
        let plans = self.plans(progress)?;
        let mut warnings = interiors.warnings.clone();
        if self.settings().prices_invented() {
            warnings.push(crate::rests_on::INVENTED_PRICES.to_owned());
        }
        Ok(PlanWords {
            rests_on: crate::rests_on::list(self.settings(), &interiors, &plans),
            plans,
            warnings,
        })
    }

    /// The ways to cut, in machine form.
    ///
    /// # Errors
    /// As [`Job::plans`].
    pub fn plan_doc(&mut self, progress: &dyn Progress) -> Result<PlanDoc, JobError> {
        let words = self.plan_words(progress)?;
        let plans = &words.plans;
        let levels = &self.ask().levels;
        Ok(PlanDoc {
            format: PLAN_FORMAT.to_owned(),
            piece: self.evidence().piece.name.clone(),
            seed: self.ask().seed.0,
            n_interiors: self.ask().n_interiors,
            currency: self.settings().currency().code().to_owned(),
            prices_invented: self.settings().prices_invented(),
            asked: self.asked_doc(),
            plans: (0..plans.plans.len())
                .map(|k| {
                    WayToCutDoc::new(
                        &plans.plans[k],
                        plans.price_by[k],
                        &plans.price_why[k],
                        plans.mean_cost[k],
                        &plans.minutes[k],
                        levels,
                    )
                })
                .collect(),
            why: PlanWhyDoc::new(&plans.why, self.settings().currency()),
            rests_on: words.rests_on,
            warnings: words.warnings,
        })
    }

    fn asked_doc(&self) -> AskedDoc {
        let ask = self.ask();
        let rules = ask.rules(&self.settings().rules);
        AskedDoc {
            most_stones: ask.most_stones,
            orders: ask.wishes.orders.iter().map(Order::title).collect(),
            pinned_mm: ask
                .wishes
                .pinned
                .iter()
                .map(|pinned| pinned.outline_mm.clone())
                .collect(),
            forbidden_mm: ask.wishes.forbidden.clone(),
            kerf_mm: rules.kerf.mm(),
            saw_reach_mm: rules.saw_reach.mm(),
        }
    }

    /// The ways to cut, in plain words.
    ///
    /// # Errors
    /// As [`Job::plans`].
    pub fn plan_text(
        &mut self,
        detail: Detail,
        progress: &dyn Progress,
    ) -> Result<String, JobError> {
        let words = self.plan_words(progress)?;
        Ok(text::plans(
            &self.evidence().piece.name,
            &words.plans.plans,
            &words.plans.price_by,
            &words.plans.why,
            self.settings().currency(),
            &words.rests_on,
            &words.warnings,
            detail,
        ))
    }

    /// The most to pay, in machine form.
    ///
    /// # Errors
    /// As [`Job::bid`].
    pub fn bid_doc(&mut self, progress: &dyn Progress) -> Result<BidDoc, JobError> {
        let answer = self.bid(progress)?;
        Ok(BidDoc::new(&self.facts(&answer), &self.ask().levels)?)
    }

    /// The most to pay, in plain words.
    ///
    /// # Errors
    /// As [`Job::bid`].
    pub fn bid_text(
        &mut self,
        detail: Detail,
        progress: &dyn Progress,
    ) -> Result<String, JobError> {
        let answer = self.bid(progress)?;
        Ok(text::bid(&self.facts(&answer), detail))
    }

    fn facts<'a>(&'a self, answer: &'a BidAnswer) -> BidFacts<'a> {
        BidFacts {
            piece: &self.evidence().piece.name,
            seed: self.ask().seed.0,
            prices_invented: self.settings().prices_invented(),
            bid: &answer.bid,
            limits: &answer.limits,
            at_asking: answer.at_asking.as_ref(),
            tender: answer.tender.as_ref(),
            plan: plan_key(answer.plan),
            price_by: answer.price_by.map(price_word),
            sentence: &answer.sentence,
            rests_on: &answer.rests_on,
            warnings: &answer.warnings,
        }
    }
}

/// Plans with the words that stand beside them.
struct PlanWords {
    plans: Arc<Plans>,
    rests_on: Vec<String>,
    warnings: Vec<String>,
}
