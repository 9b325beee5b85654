//! Answers for a person at a terminal: plain words first, figures second,
//! statistics on request.

mod bid;
mod bids;
mod finish;
mod identify;
mod interior;
mod kept;
mod learned;
mod ledger;
mod now;
mod parcel;
mod plan;
mod price;
mod show;
mod spread;
mod trace;

pub use bid::bid;
pub use bids::bids;
pub use finish::{drying, finish, saw_or_grind};
pub use identify::{PaperKind, identity, on_file_words, papers, weighing, wording};
pub use interior::interior;
pub use kept::kept;
pub use learned::learned;
pub use ledger::{entries, held, ledger, recorded};
pub(crate) use ledger::{period_words, sum_words};
pub use now::{log, now};
pub use parcel::parcel;
pub use plan::{family_words, plans, stone_words};
pub use price::price;
pub use show::{list, show};
pub use spread::{at_most, in_a_hundred, money, rate, spread_bar};
pub use trace::trace;

/// How much to say.
#[derive(Clone, Copy, Debug, Default, Eq, PartialEq)]
pub enum Detail {
    /// Plain words and the figures that a person acts on.
    #[default]
    Plain,
    /// Every figure with its statistics.
    Figures,
}

/// A list of sentences under a heading; nothing where there is none.
fn listed(heading: &str, sentences: &[String]) -> String {
    if sentences.is_empty() {
        return String::new();
    }
    let mut out = format!("\n{heading}\n");
    for sentence in sentences {
        out.push_str(&format!("  · {sentence}\n"));
    }
    out
}
