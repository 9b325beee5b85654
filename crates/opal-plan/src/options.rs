//! What is asked of the planner, and what it answers.

use crate::plan::{Plan, PlanKind, PlanValue, StoneForecast};
use crate::wishes::Wishes;
use opal_evidence::Faults;
use opal_units::{Length, Seed};
use std::sync::atomic::AtomicBool;
use thiserror::Error;

/// A size that settings are stocked for.
#[derive(Clone, Debug, PartialEq)]
pub struct StandardSize {
    /// Key of the family: `oval`, `round`, `cushion`, `pear`, `marquise`,
    /// `square`, `rectangle`, `octagon`, `heart` or `triangle`.
    pub family: String,
    /// Longer size.
    pub length: Length,
    /// Shorter size.
    pub width: Length,
}

impl StandardSize {
    /// From the family's key and two sizes in mm.
    pub fn from_mm(family: impl Into<String>, length_mm: f64, width_mm: f64) -> Self {
        Self {
            family: family.into(),
            length: Length::from_mm(length_mm),
            width: Length::from_mm(width_mm),
        }
    }

    /// The ovals and rounds of the usual ladder: what is planned with where
    /// nobody passes a list in (common practice, no source).
    #[must_use]
    pub fn ovals_and_rounds() -> Vec<Self> {
        const OVALS: [(f64, f64); 16] = [
            (6.0, 4.0),
            (7.0, 5.0),
            (8.0, 6.0),
            (9.0, 7.0),
            (10.0, 8.0),
            (11.0, 9.0),
            (12.0, 10.0),
            (14.0, 10.0),
            (14.0, 12.0),
            (16.0, 12.0),
            (18.0, 13.0),
            (20.0, 15.0),
            (22.0, 16.0),
            (25.0, 18.0),
            (30.0, 22.0),
            (40.0, 30.0),
        ];
        const ROUNDS: [f64; 14] = [
            4.0, 5.0, 6.0, 7.0, 8.0, 9.0, 10.0, 12.0, 14.0, 16.0, 18.0, 20.0, 25.0, 30.0,
        ];
        OVALS
            .iter()
            .map(|&(length, width)| Self::from_mm("oval", length, width))
            .chain(ROUNDS.iter().map(|&d| Self::from_mm("round", d, d)))
            .collect()
    }
}

/// How hard to look. Fixed counts, not a clock, so that the same seed gives the
/// same plans on every machine; whoever needs a limit in time sets `cancel`.
#[derive(Clone, Copy, Debug, Default, Eq, PartialEq)]
pub enum Effort {
    /// A first answer.
    Quick,
    /// What the bench uses.
    #[default]
    Settled,
    /// Several times as many candidates.
    Thorough,
}

/// What the planner is doing.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum Stage {
    /// Placing outlines on the middle-most stone.
    Placing,
    /// Fitting and polishing the best of them.
    Polishing,
    /// Valuing plans on every interior.
    Valuing,
    /// Done.
    Done,
}

/// How far the planner got.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Progress {
    /// What it is doing.
    pub stage: Stage,
    /// Share of the work done, 0..=1.
    pub done: f64,
    /// The best plan's mean so far, adapting where that is known, major units.
    pub best_so_far: Option<(PlanKind, f64)>,
}

/// What is asked of the planner.
#[derive(Clone, Default)]
pub struct PlanOptions<'a> {
    /// What the search starts from.
    pub seed: Option<Seed>,
    /// How hard to look.
    pub effort: Effort,
    /// The standard sizes to try; empty for [`StandardSize::ovals_and_rounds`].
    pub sizes: Vec<StandardSize>,
    /// Most stones in one plan; several are looked for from 2 on.
    pub most_stones: usize,
    /// What the cutter has decided already.
    pub wishes: Wishes,
    /// Plan what the cutter decided and nothing else.
    pub only_wishes: bool,
    /// The first so many interiors are only valued: neither the search nor a rule
    /// for revising learns from them. For trying plans on a known inside.
    pub kept_back: usize,
    /// Told now and then how far it got.
    pub progress: Option<&'a (dyn Fn(Progress) + Sync)>,
    /// Set from outside to end early with the best so far.
    pub cancel: Option<&'a AtomicBool>,
}

impl std::fmt::Debug for PlanOptions<'_> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("PlanOptions")
            .field("seed", &self.seed)
            .field("effort", &self.effort)
            .field("sizes", &self.sizes.len())
            .field("most_stones", &self.most_stones)
            .field("wishes", &self.wishes)
            .field("only_wishes", &self.only_wishes)
            .finish_non_exhaustive()
    }
}

/// A plan with what is forecast of it.
#[derive(Clone, Debug, PartialEq)]
pub struct ValuedPlan {
    /// What to do.
    pub plan: Plan,
    /// What each stone is forecast to be when the cutter opens the face and
    /// adapts; empty for a piece sold as it is.
    pub stones: Vec<StoneForecast>,
    /// The same when the plan is never revised.
    pub stones_fixed: Vec<StoneForecast>,
    /// What it is worth, net of work.
    pub value: PlanValue,
    /// How often the adapting cutter ends with each revision, commonest first:
    /// in plain words, share of interiors.
    pub revisions: Vec<(String, f64)>,
    /// Why it stands where it stands, in plain words.
    pub why: Vec<String>,
}

/// Why there is no plan.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum PlanError {
    /// Something asked for is out of its range.
    #[error("the bench rules cannot be used: {0}")]
    Rules(Faults),
    /// What the cutter asks for cannot be planned with.
    #[error("what is asked for cannot be planned: {0}")]
    Wishes(Faults),
    /// The order is larger than the piece.
    #[error(
        "the order ({order}) does not fit the piece: of {wanted} stones {fitted} can be cut side \
         by side; ask for fewer or smaller ones"
    )]
    OrderDoesNotFit {
        /// The order in plain words.
        order: String,
        /// Stones asked for.
        wanted: usize,
        /// The most that were seated together.
        fitted: usize,
    },
    /// No dome can be laid under a drawn outline.
    #[error("under the drawn outline {outline} no dome can be laid: there is too little colour")]
    NothingUnderOutline {
        /// Which of them, from 0.
        outline: usize,
    },
    /// Drawn outlines that no order of straight cuts frees.
    #[error(
        "straight cuts cannot part the {outlines} drawn outlines with {gap_mm:.1} mm between \
         (the blade, and what is left beside it); move them apart"
    )]
    CannotPart {
        /// How many.
        outlines: usize,
        /// What must lie between two of them, mm.
        gap_mm: f64,
    },
    /// The interiors were drawn for another stone.
    #[error("the interiors lie on a grid of {interiors} nodes, the stone on one of {stone}")]
    OtherStone {
        /// Nodes of the interiors' grid.
        interiors: usize,
        /// Nodes of the stone's grid.
        stone: usize,
    },
    /// There is nothing to plan on.
    #[error("no interiors to value a plan on")]
    NoInteriors,
    /// The stone has no ground.
    #[error("the stone has no node inside its skin")]
    EmptyStone,
    /// Ended from outside before there was a first plan.
    #[error("ended before there was a first plan")]
    Cancelled,
    /// The appraiser gave a number that is none.
    #[error("the value of the {plan} plan in interior {interior} is {value}, not a number")]
    NotANumber {
        /// Which plan, in words.
        plan: String,
        /// Which interior.
        interior: usize,
        /// What came.
        value: f64,
    },
}
