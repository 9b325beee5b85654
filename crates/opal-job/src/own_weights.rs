//! What finished stones came to against the plans that were made for them.
//!
//! A cutter may lose more at the wheel than the plans allow for, or less, and one field's
//! rough more than another's. The money of the next plans counts that; their weights stay
//! as the plan has them, so that the next stone is again held against the plan itself.

use crate::bench::Bench;
use crate::error::JobError;
use crate::field::{OwnField, Pooled};
use crate::learned::KeptPlan;
use crate::records::StoneNo;
use jiff::Timestamp;
use std::collections::BTreeMap;
use std::sync::PoisonError;

/// How far the weight of a single stone scatters about its plan, in the logarithm.
/// Chosen: two of three within a factor 1.4.
const OF_ONE: f64 = 0.35;
/// How far fields differ in it, and how far all of them may lie off, in the logarithm.
/// Chosen: plans of one bench err alike, fields hardly add to it.
const BETWEEN: f64 = 0.1;
const MIDDLE_SD: f64 = 0.2;
/// Beyond this factor a stone was not cut as it was planned, and says nothing of the
/// plans. Chosen.
const MOST: f64 = 2.0;
/// A change smaller than this is not worth a word, nor a figure. Chosen.
const LEAST: f64 = 0.005;

/// A finished stone against the plan that was made for it.
#[derive(Clone, Debug, PartialEq)]
pub struct WeightOutcome {
    /// Where its rough came from; empty where nobody said.
    pub origin: String,
    /// Logarithm of its weight over the middle of what the plan forecast.
    pub log_over_plan: f64,
}

/// What is counted on for the weights of one piece, as own stones of its field and of
/// the others have taught.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct WeightsTaught {
    /// By what the planned weight is multiplied.
    pub(crate) times: f64,
    /// By how many finished stones.
    pub(crate) stones: usize,
}

impl WeightsTaught {
    /// `None` where no stone says anything, or what they say is too little to count.
    pub(crate) fn of(outcomes: &[WeightOutcome], origin: &str) -> Result<Option<Self>, JobError> {
        let mut fields: BTreeMap<&str, Vec<(f64, f64)>> = BTreeMap::new();
        for one in outcomes {
            fields
                .entry(&one.origin)
                .or_default()
                .push((one.log_over_plan, OF_ONE));
        }
        let says: Vec<Vec<(f64, f64)>> = fields.values().cloned().collect();
        let Some(pooled) = Pooled::with(&says, BETWEEN, MIDDLE_SD)? else {
            return Ok(None);
        };
        let own = match fields.keys().position(|field| *field == origin) {
            Some(field) => OwnField::Met(field),
            None => OwnField::NotMet,
        };
        let log = pooled.middle(own);
        Ok((log.abs() >= LEAST).then(|| Self {
            times: log.exp(),
            stones: outcomes.len(),
        }))
    }

    /// What is counted on, in plain words.
    pub(crate) fn words(&self) -> String {
        let percent = 100.0 * (self.times - 1.0).abs();
        format!(
            "The money counts finished weights {percent:.0} % {} than planned: that is what {} of \
             your own finished stones came to, and one alone moves little.",
            if self.times < 1.0 { "lower" } else { "higher" },
            self.stones,
        )
    }
}

impl Bench {
    /// Every finished stone of an outline that was planned, against the last plan before
    /// it was described.
    pub(crate) fn weight_outcomes(&self) -> Result<Vec<WeightOutcome>, JobError> {
        let kept = self.kept_prices()?;
        let mut outcomes = Vec::new();
        for (no, first_at, last) in kept.finished() {
            let outline = &last.finished.shape;
            if let Some(planned_ct) = self.planned_ct(no, first_at, outline)? {
                outcomes.push(WeightOutcome {
                    origin: last.finished.origin.clone().unwrap_or_default(),
                    log_over_plan: (last.finished.weight_ct / planned_ct).ln(),
                });
            }
        }
        outcomes.retain(|one| one.log_over_plan.abs() <= MOST.ln());
        Ok(outcomes)
    }

    /// The middle of the weight that the last plan before `at` forecast for one stone of
    /// this outline. Plans that old never change, so that they are read once.
    fn planned_ct(
        &self,
        no: StoneNo,
        at: Timestamp,
        outline: &str,
    ) -> Result<Option<f64>, JobError> {
        let there = || self.planned.lock().unwrap_or_else(PoisonError::into_inner);
        let key = (no, at, outline.to_owned());
        if let Some(known) = there().get(&key) {
            return Ok(*known);
        }
        let runs = self.ports().store.runs(no)?;
        let last = runs
            .iter()
            .rfind(|record| record.run.what == "plan" && record.at <= at);
        let planned = last
            .and_then(|record| serde_json::from_str::<KeptPlan>(&record.run.output).ok())
            .and_then(|plan| plan.weight_ct(outline))
            .filter(|ct| *ct > 0.0);
        there().insert(key, planned);
        Ok(planned)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn times(n: usize, over_plan: f64) -> f64 {
        let outcomes = vec![
            WeightOutcome {
                origin: "Field A".to_owned(),
                log_over_plan: over_plan.ln(),
            };
            n
        ];
        WeightsTaught::of(&outcomes, "Field A")
            .expect("pools")
            .map_or(1.0, |taught| taught.times)
    }

    /// One stone moves little, thirty that were a sixth too light are believed most of
    /// the way, and stones that came out as planned change nothing.
    #[test]
    fn weights_are_corrected_by_many_stones_and_hardly_by_one() {
        assert!(times(1, 0.85) > 0.98, "{}", times(1, 0.85));
        assert!(times(1, 0.3).ln().abs() < 0.2 * times(10, 0.3).ln().abs());
        let thirty = times(30, 0.85).ln() / 0.85_f64.ln();
        assert!((0.7..1.0).contains(&thirty), "{thirty}");
        assert_eq!(WeightsTaught::of(&[], "Field A").expect("pools"), None);
        assert_eq!(times(30, 1.0), 1.0);
        let ways = [1, 3, 10, 30].map(|n| times(n, 0.85));
        assert!(ways.is_sorted_by(|a, b| a > b), "{ways:?}");
    }

    /// A field not met yet goes by what the others came to.
    #[test]
    fn another_field_leans_on_those_that_were_met() {
        let outcomes: Vec<WeightOutcome> = (0..40)
            .map(|k| WeightOutcome {
                origin: format!("Field {}", k % 4),
                log_over_plan: 0.8_f64.ln(),
            })
            .collect();
        let of = |origin| {
            WeightsTaught::of(&outcomes, origin)
                .expect("pools")
                .expect("taught")
        };
        let (met, unmet) = (of("Field 1"), of("Field 9"));
        assert!(met.times < 0.9 && unmet.times < 0.9, "{met:?} {unmet:?}");
        assert!(unmet.words().contains("lower") && unmet.words().contains("40"));
    }
}
