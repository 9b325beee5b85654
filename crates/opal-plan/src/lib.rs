//! Ways to cut, each valued on every possible inside.
//!
//! Layer 5. Prices are not known here: who has them passes an [`Appraiser`] in.

mod candidate;
mod draw;
mod footprint;
mod ground;
mod options;
mod place_freeform;
mod place_standard;
mod plan;
mod revisions;
mod rules;
mod saw;
mod score;
mod search;
mod several;
mod surface;
mod value;
mod whole;
mod why;

pub use options::{Effort, PlanError, PlanOptions, Progress, Stage, StandardSize, ValuedPlan};
pub use plan::{
    Appraiser, Back, CutKind, CutStone, DomeProfile, NaturalShape, Plan, PlanKind, PlanValue,
    SawCut, Stock, StoneDraw, StoneForecast,
};
pub use rules::{BenchRules, DomeChoice};
pub use search::plan;
