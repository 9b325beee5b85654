//! `opalwright-disclosure/1` and `opalwright-wording/1`: the words for a stone.

use super::identify::{NO_CERTIFICATE, OnFileDoc};
use opal_grade::{Disclosure, WordFault};
use opal_reference::disclosure::Market;
use schemars::JsonSchema;
use serde::Serialize;

/// The name of the format, with its version.
pub const DISCLOSURE_FORMAT: &str = "opalwright-disclosure/1";
/// The name of the format, with its version.
pub const WORDING_FORMAT: &str = "opalwright-wording/1";

/// The papers of one stone for one market.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(title = "opalwright-disclosure/1")]
pub struct DisclosureDoc {
    /// `opalwright-disclosure/1`.
    pub format: String,
    /// What the stone is called.
    pub stone: String,
    /// The market.
    pub market: MarketDoc,
    /// Key of what it is named as.
    pub class: String,
    /// Title of card and listing.
    pub title: String,
    /// The card, line by line.
    pub card: Vec<CardLineDoc>,
    /// Text of a listing.
    pub listing: String,
    /// Line of an invoice.
    pub invoice: String,
    /// How to care for it.
    pub care: Vec<String>,
    /// What was not tested, as printed.
    pub not_tested: String,
    /// The clause that the name rests on.
    pub clause: String,
    /// Always the same sentence: no certificate.
    pub no_certificate: String,
    /// Words of whoever brought it that must not go on a paper.
    pub described_as_faults: Vec<WordFaultDoc>,
    /// What to know before printing.
    pub notes: Vec<String>,
    /// Everything that the lines link to.
    pub on_file: Vec<OnFileDoc>,
}

/// A market with the edition of its rules that was read.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct MarketDoc {
    /// Its key.
    pub key: String,
    /// Its name.
    pub name: String,
    /// Which edition.
    pub edition: String,
    /// When it was read, year and month.
    pub read: String,
    /// What to know about it.
    pub note: String,
}

/// One line of a card.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct CardLineDoc {
    /// The line.
    pub text: String,
    /// The observations that it rests on, by their names on file.
    pub rests_on: Vec<String>,
}

/// Words that must not stand, or that are missing.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct WordFaultDoc {
    /// The words as they stand; empty when something is missing.
    pub words: String,
    /// Why.
    pub why: String,
    /// What to say in their place.
    pub instead: String,
    /// The clause.
    pub clause: String,
}

/// A text that was looked over.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(title = "opalwright-wording/1")]
pub struct WordingDoc {
    /// `opalwright-wording/1`.
    pub format: String,
    /// The market.
    pub market: MarketDoc,
    /// Key of what the stone is on file.
    pub class: String,
    /// The text.
    pub text: String,
    /// Everything that is wrong with it, in the order of the text.
    pub faults: Vec<WordFaultDoc>,
}

impl From<&Market> for MarketDoc {
    fn from(market: &Market) -> Self {
        Self {
            key: market.key.clone(),
            name: market.name.clone(),
            edition: market.edition.clone(),
            read: market.read.clone(),
            note: market.note.clone(),
        }
    }
}

impl From<&WordFault> for WordFaultDoc {
    fn from(fault: &WordFault) -> Self {
        Self {
            words: fault.words.clone(),
            why: fault.why.clone(),
            instead: fault.instead.clone(),
            clause: fault.clause.clone(),
        }
    }
}

/// What stands beside the papers themselves.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct DisclosureFacts {
    /// What the stone is called.
    pub stone: String,
    /// Key of what it is named as.
    pub class: String,
    /// Words of whoever brought it that must not go on a paper.
    pub described_as_faults: Vec<WordFault>,
    /// What to know before printing.
    pub notes: Vec<String>,
    /// Everything that the lines link to.
    pub on_file: Vec<OnFileDoc>,
}

impl DisclosureDoc {
    /// The document of one stone's papers.
    #[must_use]
    pub fn new(papers: &Disclosure, facts: DisclosureFacts) -> Self {
        Self {
            format: DISCLOSURE_FORMAT.to_owned(),
            stone: facts.stone,
            market: MarketDoc::from(&papers.market),
            class: facts.class,
            title: papers.title.clone(),
            card: papers
                .card
                .iter()
                .map(|line| CardLineDoc {
                    text: line.text.clone(),
                    rests_on: line.rests_on.clone(),
                })
                .collect(),
            listing: papers.listing.clone(),
            invoice: papers.invoice.clone(),
            care: papers.care.clone(),
            not_tested: papers.not_tested.clone(),
            clause: papers.clause.clone(),
            no_certificate: NO_CERTIFICATE.to_owned(),
            described_as_faults: facts
                .described_as_faults
                .iter()
                .map(WordFaultDoc::from)
                .collect(),
            notes: facts.notes,
            on_file: facts.on_file,
        }
    }
}

impl WordingDoc {
    /// The document of a text that was looked over.
    #[must_use]
    pub fn new(market: &Market, class: &str, text: &str, faults: &[WordFault]) -> Self {
        Self {
            format: WORDING_FORMAT.to_owned(),
            market: MarketDoc::from(market),
            class: class.to_owned(),
            text: text.to_owned(),
            faults: faults.iter().map(WordFaultDoc::from).collect(),
        }
    }
}
