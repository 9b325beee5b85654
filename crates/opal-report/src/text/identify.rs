//! What a stone most likely is, and its papers, at the terminal.

use super::{listed, spread::in_a_hundred};
use crate::json::{
    DisclosureDoc, IdentityDoc, OnFileDoc, ShareDoc, WeighingDoc, WordFaultDoc, WordingDoc,
};

/// Shares below this are left out of the plain answer. Chosen: one in fifty.
const SHARE_SHOWN: f64 = 0.02;
/// How many tests to propose at once. Chosen: one to do, two to choose from.
const TESTS_SHOWN: usize = 3;

/// What a stone weighs, or how heavy it is for its size.
#[must_use]
pub fn weighing(doc: &WeighingDoc) -> String {
    let mut out = String::new();
    // Two standard deviations: nineteen times in twenty.
    if let Some(gravity) = &doc.gravity {
        out += &format!(
            "Specific gravity {:.3}, give or take {:.3} (19 times in 20)\n",
            gravity.value,
            2.0 * gravity.sigma
        );
    }
    if let Some(weight) = &doc.weight_ct {
        out += &format!(
            "About {:.1} ct, give or take {:.1} (19 times in 20)\n",
            weight.value,
            2.0 * weight.sigma
        );
    }
    if !doc.budget.is_empty() {
        out += &format!(
            "\nFrom {} weighing(s). What makes it unsure:\n",
            doc.weighings
        );
        for line in &doc.budget {
            out += &format!("  {:.4}  {}\n", 2.0 * line.sigma, line.cause);
        }
    }
    out += &listed("To know", &doc.notes);
    out
}

/// What a stone most likely is.
#[must_use]
pub fn identity(doc: &IdentityDoc) -> String {
    let mut out = format!("{}\n{}\n", doc.stone, doc.answer);
    if !doc.answer.contains("laboratory's certificate") {
        out += &format!("{}\n", doc.no_certificate);
    }
    out += "\nWhat it counts as, with how far the tables behind it are unsure\n";
    for share in doc.groups.iter().filter(|s| s.high >= SHARE_SHOWN) {
        out += &share_line(share);
    }
    out += "\nIn particular\n";
    for share in doc.classes.iter().filter(|s| s.share >= SHARE_SHOWN) {
        out += &share_line(share);
    }
    if !doc.grounds.is_empty() {
        let best = doc
            .classes
            .first()
            .map_or("the answer", |share| &share.name);
        out += &format!("\nWhat speaks for {best} against all else, weightiest first\n");
        for ground in &doc.grounds {
            let side = match ground.doublings {
                d if d >= 0.5 => "for",
                d if d <= -0.5 => "against",
                _ => "says little",
            };
            out += &format!("  · {} ({side}; {})\n", ground.seen, ground.observation);
        }
    }
    let contradictions: Vec<String> = doc
        .contradictions
        .iter()
        .map(|misfit| match misfit.observation.as_str() {
            "" => misfit.words.clone(),
            id => format!("{} ({id})", misfit.words),
        })
        .collect();
    out += &listed("What does not fit", &contradictions);
    out += &listed("To know", &doc.notes);
    if !doc.next_tests.is_empty() {
        out += "\nSafe to look at next, best first\n";
        for test in doc.next_tests.iter().take(TESTS_SHOWN) {
            out += &format!(
                "  · {}: about {:.0} min, needs {}. {} Harm: {}\n",
                test.name,
                test.minutes.max(1.0),
                test.needs,
                test.how,
                test.harm
            );
        }
    }
    let refused: Vec<String> = doc
        .refused_tests
        .iter()
        .map(|test| format!("{}: {}", test.name, test.why))
        .collect();
    out += &listed("Do not", &refused);
    if let Some(laboratory) = &doc.laboratory {
        out += &format!("\nOnly a laboratory can tell\n  · {laboratory}\n");
    }
    out += &listed("Not tested", &doc.not_tested);
    out
}

fn share_line(share: &ShareDoc) -> String {
    format!(
        "  {:>20}  {} ({:.0} to {:.0} in 100)\n",
        in_a_hundred(share.share),
        share.name,
        100.0 * share.low,
        100.0 * share.high
    )
}

/// Which paper.
#[derive(Clone, Copy, Debug, Default, Eq, PartialEq)]
pub enum PaperKind {
    /// The card that goes with the stone.
    Card,
    /// Text of a listing.
    Listing,
    /// Line of an invoice.
    Invoice,
    /// Care instructions.
    Care,
    /// All of them.
    #[default]
    All,
}

/// One paper, or all, ready to copy.
#[must_use]
pub fn papers(doc: &DisclosureDoc, kind: PaperKind) -> String {
    let mut out = match kind {
        PaperKind::Card => card(doc),
        PaperKind::Listing => format!("{}\n{}\n", doc.listing, doc.no_certificate),
        PaperKind::Invoice => format!("{}\n", doc.invoice),
        PaperKind::Care => listed("Care", &doc.care).trim_start().to_owned(),
        PaperKind::All => format!(
            "{}\nListing\n{}\n{}\n\nInvoice\n{}\n{}",
            card(doc),
            doc.listing,
            doc.no_certificate,
            doc.invoice,
            listed("Care", &doc.care)
        ),
    };
    if kind == PaperKind::All {
        out += &format!(
            "\nName by: {}\nRules: {} ({}; read {}). {}\n",
            doc.clause, doc.market.name, doc.market.edition, doc.market.read, doc.market.note
        );
        out += &listed("To know", &doc.notes);
        if !doc.described_as_faults.is_empty() {
            out += "\nDo not copy the words it was brought with\n";
            out += &fault_lines(&doc.described_as_faults);
        }
    }
    out
}

fn card(doc: &DisclosureDoc) -> String {
    let mut out = format!("{}\n", doc.stone);
    for line in &doc.card {
        let links = if line.rests_on.is_empty() {
            String::new()
        } else {
            format!(" [{}]", line.rests_on.join(", "))
        };
        out += &format!("{}{links}\n", line.text);
    }
    out += &format!("{}\n\nOn file\n", doc.no_certificate);
    for record in &doc.on_file {
        out += &format!("  [{}] {}\n", record.id, on_file_words(record));
    }
    out
}

/// What stands on file with who and when, in one line.
#[must_use]
pub fn on_file_words(record: &OnFileDoc) -> String {
    let mut words = record.words.clone();
    for part in [&record.by, &record.at].into_iter().flatten() {
        words += &format!(", {part}");
    }
    if let Some(photo) = &record.photo {
        words += &match &record.photo_sha256 {
            // Twelve digits tell any two photos of a shop apart.
            Some(digest) => format!(", photo {photo} (SHA-256 {:.12}…)", digest),
            None => format!(", photo {photo}, not kept"),
        };
    }
    words
}

fn fault_lines(faults: &[WordFaultDoc]) -> String {
    let mut out = String::new();
    for fault in faults {
        let what = if fault.words.is_empty() {
            "missing".to_owned()
        } else {
            format!("“{}”", fault.words)
        };
        out += &format!(
            "  · {what}: {}; {} ({})\n",
            fault.why, fault.instead, fault.clause
        );
    }
    out
}

/// A text that was looked over.
#[must_use]
pub fn wording(doc: &WordingDoc) -> String {
    let mut out = match doc.faults.len() {
        0 => "Nothing in it must not stand there, by the rules on file.\n".to_owned(),
        1 => "One thing needs putting right\n".to_owned(),
        n => format!("{n} things need putting right\n"),
    };
    out += &fault_lines(&doc.faults);
    out += &format!(
        "\nLooked over for {} ({}; read {}). {}\n",
        doc.market.name, doc.market.edition, doc.market.read, doc.market.note
    );
    out
}
