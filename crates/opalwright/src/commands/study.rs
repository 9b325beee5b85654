//! `study`: how well the program does on stones whose inside is known.

use super::output::{say, say_json, write_file};
use crate::args::{Args, EffortWord};
use crate::exit::Failure;
use crate::study_words::{LawWord, LookWord, out_of_range, stage};
use crate::watch::Watch;
use clap::{Args as ClapArgs, Subcommand};
use opal_job::{JobError, Progress as _};
use opal_study::{CalibrationOptions, FacingOptions, LearningOptions, PlansOptions};
use opal_testkit::{measured_surfaces, surfaces_in};
use opal_units::Seed;
use std::ops::ControlFlow;
use std::path::PathBuf;

#[derive(Debug, ClapArgs)]
pub(crate) struct Study {
    #[command(subcommand)]
    question: Question,
}

#[derive(Debug, Subcommand)]
enum Question {
    /// Do the intervals hold what they say, on invented stones with known insides?
    Calibration(Calibration),
    /// What is the advice to go on or to stop worth, against fixed rules and
    /// against seeing inside?
    Facing(Facing),
    /// What do the plans lose against the best plan knowing the inside, beside
    /// three plain rules?
    Plans(Plans),
    /// Does learning from each stone better the forecasts, and does it pay?
    Learning(Learning),
}

/// Where the stones come from, and how the answer is told.
#[derive(Debug, ClapArgs)]
struct Telling {
    /// What all is drawn from: the same seed gives the same answer.
    #[arg(long, default_value_t = 2024)]
    seed: u64,
    /// Write the answer here, as a drawing.
    #[arg(long, value_name = "FILE")]
    svg: Option<PathBuf>,
    /// Answer in the machine form.
    #[arg(long)]
    json: bool,
}

#[derive(Debug, ClapArgs)]
struct Plans {
    /// Stones.
    #[arg(long, value_name = "N", default_value_t = 200)]
    stones: usize,
    /// Possible insides that each stone is planned on.
    #[arg(long, value_name = "M", default_value_t = 300)]
    interiors: usize,
    /// Most stones in one plan.
    #[arg(long, value_name = "K", default_value_t = 4)]
    most_stones: usize,
    /// How hard to look for plans.
    #[arg(long, value_enum, default_value_t = EffortWord::Settled)]
    effort: EffortWord,
    /// Look several times as hard too, and tell what that would have found.
    #[arg(long)]
    longer: bool,
    /// The law of the truth.
    #[arg(long, value_enum, default_value = "assumed")]
    law: LawWord,
    #[command(flatten)]
    telling: Telling,
}

#[derive(Debug, ClapArgs)]
struct Learning {
    /// Careers, each with fields and a price table of its own.
    #[arg(long, value_name = "N", default_value_t = 20)]
    careers: usize,
    /// Stones on offer in each.
    #[arg(long, value_name = "N", default_value_t = 300)]
    stones: usize,
    #[command(flatten)]
    telling: Telling,
}

#[derive(Debug, ClapArgs)]
struct Facing {
    /// Stones.
    #[arg(long, value_name = "N", default_value_t = 200)]
    stones: usize,
    /// Possible insides drawn for each stone.
    #[arg(long, value_name = "M", default_value_t = 240)]
    interiors: usize,
    /// The law of the truth.
    #[arg(long, value_enum, default_value = "assumed")]
    law: LawWord,
    #[command(flatten)]
    telling: Telling,
}

#[derive(Debug, ClapArgs)]
struct Calibration {
    /// Stones for each kind of look and law.
    #[arg(long, value_name = "N", default_value_t = 300)]
    stones: usize,
    /// Possible insides drawn for each stone.
    #[arg(long, value_name = "M", default_value_t = 400)]
    interiors: usize,
    /// Hidden places compared in each stone.
    #[arg(long, value_name = "K", default_value_t = 4)]
    places: usize,
    /// Laws of the truth [default: all].
    #[arg(long, value_enum, value_delimiter = ',')]
    law: Vec<LawWord>,
    /// Kinds of look [default: both].
    #[arg(long, value_enum, value_delimiter = ',')]
    look: Vec<LookWord>,
    /// A folder of measured surfaces (CSV grids of heights) for the law `real`
    /// [default: the project's test data, else rough waves].
    #[arg(long, value_name = "FOLDER")]
    surfaces: Option<PathBuf>,
    #[command(flatten)]
    telling: Telling,
}

pub(super) fn run(_: &Args, command: &Study) -> Result<(), Failure> {
    let (study, told) = command.question.asked()?;
    let faults = out_of_range(&study, |count| format!("--{count}"));
    if !faults.0.is_empty() {
        return Err(Failure::from(JobError::Faults(faults)).of_the_command());
    }
    let (watch, stage) = (Watch::new(), stage(&study));
    let report = study.run(&|share| {
        watch.at(stage, share);
        ControlFlow::Continue(())
    });
    watch.clear();
    let report = report.map_err(|error| Failure::internal(error.to_string()))?;
    if let Some(path) = &told.svg {
        write_file(path, report.svg().as_bytes())?;
    }
    if told.json {
        let document = report.document();
        say_json(&document.map_err(|error| Failure::internal(error.to_string()))?)
    } else {
        say(&report.table())
    }
}

impl Question {
    /// What is asked, and how the answer is to be told.
    fn asked(&self) -> Result<(opal_study::Study, &Telling), Failure> {
        Ok(match self {
            Self::Calibration(asked) => (
                opal_study::Study::Calibration(asked.options()?),
                &asked.telling,
            ),
            Self::Facing(asked) => {
                let options = FacingOptions {
                    stones: asked.stones,
                    interiors: asked.interiors,
                    law: asked.law.departing(),
                    seed: Seed(asked.telling.seed),
                };
                (opal_study::Study::Facing(options), &asked.telling)
            }
            Self::Plans(asked) => {
                let options = PlansOptions {
                    stones: asked.stones,
                    interiors: asked.interiors,
                    most_stones: asked.most_stones,
                    effort: asked.effort.effort(),
                    longer: asked.longer,
                    law: asked.law.departing(),
                    seed: Seed(asked.telling.seed),
                };
                (opal_study::Study::Plans(options), &asked.telling)
            }
            Self::Learning(asked) => {
                let options = LearningOptions {
                    careers: asked.careers,
                    stones: asked.stones,
                    seed: Seed(asked.telling.seed),
                    ..LearningOptions::default()
                };
                (opal_study::Study::Learning(options), &asked.telling)
            }
        })
    }
}

impl Calibration {
    fn options(&self) -> Result<CalibrationOptions, Failure> {
        let surfaces = match &self.surfaces {
            Some(folder) => surfaces_in(folder).map_err(|error| {
                Failure::user(format!("{}: {error}", folder.display()))
                    .with_hint("name a folder with CSV grids of heights")
            })?,
            None => measured_surfaces(),
        };
        let mut options = CalibrationOptions {
            stones: self.stones,
            interiors: self.interiors,
            places: self.places,
            seed: Seed(self.telling.seed),
            surfaces,
            ..CalibrationOptions::default()
        };
        if !self.law.is_empty() {
            options.laws = self.law.iter().map(|law| law.departing()).collect();
        }
        if !self.look.is_empty() {
            options.looks = self.look.iter().map(|look| look.evidenced()).collect();
        }
        Ok(options)
    }
}
