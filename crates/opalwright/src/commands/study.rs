//! `study`: how well the program does on stones whose inside is known.

use super::output::{say, say_json, write_file};
use crate::args::{Args, EffortWord};
use crate::exit::Failure;
use crate::watch::Watch;
use clap::{Args as ClapArgs, Subcommand, ValueEnum};
use opal_job::{Progress as _, Stage};
use opal_study::{
    CalibrationOptions, Evidenced, FacingOptions, LearningOptions, PlansOptions, calibration,
    facing, learning, plans,
};
use opal_testkit::{Departing, measured_surfaces, surfaces_in};
use opal_units::Seed;
use std::path::PathBuf;

/// Stones and interiors that a study may ask for at most. Chosen: because more
/// would run for days.
const MOST: usize = 100_000;

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
    /// What the stones are drawn from: the same seed gives the same answer.
    #[arg(long, default_value_t = 2024)]
    seed: u64,
    /// Write what each way kept of every stone here, as a drawing.
    #[arg(long, value_name = "FILE")]
    svg: Option<PathBuf>,
    /// Answer in the machine form.
    #[arg(long)]
    json: bool,
}

#[derive(Debug, ClapArgs)]
struct Learning {
    /// Careers, each with fields and a price table of its own.
    #[arg(long, value_name = "N", default_value_t = 20)]
    careers: usize,
    /// Stones on offer in each.
    #[arg(long, value_name = "N", default_value_t = 300)]
    stones: usize,
    /// What the careers are drawn from: the same seed gives the same answer.
    #[arg(long, default_value_t = 2024)]
    seed: u64,
    /// Write score and profit here, as a drawing.
    #[arg(long, value_name = "FILE")]
    svg: Option<PathBuf>,
    /// Answer in the machine form.
    #[arg(long)]
    json: bool,
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
    /// What the stones are drawn from: the same seed gives the same answer.
    #[arg(long, default_value_t = 2024)]
    seed: u64,
    /// Write what each way kept here, as a drawing.
    #[arg(long, value_name = "FILE")]
    svg: Option<PathBuf>,
    /// Answer in the machine form.
    #[arg(long)]
    json: bool,
}

/// The law that the known insides follow.
#[derive(Clone, Copy, Debug, Eq, PartialEq, ValueEnum)]
enum LawWord {
    /// The one that forecasts assume.
    Assumed,
    /// Rare and large bulges and thin places.
    HeavyTails,
    /// A step across the piece.
    Stepped,
    /// Real surfaces, scaled to a bar.
    Real,
    /// Thickness log-normal, never absent.
    LogNormal,
}

/// How the stones are looked at.
#[derive(Clone, Copy, Debug, Eq, PartialEq, ValueEnum)]
enum LookWord {
    /// Sightings round the edge and in windows.
    Sighted,
    /// A quick look.
    Quick,
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
    /// What the stones are drawn from: the same seed gives the same answer.
    #[arg(long, default_value_t = 2024)]
    seed: u64,
    /// A folder of measured surfaces (CSV grids of heights) for the law `real`
    /// [default: the project's test data, else rough waves].
    #[arg(long, value_name = "FOLDER")]
    surfaces: Option<PathBuf>,
    /// Write coverage and rank histograms here, as a drawing.
    #[arg(long, value_name = "FILE")]
    svg: Option<PathBuf>,
    /// Answer in the machine form.
    #[arg(long)]
    json: bool,
}

pub(super) fn run(_: &Args, command: &Study) -> Result<(), Failure> {
    match &command.question {
        Question::Calibration(asked) => run_calibration(asked),
        Question::Facing(asked) => run_facing(asked),
        Question::Plans(asked) => run_plans(asked),
        Question::Learning(asked) => run_learning(asked),
    }
}

/// The first count that is out of its range.
fn check_counts(counts: &[(&str, usize, usize, usize)]) -> Result<(), Failure> {
    match counts
        .iter()
        .find(|(_, value, least, most)| !(least..=most).contains(&value))
    {
        Some((name, value, least, most)) => Err(Failure::user(format!(
            "{name} is {value}, it must be from {least} to {most}"
        ))),
        None => Ok(()),
    }
}

fn run_plans(asked: &Plans) -> Result<(), Failure> {
    check_counts(&[
        ("--stones", asked.stones, 1, MOST),
        ("--interiors", asked.interiors, 40, MOST),
        ("--most-stones", asked.most_stones, 1, 12),
    ])?;
    let options = PlansOptions {
        stones: asked.stones,
        interiors: asked.interiors,
        most_stones: asked.most_stones,
        effort: asked.effort.effort(),
        longer: asked.longer,
        law: asked.law.departing(),
        seed: Seed(asked.seed),
    };
    let watch = Watch::new();
    let report = plans(&options, &|share| watch.at(Stage::Plans, share))
        .map_err(|error| Failure::internal(error.to_string()))?;
    watch.clear();
    if let Some(path) = &asked.svg {
        write_file(path, report.svg().as_bytes())?;
    }
    if asked.json {
        say_json(&report.document())
    } else {
        say(&report.table())
    }
}

fn run_learning(asked: &Learning) -> Result<(), Failure> {
    check_counts(&[
        ("--careers", asked.careers, 1, MOST),
        ("--stones", asked.stones, 1, MOST),
    ])?;
    let options = LearningOptions {
        careers: asked.careers,
        stones: asked.stones,
        seed: Seed(asked.seed),
        ..LearningOptions::default()
    };
    let watch = Watch::new();
    let report = learning(&options, &|share| watch.at(Stage::Bid, share))
        .map_err(|error| Failure::internal(error.to_string()))?;
    watch.clear();
    if let Some(path) = &asked.svg {
        write_file(path, report.svg().as_bytes())?;
    }
    if asked.json {
        say_json(&report.document())
    } else {
        say(&report.table())
    }
}

fn run_facing(asked: &Facing) -> Result<(), Failure> {
    check_counts(&[
        ("--stones", asked.stones, 1, MOST),
        ("--interiors", asked.interiors, 20, MOST),
    ])?;
    let options = FacingOptions {
        stones: asked.stones,
        interiors: asked.interiors,
        law: asked.law.departing(),
        seed: Seed(asked.seed),
    };
    let watch = Watch::new();
    let report = facing(&options, &|share| watch.at(Stage::Plans, share))
        .map_err(|error| Failure::internal(error.to_string()))?;
    watch.clear();
    if let Some(path) = &asked.svg {
        write_file(path, report.svg().as_bytes())?;
    }
    if asked.json {
        say_json(&report.document())
    } else {
        say(&report.table())
    }
}

fn run_calibration(asked: &Calibration) -> Result<(), Failure> {
    check_counts(&[
        ("--stones", asked.stones, 1, MOST),
        ("--interiors", asked.interiors, 20, MOST),
        ("--places", asked.places, 1, MOST),
    ])?;
    let surfaces = match &asked.surfaces {
        Some(folder) => surfaces_in(folder).map_err(|error| {
            Failure::user(format!("{}: {error}", folder.display()))
                .with_hint("name a folder with CSV grids of heights")
        })?,
        None => measured_surfaces(),
    };
    let mut options = CalibrationOptions {
        stones: asked.stones,
        interiors: asked.interiors,
        places: asked.places,
        seed: Seed(asked.seed),
        surfaces,
        ..CalibrationOptions::default()
    };
    if !asked.law.is_empty() {
        options.laws = asked.law.iter().map(|law| law.departing()).collect();
    }
    if !asked.look.is_empty() {
        options.looks = asked.look.iter().map(|look| look.evidenced()).collect();
    }
    let watch = Watch::new();
    let report = calibration(&options, &|share| watch.at(Stage::Interiors, share))
        .map_err(|error| Failure::internal(error.to_string()))?;
    watch.clear();
    if let Some(path) = &asked.svg {
        write_file(path, report.svg().as_bytes())?;
    }
    if asked.json {
        say_json(&report.document())
    } else {
        say(&report.table())
    }
}

impl LawWord {
    fn departing(self) -> Departing {
        match self {
            Self::Assumed => Departing::Not,
            Self::HeavyTails => Departing::HeavyTailed,
            Self::Stepped => Departing::Stepped,
            Self::Real => Departing::Measured,
            Self::LogNormal => Departing::NeverAbsent,
        }
    }
}

impl LookWord {
    fn evidenced(self) -> Evidenced {
        match self {
            Self::Sighted => Evidenced::Sighted,
            Self::Quick => Evidenced::QuickLook,
        }
    }
}
