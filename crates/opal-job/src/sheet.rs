//! What stands on the bench sheet of a plan.

mod finish;
mod money;
mod steps;
mod views;

use crate::error::JobError;
use crate::job::{Job, Plans};
use crate::ports::{Progress, Stage};
use crate::wheels::WheelsInForce;
use opal_plan::{CutKind, CutStone, ValuedPlan};
use opal_reference::cautions::{self, Step};
use opal_report::sheet::{Paper, SheetCaution, SheetContent, SheetFigure, sheet_pdf};
use opal_units::Draws;

/// How a bench sheet is printed, and for which wheels.
#[derive(Clone, Copy, Debug)]
pub struct SheetPrint<'a> {
    /// The wheels that the face is finished with.
    pub wheels: &'a WheelsInForce,
    /// What it is printed on.
    pub paper: Paper,
    /// Printed as it is.
    pub date: &'a str,
    /// True for an invented stone.
    pub invented: bool,
}

impl Job {
    /// What stands on the sheet of plan `k`, counted from 0, the best first.
    ///
    /// # Errors
    /// As [`Job::bid`]; no such plan.
    pub fn sheet(
        &mut self,
        k: usize,
        print: &SheetPrint<'_>,
        progress: &dyn Progress,
    ) -> Result<SheetContent, JobError> {
        let stone = self.stone(progress)?;
        let interiors = self.interiors(progress)?;
        let plans = self.plans(progress)?;
        let bid = self.bid(progress)?;
        let valued = plans.plans.get(k).ok_or(JobError::NoSuchPlan {
            asked: k + 1,
            there: plans.plans.len(),
        })?;
        progress.at(Stage::Sheet, 0.0);
        let currency = self.settings().currency();
        let plan = &valued.plan;
        let wheels = &print.wheels.set.wheels;
        let finish = finish::finish(valued, &self.settings().rules, wheels);
        let content = SheetContent {
            title: self.evidence().piece.name.clone(),
            subtitle: subtitle(valued, &plans, k),
            date: print.date.to_owned(),
            paper: print.paper,
            invented: print.invented,
            above: views::from_above(&stone, &interiors, valued, self.evidence()),
            side: plan
                .stones
                .first()
                .map(|cut| views::from_the_side(&stone, &interiors, valued, cut)),
            templates: views::templates(plan),
            steps: steps::steps(valued, finish.as_ref()),
            notes: steps::notes(valued, finish.as_ref(), print.wheels),
            figures: figures(valued, currency.code()),
            rests_on: rests_on(&bid.sentence),
            cautions: words_of_caution(valued),
            weigh: weigh(plan.stones.len()),
        };
        progress.at(Stage::Sheet, 1.0);
        Ok(content)
    }

    /// The sheet of a plan as a PDF, of one page where one can hold it.
    ///
    /// # Errors
    /// As [`Job::sheet`]; a number that cannot be drawn.
    pub fn sheet_pdf(
        &mut self,
        k: usize,
        print: &SheetPrint<'_>,
        progress: &dyn Progress,
    ) -> Result<Vec<u8>, JobError> {
        let content = self.sheet(k, print, progress)?;
        Ok(sheet_pdf(&content)?)
    }
}

/// What the bid says it rests on, without the plan: the sheet may be another's.
fn rests_on(sentence: &str) -> String {
    let words = sentence.strip_prefix("It rests on ").unwrap_or(sentence);
    match words.split_once(", and the plan to") {
        Some((before, _)) => format!("{before}."),
        None => words.to_owned(),
    }
}

fn subtitle(valued: &ValuedPlan, plans: &Plans, k: usize) -> String {
    let stones: Vec<String> = valued.plan.stones.iter().map(sized_words).collect();
    let what = if stones.is_empty() {
        opal_report::text::family_words(valued.plan.kind).to_owned()
    } else {
        stones.join(", ")
    };
    let by = match plans.price_by.get(k).copied().flatten() {
        Some(opal_value::PriceUnit::Carat) => "; price it by the carat",
        Some(opal_value::PriceUnit::Piece) => "; price it by the piece",
        None => "",
    };
    format!("Plan {} of {}: {what}{by}", k + 1, plans.plans.len())
}

/// A stone's name with the sizes that its template shows.
fn sized_words(cut: &CutStone) -> String {
    let [length, width] = views::sizes_mm(cut);
    let name = match &cut.kind {
        CutKind::Standard { family, .. } => family.as_str(),
        CutKind::Freeform => "freeform",
        CutKind::Specimen => "specimen, natural outline",
    };
    format!("{name} {length:.1} × {width:.1} mm")
}

fn figures(valued: &ValuedPlan, currency: &str) -> Vec<SheetFigure> {
    let figure = |label: &str, unit: &str, draws: &Draws, factor: f64, digits: usize| SheetFigure {
        label: label.to_owned(),
        unit: unit.to_owned(),
        quantiles: [0.05, 0.5, 0.95].map(|p| factor * draws.quantile(p)),
        digits,
    };
    let amount = |label: &str, draws: &Draws| SheetFigure {
        label: label.to_owned(),
        unit: currency.to_owned(),
        quantiles: money::rounded([0.05, 0.5, 0.95].map(|p| draws.quantile(p))),
        digits: 0,
    };
    let mut figures = Vec::new();
    if let Some(forecast) = valued.stones.first() {
        let of = if valued.stones.len() > 1 {
            ", stone 1"
        } else {
            ""
        };
        let label = |words: &str| format!("{words}{of}");
        let weight = &forecast.weight_ct;
        figures.push(figure(&label("Finished weight"), "ct", weight, 1.0, 1));
        let colour = &forecast.colour_ct;
        figures.push(figure(&label("Colour in it"), "ct", colour, 1.0, 1));
        let clean = &forecast.clean_share;
        figures.push(figure(&label("Clean face"), "%", clean, 100.0, 0));
        let least = &forecast.least_colour_mm;
        figures.push(figure(&label("Least colour"), "mm", least, 1.0, 1));
        figures.push(amount(&label("Would fetch"), &forecast.worth));
    }
    for (k, forecast) in valued.stones.iter().enumerate().skip(1) {
        let label = format!("Finished weight, stone {}", k + 1);
        figures.push(figure(&label, "ct", &forecast.weight_ct, 1.0, 1));
    }
    figures.push(amount("Left after the work", &valued.value.adapting));
    figures
}

/// What is to be weighed and written in.
fn weigh(stones: usize) -> Vec<String> {
    match stones {
        0 => vec!["Rough".to_owned()],
        1 => ["Rough", "After sawing", "Face open", "Shaped", "Finished"]
            .map(str::to_owned)
            .to_vec(),
        several => ["Rough", "After sawing"]
            .map(str::to_owned)
            .into_iter()
            .chain((1..=several).map(|k| format!("Stone {k}, finished")))
            .collect(),
    }
}

/// Said behind all cautions.
const LOCAL_RULES: &str = "These are the usual cautions: local rules, the makers' instructions and \
                           licensed practice come first.";

fn words_of_caution(valued: &ValuedPlan) -> Vec<SheetCaution> {
    let mut steps = Vec::new();
    if !valued.plan.cuts.is_empty() {
        steps.push(Step::Saw);
    }
    if !valued.plan.stones.is_empty() {
        steps.extend([Step::Grind, Step::Polish, Step::Dop]);
    }
    if steps.is_empty() {
        return Vec::new();
    }
    let mut words: Vec<SheetCaution> = Vec::new();
    for caution in steps.into_iter().flat_map(cautions::at) {
        if !words.iter().any(|said| said.text == caution.text) {
            words.push(SheetCaution {
                text: caution.text.clone(),
                brief: caution.brief.clone(),
            });
        }
    }
    words.push(SheetCaution {
        text: LOCAL_RULES.to_owned(),
        brief: "Local rules and licensed practice come first.".to_owned(),
    });
    words
}
