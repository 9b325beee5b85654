//! Ways to cut, each valued on every possible inside.
//!
//! Layer 5. Prices are not known here: who has them passes an [`Appraiser`] in.

mod across;
mod candidate;
mod causes;
mod draw;
mod footprint;
mod ground;
mod options;
mod order;
mod pack;
mod partings;
mod place_freeform;
mod place_standard;
mod plan;
mod reasons;
mod region;
mod revisions;
mod rules;
mod saw;
mod score;
mod search;
mod several;
mod surface;
mod turns;
mod value;
mod whole;
mod why;
mod windows;
mod wishes;

pub use causes::Cause;
pub use options::{Effort, PlanError, PlanOptions, Progress, Stage, StandardSize, ValuedPlan};
pub use order::Order;
pub use plan::{
    Appraiser, Back, CutKind, CutStone, DomeProfile, NaturalShape, Origin, Plan, PlanKind,
    PlanValue, SawCut, Stock, StoneDraw, StoneForecast,
};
pub use region::Region;
pub use rules::{BenchRules, DomeChoice};
pub use search::{plan, propose};
pub use why::{Deciding, PlanWhy, Rival, Turn, why};
pub use windows::WindowWorth;
pub use wishes::{PinnedOutline, Wishes, size_title};
