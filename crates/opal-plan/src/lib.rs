//! Ways to cut, each valued on every possible inside.
//!
//! Layer 5. Prices are not known here: who has them passes an [`Appraiser`] in.

mod plan;

pub use plan::{
    Appraiser, Back, CutKind, CutStone, DomeProfile, Plan, PlanKind, PlanValue, SawCut, Stock,
    StoneDraw, StoneForecast,
};
