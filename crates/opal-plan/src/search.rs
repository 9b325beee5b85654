//! The planner: proposes, values, ranks.

use crate::options::{PlanError, PlanOptions, ValuedPlan};
use crate::plan::Appraiser;
use crate::rules::BenchRules;
use opal_interior::Interiors;
use opal_stone::Stone;

/// The ways to cut a piece, best first by the mean of the adapting cutter.
///
/// Always holds the best freeform, the best standard size, the piece kept whole
/// and the piece sold as it is, as far as each is possible at all.
///
/// # Errors
/// Rules out of range, interiors of another stone, an appraiser that gives no
/// number, or an end from outside before there was a first plan.
pub fn plan(
    stone: &Stone,
    interiors: &Interiors,
    appraiser: &dyn Appraiser,
    rules: &BenchRules,
    options: &PlanOptions<'_>,
) -> Result<Vec<ValuedPlan>, PlanError> {
    let _ = (appraiser, options);
    rules.check().map_err(PlanError::Rules)?;
    if interiors.n == 0 {
        return Err(PlanError::NoInteriors);
    }
    if interiors.cells() != stone.grid.len() {
        return Err(PlanError::OtherStone {
            interiors: interiors.cells(),
            stone: stone.grid.len(),
        });
    }
    Err(PlanError::EmptyStone)
}
