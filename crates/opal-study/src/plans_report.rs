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
    /// Mean of what the best plan found was forecast to bring.
    pub forecast: f64,
    /// The ways to choose.
    pub choices: Vec<ChoiceDoc>,
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
            forecast: self.over_stones(|s| s.forecast).0,
            choices: (0..CHOICES.len()).map(|c| self.choice(c)).collect(),
        }
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
        out += &format!(
            "\n± is one standard error. The best plan found was forecast to bring {:.0}, and \
             brought {:.0}; cut as laid out, whatever was seen, {:.0}.\n",
            doc.forecast, doc.choices[0].brought, doc.choices[0].brought_unrevised
        );
        out
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
