//! What may be asked of a study, on the command line and on the page alike.

use clap::ValueEnum;
use opal_evidence::{Fault, Faults};
use opal_job::Stage;
use opal_study::{Evidenced, Study};
use opal_testkit::Departing;
use std::ops::RangeInclusive;

/// Stones and interiors that a study may ask for at most. Chosen: because more
/// would run for days.
const MOST: usize = 100_000;

/// The law that the known insides follow.
#[derive(Clone, Copy, Debug, Eq, PartialEq, ValueEnum)]
pub(crate) enum LawWord {
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

impl LawWord {
    pub(crate) fn departing(self) -> Departing {
        match self {
            Self::Assumed => Departing::Not,
            Self::HeavyTails => Departing::HeavyTailed,
            Self::Stepped => Departing::Stepped,
            Self::Real => Departing::Measured,
            Self::LogNormal => Departing::NeverAbsent,
        }
    }
}

/// How the stones are looked at.
#[derive(Clone, Copy, Debug, Eq, PartialEq, ValueEnum)]
pub(crate) enum LookWord {
    /// Sightings round the edge and in windows.
    Sighted,
    /// A quick look.
    Quick,
}

impl LookWord {
    pub(crate) fn evidenced(self) -> Evidenced {
        match self {
            Self::Sighted => Evidenced::Sighted,
            Self::Quick => Evidenced::QuickLook,
        }
    }
}

/// What a study spends its time on, for the bar.
pub(crate) fn stage(study: &Study) -> Stage {
    match study {
        Study::Calibration(_) => Stage::Interiors,
        Study::Facing(_) | Study::Plans(_) => Stage::Plans,
        Study::Learning(_) => Stage::Bid,
    }
}

/// Every count that is out of its range; `named` gives a count's name where it was asked.
pub(crate) fn out_of_range(study: &Study, named: impl Fn(&str) -> String) -> Faults {
    type Count = (&'static str, usize, RangeInclusive<usize>);
    let counts: Vec<Count> = match study {
        Study::Calibration(asked) => vec![
            ("stones", asked.stones, 1..=MOST),
            ("interiors", asked.interiors, 20..=MOST),
            ("places", asked.places, 1..=MOST),
        ],
        Study::Facing(asked) => vec![
            ("stones", asked.stones, 1..=MOST),
            ("interiors", asked.interiors, 20..=MOST),
        ],
        Study::Plans(asked) => vec![
            ("stones", asked.stones, 1..=MOST),
            ("interiors", asked.interiors, 40..=MOST),
            ("most-stones", asked.most_stones, 1..=12),
        ],
        Study::Learning(asked) => vec![
            ("careers", asked.careers, 1..=MOST),
            ("stones", asked.stones, 1..=MOST),
        ],
    };
    let outside = counts
        .into_iter()
        .filter(|(_, value, range)| !range.contains(value));
    Faults(
        outside
            .map(|(name, value, range)| {
                let limit = format!("it must be from {} to {}", range.start(), range.end());
                Fault::new(named(name), value, limit)
            })
            .collect(),
    )
}
