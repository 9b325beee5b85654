//! The study of plans as a table and as a document for programs.

use crate::plans::{CHOICES, PlannedStone, PlansReport};
use schemars::JsonSchema;
use serde::Serialize;

/// Name and version of the document.
pub const PLANS_STUDY_FORMAT: &str = "opalwright-study-plans/1";

/// The study for programs: invented money, net of the work.
#[derive(Clone, Debug, PartialEq, JsonSchema, Serialize)]
pub struct PlansStudyDoc {
    /// [`PLANS_STUDY_FORMAT`].
    pub format: &'static str,
    /// Stones that were planned and cut.
    pub stones: usize,
    /// Stones that were left out: no bar was seen on them.
    pub left_out: usize,
    /// Possible insides that each stone was planned on.
    pub interiors: usize,
    /// The law of the truth.
    pub law: &'static str,
    /// Where it all started from.
    pub seed: u64,
    /// Mean of the best plan known to one who sees the inside.
    pub best: f64,
    /// What the best plan found was forecast to bring, against what it brought.
    pub forecast: ForecastDoc,
    /// What looking several times as hard would have found, where that was asked.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub longer: Option<LongerDoc>,
    /// The ways to choose.
    pub choices: Vec<ChoiceDoc>,
}

/// What looking several times as hard finds, on insides that neither search saw.
#[derive(Clone, Debug, PartialEq, JsonSchema, Serialize)]
pub struct LongerDoc {
    /// Mean of its best plans on the insides kept aside.
    pub aside: f64,
    /// That less the same of the shorter search.
    pub gain: f64,
    /// One standard error of that.
    pub gain_error: f64,
    /// The gain as a share of `aside`.
    pub gap: f64,
    /// Stones on which it found more.
    pub better_on: usize,
}

/// Forecast of the best plan found, against what it brought.
#[derive(Clone, Debug, PartialEq, JsonSchema, Serialize)]
pub struct ForecastDoc {
    /// Mean forecast, on the insides that the plan was sought and chosen on.
    pub mean: f64,
    /// Mean of the same plans on as many other insides.
    pub aside: f64,
    /// Mean of the first less the second: what choosing the best flatters.
    pub flattered: f64,
    /// One standard error of that.
    pub flattered_error: f64,
    /// Mean of what was brought less the forecast.
    pub brought_over: f64,
    /// One standard error of that.
    pub brought_over_error: f64,
    /// Stones on which it brought more than the middle of its forecast.
    pub above_middle: usize,
    /// Stones on which it lay within the range said to hold nine in ten.
    pub within_nine_in_ten: usize,
}

/// One way to choose what to cut.
#[derive(Clone, Debug, PartialEq, JsonSchema, Serialize)]
pub struct ChoiceDoc {
    /// In words.
    pub choice: &'static str,
    /// Mean of what it brought when the cutter adapted to what was seen.
    pub brought: f64,
    /// Mean of what it brought when cut as laid out.
    pub brought_unrevised: f64,
    /// Mean regret: the best plan knowing the inside, less what it brought.
    pub regret: f64,
    /// One standard error of the mean regret.
    pub regret_error: f64,
    /// What it brought as a share of the best, both summed over all stones.
    pub share_of_best: f64,
    /// Stones on which no other of these ways brought more.
    pub first_on: usize,
    /// What the best plan found brought over this way, on the same stones.
    pub found_over: f64,
    /// One standard error of that.
    pub found_over_error: f64,
}

impl PlansReport {
    /// As a document for programs.
    #[must_use]
    pub fn document(&self) -> PlansStudyDoc {
        PlansStudyDoc {
            format: PLANS_STUDY_FORMAT,
            stones: self.stones.len(),
            left_out: self.left_out,
            interiors: self.options.interiors,
            law: self.options.law.words(),
            seed: self.options.seed.0,
            best: self.over_stones(|s| s.best).0,
            forecast: self.forecast(),
            longer: self.longer(),
            choices: (0..CHOICES.len()).map(|c| self.choice(c)).collect(),
        }
    }

    fn forecast(&self) -> ForecastDoc {
        let (flattered, flattered_error) = self.over_stones(|s| s.forecast.mean - s.forecast.aside);
        let (brought_over, brought_over_error) =
            self.over_stones(|s| s.brought[0] - s.forecast.mean);
        let count = |of: fn(f64) -> bool| {
            let ranks = self.stones.iter().map(|s| s.forecast.rank);
            ranks.filter(|&rank| of(rank)).count()
        };
        ForecastDoc {
            mean: self.over_stones(|s| s.forecast.mean).0,
            aside: self.over_stones(|s| s.forecast.aside).0,
            flattered,
            flattered_error,
            brought_over,
            brought_over_error,
            above_middle: count(|rank| rank > 0.5),
            within_nine_in_ten: count(|rank| (0.05..=0.95).contains(&rank)),
        }
    }

    fn longer(&self) -> Option<LongerDoc> {
        let both = |s: &PlannedStone| Some((s.longer?.aside, s.forecast.aside));
        if self.stones.is_empty() || self.stones.iter().any(|s| s.longer.is_none()) {
            return None;
        }
        let gain_on = |s: &PlannedStone| both(s).map_or(0.0, |(longer, own)| longer - own);
        let aside = self
            .over_stones(|s| both(s).map_or(0.0, |(longer, _)| longer))
            .0;
        let (gain, gain_error) = self.over_stones(gain_on);
        Some(LongerDoc {
            aside,
            gain,
            gain_error,
            gap: if aside > 0.0 { gain / aside } else { 0.0 },
            better_on: self.stones.iter().filter(|s| gain_on(s) > 0.0).count(),
        })
    }

    fn choice(&self, c: usize) -> ChoiceDoc {
        let brought = self.over_stones(|s| s.brought[c]).0;
        let (regret, regret_error) = self.over_stones(|s| s.best - s.brought[c]);
        let (found_over, found_over_error) = self.over_stones(|s| s.brought[0] - s.brought[c]);
        let first = |s: &&PlannedStone| s.brought.iter().all(|other| s.brought[c] >= *other);
        let best = self.over_stones(|s| s.best).0;
        ChoiceDoc {
            choice: CHOICES[c],
            brought,
            brought_unrevised: self.over_stones(|s| s.brought_unrevised[c]).0,
            regret,
            regret_error,
            share_of_best: if best > 0.0 { brought / best } else { 0.0 },
            first_on: self.stones.iter().filter(first).count(),
            found_over,
            found_over_error,
        }
    }

    /// Mean over the stones and its standard error; zeros where there is none.
    fn over_stones(&self, of: impl Fn(&PlannedStone) -> f64) -> (f64, f64) {
        let n = self.stones.len().max(1) as f64;
        let mean = self.stones.iter().map(&of).sum::<f64>() / n;
        let square: f64 = self.stones.iter().map(|s| (of(s) - mean).powi(2)).sum();
        (mean, (square / (n - 1.0).max(1.0) / n).sqrt())
    }

    /// As a table in plain text.
    #[must_use]
    pub fn table(&self) -> String {
        let doc = self.document();
        let mut out = format!(
            "{} invented stones ({} left out), planned on {} possible insides each, then cut as \
             they truly are.\nInvented money, net of work. Regret: what the best plan knowing \
             the inside brings ({:.0} on average), less what the way brought.\n\n\
             {:<30} {:>8} {:>16} {:>8} {:>9}   best plan found brings over it\n",
            doc.stones,
            doc.left_out,
            doc.interiors,
            doc.best,
            "way to choose",
            "brought",
            "regret",
            "of best",
            "first on"
        );
        for (c, choice) in doc.choices.iter().enumerate() {
            let over = if c == 0 {
                String::new()
            } else {
                format!(
                    "{:>8.0} ± {:.0}",
                    choice.found_over, choice.found_over_error
                )
            };
            out += &format!(
                "{:<30} {:>8.0} {:>16} {:>6.0} % {:>9}   {over}\n",
                choice.choice,
                choice.brought,
                format!("{:.0} ± {:.0}", choice.regret, choice.regret_error),
                100.0 * choice.share_of_best,
                choice.first_on,
            );
        }
        out += &doc.forecast.words(doc.choices[0].brought, doc.stones);
        if let Some(longer) = &doc.longer {
            out += &format!(
                "\nLooking several times as hard finds plans worth {:.0} on insides that neither \
                 search saw: {:.0} ± {:.0} more, {:.1} % of it; more on {} of {} stones.\n",
                longer.aside,
                longer.gain,
                longer.gain_error,
                100.0 * longer.gap,
                longer.better_on,
                doc.stones,
            );
        }
        out
    }
}

impl ForecastDoc {
    fn words(&self, brought: f64, stones: usize) -> String {
        let more_or_less = |by: f64| if by < 0.0 { "less" } else { "more" };
        let luck = if self.brought_over.abs() <= 2.0 * self.brought_over_error {
            "no more than luck explains"
        } else {
            "more than luck explains"
        };
        format!(
            "\n± is one standard error. Does the best plan found bring what it is forecast to?\n\
             {:<52} {:>8.0}\n{:<52} {:>8.0}   {:.0} ± {:.0} {}: what choosing the best flatters\n\
             {:<52} {brought:>8.0}   {:.0} ± {:.0} {} than forecast: {luck}\n\
             On {} of {stones} stones it brought more than the middle of its forecast; on {} it \
             lay within the range said to hold nine in ten.\n",
            "forecast, on the insides it was chosen on",
            self.mean,
            "the same plans on as many other insides",
            self.aside,
            self.flattered.abs(),
            self.flattered_error,
            more_or_less(-self.flattered),
            "brought, cut as the stones truly are",
            self.brought_over.abs(),
            self.brought_over_error,
            more_or_less(self.brought_over),
            self.above_middle,
            self.within_nine_in_ten,
        )
    }
}

/// The schema of [`PlansStudyDoc`] as text.
#[must_use]
pub fn plans_study_schema() -> String {
    let schema = schemars::schema_for!(PlansStudyDoc);
    let mut text = serde_json::to_string_pretty(&schema)
        .expect("a schema is plain JSON, which always becomes text");
    text.push('\n');
    text
}
