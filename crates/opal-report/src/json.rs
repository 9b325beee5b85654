//! Machine output: one versioned document for each question.
//!
//! Core types are not serialised; these shapes are what programs may rely on.
//! Within a version fields are only added. The JSON Schemas under `docs/schema`
//! are made from them, and a test holds them fresh.

mod bar_trace;
mod bid;
mod bids;
mod demo;
mod disclose;
mod figure;
mod finish;
mod identify;
mod interior;
mod kept;
mod learned;
mod ledger;
mod now;
mod parcel;
mod plan;
mod plan_why;
mod price;
mod show;
mod trace;
mod wheel_set;
mod wishes;

pub use bar_trace::{BAR_TRACE_FORMAT, BarTraceDoc, SidePlaceDoc};
pub use bid::{AtAskingDoc, BID_FORMAT, BidDoc, BidFacts, LimitDoc, TenderDoc, binding_key};
pub use bids::{BIDS_FORMAT, BidsDoc, LotDoc, LotFaultDoc};
pub use demo::{DEMO_FORMAT, DemoDoc};
pub use disclose::{
    CardLineDoc, DISCLOSURE_FORMAT, DisclosureDoc, DisclosureFacts, MarketDoc, WORDING_FORMAT,
    WordFaultDoc, WordingDoc,
};
pub use figure::{Amount, Figure, Quantiles};
pub use finish::{
    AreaMinutesDoc, DRYING_FORMAT, DryingDoc, DryingPointDoc, FINISH_FORMAT, FinishDoc, SAW_FORMAT,
    SawOrGrindDoc, TurnOfWheelDoc,
};
pub use identify::{
    BudgetDoc, ContradictionDoc, GroundDoc, IDENTITY_FORMAT, IdentityDoc, NO_CERTIFICATE,
    NextTestDoc, OnFileDoc, ReadingDoc, RefusedTestDoc, ShareDoc, WEIGHING_FORMAT, WeighingDoc,
};
pub use interior::{BarDoc, INTERIOR_FORMAT, InteriorDoc, PointDoc};
pub use kept::{KEPT_FORMAT, KeptCardDoc, KeptDoc, KeptReadingsDoc, KeptStoneDoc, PhotoDoc};
pub use learned::{ForecastRecordDoc, LEARNED_FORMAT, LearnedDoc, OriginDoc, TaughtDoc};
pub use ledger::{
    BalanceDoc, CostsDoc, ENTRIES_FORMAT, EntriesDoc, EntryDoc, ExpectedDoc, GroupDoc, HeldDoc,
    HeldItemDoc, LEDGER_FORMAT, LedgerDoc, OutcomeDoc, PartDoc, PostingDoc, SharesBy, SlipDoc,
    SlipSide, SlipWhat,
};
pub use now::{
    AdviceDoc, DepthDoc, FacingDoc, LOG_FORMAT, LogDoc, LoggedDoc, NOW_FORMAT, NowDoc, OffcutDoc,
    length_figure, money_figure, share_figure,
};
pub use parcel::{CountDoc, LookDoc, LookingDoc, PARCEL_FORECAST_FORMAT, ParcelDoc, ParcelFacts};
pub use plan::{
    AskedDoc, CutStoneDoc, PLAN_FORMAT, PlanDoc, RevisionDoc, SawCutDoc, StockDoc, ValueDoc,
    WayToCutDoc, plan_key,
};
pub use plan_why::{DecidingDoc, NextPlanDoc, PlanWhyDoc, TurnDoc, WindowDoc};
pub use price::{AskingDoc, FinishedDoc, GradeMarkDoc, PRICE_FORMAT, PriceDoc};
pub use show::{
    BarSeenDoc, GravityDoc, LIST_FORMAT, ListDoc, ListedDoc, RecordDoc, SHOW_FORMAT, ShapeDoc,
    ShowDoc, form_key, shape_key,
};
pub use trace::{EstimateDoc, PhotoScaleDoc, TRACE_FORMAT, TraceDoc};
pub use wheel_set::{WHEEL_SET_FORMAT, WheelDoc, WheelSetDoc};
pub use wishes::{PinnedDoc, PinnedSizeDoc, WishesDoc};

use serde::Serialize;

/// A document as one text, indented, ending in a line break.
///
/// # Errors
/// None that is known: every field is text, a finite number, a list or a map.
pub fn to_text(document: &impl Serialize) -> Result<String, serde_json::Error> {
    let mut text = serde_json::to_string_pretty(document)?;
    text.push('\n');
    Ok(text)
}

/// The JSON Schema of every document, by its file name under `docs/schema`.
#[must_use]
pub fn schemas() -> Vec<(&'static str, String)> {
    let text = |schema: schemars::Schema| {
        let mut text = serde_json::to_string_pretty(&schema)
            .expect("a schema is plain JSON, which always becomes text");
        text.push('\n');
        text
    };
    vec![
        (
            "interior-1.schema.json",
            text(schemars::schema_for!(InteriorDoc)),
        ),
        ("plan-1.schema.json", text(schemars::schema_for!(PlanDoc))),
        ("bid-1.schema.json", text(schemars::schema_for!(BidDoc))),
        ("bids-1.schema.json", text(schemars::schema_for!(BidsDoc))),
        (
            "learned-1.schema.json",
            text(schemars::schema_for!(LearnedDoc)),
        ),
        ("price-1.schema.json", text(schemars::schema_for!(PriceDoc))),
        ("show-1.schema.json", text(schemars::schema_for!(ShowDoc))),
        (
            "bar-trace-1.schema.json",
            text(schemars::schema_for!(BarTraceDoc)),
        ),
        ("trace-1.schema.json", text(schemars::schema_for!(TraceDoc))),
        (
            "wheel-set-1.schema.json",
            text(schemars::schema_for!(WheelSetDoc)),
        ),
        ("list-1.schema.json", text(schemars::schema_for!(ListDoc))),
        ("demo-1.schema.json", text(schemars::schema_for!(DemoDoc))),
        ("log-1.schema.json", text(schemars::schema_for!(LogDoc))),
        (
            "parcel-forecast-1.schema.json",
            text(schemars::schema_for!(ParcelDoc)),
        ),
        ("now-1.schema.json", text(schemars::schema_for!(NowDoc))),
        (
            "finish-1.schema.json",
            text(schemars::schema_for!(FinishDoc)),
        ),
        (
            "ledger-1.schema.json",
            text(schemars::schema_for!(LedgerDoc)),
        ),
        (
            "entries-1.schema.json",
            text(schemars::schema_for!(EntriesDoc)),
        ),
        (
            "saw-or-grind-1.schema.json",
            text(schemars::schema_for!(SawOrGrindDoc)),
        ),
        (
            "drying-1.schema.json",
            text(schemars::schema_for!(DryingDoc)),
        ),
        (
            "identity-1.schema.json",
            text(schemars::schema_for!(IdentityDoc)),
        ),
        (
            "weighing-1.schema.json",
            text(schemars::schema_for!(WeighingDoc)),
        ),
        (
            "disclosure-1.schema.json",
            text(schemars::schema_for!(DisclosureDoc)),
        ),
        (
            "wording-1.schema.json",
            text(schemars::schema_for!(WordingDoc)),
        ),
        ("kept-1.schema.json", text(schemars::schema_for!(KeptDoc))),
    ]
}
