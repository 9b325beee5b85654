//! Ways to cut, each valued on every possible inside.
//!
//! Layer 5. Prices are not known here: who has them passes an [`Appraiser`] in.

mod options;
mod plan;
mod rules;
mod search;
mod surface;

pub use options::{Effort, PlanError, PlanOptions, Progress, Stage, StandardSize, ValuedPlan};
pub use plan::{
    Appraiser, Back, CutKind, CutStone, DomeProfile, NaturalShape, Plan, PlanKind, PlanValue,
    SawCut, Stock, StoneDraw, StoneForecast,
};
pub use rules::{BenchRules, DomeChoice};
pub use search::plan;
