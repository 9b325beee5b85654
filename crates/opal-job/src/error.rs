//! Why a use case stopped.

use crate::ports::StoreError;
use opal_evidence::Faults;
use opal_geostat::scoring::ScoreError;
use opal_interior::InteriorError;
use opal_learn::{PoolingError, WaitingError};
use opal_plan::PlanError;
use opal_report::sheet::SheetError;
use opal_units::{MoneyError, SpreadError};
use opal_value::{BidError, PriceError, SalesError, TenderError};
use thiserror::Error;

/// Why a use case stopped.
#[derive(Debug, Error)]
pub enum JobError {
    /// Something given is wrong: all of it, each with its place.
    #[error(transparent)]
    Faults(#[from] Faults),
    /// The possible insides could not be drawn.
    #[error("the possible insides could not be drawn: {0}")]
    Interior(#[from] InteriorError),
    /// There is no plan.
    #[error("no way to cut could be found: {0}")]
    Plan(#[from] PlanError),
    /// The price book does not cover the stone.
    #[error(transparent)]
    Price(#[from] PriceError),
    /// There is no bid.
    #[error("no bid could be worked out: {0}")]
    Bid(#[from] BidError),
    /// A past tender cannot have been.
    #[error("the past tenders are not used: {0}")]
    Tender(#[from] TenderError),
    /// The own sales teach nothing.
    #[error("your own sales are not used: {0}")]
    Sales(#[from] SalesError),
    /// A wait cannot be.
    #[error("the time to sell cannot be told: {0}")]
    Waiting(#[from] WaitingError),
    /// What was learned cannot be worked out: a fault of the program.
    #[error("what the stones have taught could not be worked out: {0}")]
    Pooling(#[from] PoolingError),
    /// A forecast could not be scored: a fault of the program.
    #[error("a forecast could not be scored: {0}")]
    Score(#[from] ScoreError),
    /// The asking price is in another currency than the price book.
    #[error("the asking price and the price book do not match: {0}")]
    Money(#[from] MoneyError),
    /// A figure has no draws: a fault of the program.
    #[error("a figure came out without a number: {0}")]
    Draws(#[from] SpreadError),
    /// The store could not do it.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// A document could not be written: a fault of the program.
    #[error("the answer could not be written: {0}")]
    Document(#[from] serde_json::Error),
    /// The bench sheet could not be drawn.
    #[error("the bench sheet could not be drawn: {0}")]
    Sheet(#[from] SheetError),
    /// What to do next could not be ranked.
    #[error("what to do next could not be ranked: {0}")]
    Now(#[from] opal_bench::NowError),
    /// The wheels could not be scheduled.
    #[error("the wheels could not be scheduled: {0}")]
    Finish(#[from] opal_finish::ScheduleError),
    /// A weighing in water cannot be made, or cannot have been.
    #[error(transparent)]
    Weighing(#[from] opal_grade::WeighError),
    /// The weights do not tell whether it is dry.
    #[error("the weights do not tell whether it is dry: {0}")]
    Drying(#[from] opal_finish::DryingError),
    /// The card could not be drawn.
    #[error("the card could not be drawn: {0}")]
    Card(#[from] opal_report::card::CardError),
    /// There are no papers.
    #[error("no papers can be made: {0}")]
    Disclose(#[from] opal_grade::DiscloseError),
    /// Nothing was looked at.
    #[error("no papers can be made: nothing was looked at, so nothing can be said")]
    NothingLookedAt,
    /// A card on file is not what was printed.
    #[error("a card on file is not what was printed: the store was changed from outside")]
    CardChanged,
    /// There is no such plan.
    #[error("there is no plan number {asked}; there are {there}")]
    NoSuchPlan {
        /// Counted from 1.
        asked: usize,
        /// How many there are.
        there: usize,
    },
    /// Stopped from outside.
    #[error("stopped before it was done; nothing was kept of it")]
    Cancelled,
}
