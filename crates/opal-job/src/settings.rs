//! The cutter's own prices, costs, limits and rules.

use crate::own_weights::WeightOutcome;
use opal_plan::{BenchRules, Effort, PlanOptions, StandardSize};
use opal_units::{Currency, Length, Seed};
use opal_value::{BidLimits, Costs, PastTender, PriceBook, Sale};

/// What the answers rest on beside the stone.
#[derive(Clone, Debug, PartialEq)]
pub struct Settings {
    /// The price book.
    pub book: PriceBook,
    /// What the work costs.
    pub costs: Costs,
    /// What the cutter asks of a purchase.
    pub limits: BidLimits,
    /// What the bench can do.
    pub rules: BenchRules,
    /// The sizes that settings are stocked for.
    pub sizes: Vec<StandardSize>,
    /// The cutter's own sales, which correct the book; none at the start.
    pub sales: Vec<Sale>,
    /// What the cutter's finished stones came to against their plans; none at the start.
    pub weights: Vec<WeightOutcome>,
    /// The cutter's own past tenders; none at the start.
    pub tenders: Vec<PastTender>,
}

/// The length at which the accepted backing is read from the book for the
/// bench's rules. Chosen: a middling opal of 15 mm.
const MIDDLING_LENGTH_MM: f64 = 15.0;

impl Settings {
    /// From a price book with its costs and limits, and the bench rules that the
    /// cutter set; standard sizes from the reference data.
    #[must_use]
    pub fn new(book: PriceBook, costs: Costs, limits: BidLimits, rules: BenchRules) -> Self {
        let accepted = book.parts().accepted_backing_mm.at(MIDDLING_LENGTH_MM);
        Self {
            rules: BenchRules {
                accepted_backing: Length::from_mm(accepted),
                ..rules
            },
            book,
            costs,
            limits,
            sizes: stocked_sizes(),
            sales: Vec::new(),
            weights: Vec::new(),
            tenders: Vec::new(),
        }
    }

    /// What the planner is asked where the answer must be there at once: one stone.
    pub(crate) fn one_stone_quickly(&self, seed: Seed) -> PlanOptions<'static> {
        PlanOptions {
            seed: Some(seed),
            effort: Effort::Quick,
            sizes: self.sizes.clone(),
            most_stones: 1,
            ..PlanOptions::default()
        }
    }

    /// The currency of every amount.
    #[must_use]
    pub fn currency(&self) -> Currency {
        self.book.currency()
    }

    /// True while the prices are the invented example's.
    #[must_use]
    pub fn prices_invented(&self) -> bool {
        self.book.parts().invented
    }
}

/// All stocked sizes of the outlines that the planner knows.
fn stocked_sizes() -> Vec<StandardSize> {
    opal_reference::standard_sizes::families()
        .iter()
        .flat_map(|family| {
            family.sizes.iter().map(|size| StandardSize {
                family: family.key.clone(),
                length: size.length(),
                width: size.width(),
            })
        })
        .collect()
}
