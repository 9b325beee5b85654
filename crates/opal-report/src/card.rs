//! The card that goes with a finished stone, as a PDF.
//!
//! Every claim carries the numbers of the looks that it rests on; the looks stand
//! below with who and when. The same document gives the same bytes.

mod setting;

use crate::json::{DisclosureDoc, OnFileDoc};
use crate::text::on_file_words;
use setting::{Faces, Run, Setter};
use thiserror::Error;

/// ISO 216 A5: fits a stone's box folded once, and a ring binder.
const PAPER_MM: [f64; 2] = [148.0, 210.0];
/// Chosen: what a kitchen printer can reach on every side.
const MARGIN_MM: f64 = 12.0;

/// Why there is no card.
#[derive(Debug, Error)]
pub enum CardError {
    /// The file could not be written: a fault of the program.
    #[error("{0}")]
    Writing(String),
}

/// The card as a PDF file.
///
/// # Errors
/// None that is known: the font is built in.
pub fn card(doc: &DisclosureDoc) -> Result<Vec<u8>, CardError> {
    let faces = Faces::load()?;
    let pages = laid_out(doc, &faces);
    setting::pdf(
        &pages,
        &faces,
        PAPER_MM,
        &format!("{}: {}", doc.stone, doc.title),
    )
}

fn laid_out(doc: &DisclosureDoc, faces: &Faces) -> Vec<Vec<Run>> {
    let mut setter = Setter::new(faces, PAPER_MM, MARGIN_MM);
    setter.text(setting::TITLE, &doc.title);
    setter.text(setting::NAME, &doc.stone);
    setter.rule();
    // The title itself is the first line: it is not said twice, but its looks are.
    let mut lines = doc.card.iter();
    if let Some(first) = lines.next() {
        let numbers = numbers(&first.rests_on, &doc.on_file);
        if !numbers.is_empty() {
            setter.text(setting::BODY, &format!("Named so by {numbers} below."));
        }
    }
    for line in lines {
        let numbers = numbers(&line.rests_on, &doc.on_file);
        let text = if numbers.is_empty() {
            line.text.clone()
        } else {
            format!("{} {numbers}", line.text)
        };
        setter.text(setting::BODY, &text);
    }
    setter.gap(1.5);
    setter.text(setting::STRONG, &doc.no_certificate);
    if !doc.on_file.is_empty() {
        setter.heading("What it rests on");
        for (k, record) in doc.on_file.iter().enumerate() {
            let mut words = on_file_words(record);
            if let Some(photo) = &record.photo {
                words += &format!(", photo {photo}");
            }
            setter.numbered(k + 1, &words);
        }
    }
    if !doc.care.is_empty() {
        setter.heading("Care");
        for sentence in &doc.care {
            setter.text(setting::SMALL, sentence);
        }
    }
    setter.gap(2.0);
    setter.text(
        setting::FINE,
        &format!(
            "Words chosen by: {} ({}; read {}). {} Name by: {}.",
            doc.market.name, doc.market.edition, doc.market.read, doc.market.note, doc.clause
        ),
    );
    setter.finish()
}

/// The numbers under which looks stand on the card: "[1,3]".
fn numbers(ids: &[String], on_file: &[OnFileDoc]) -> String {
    let mut found: Vec<usize> = ids
        .iter()
        .filter_map(|id| on_file.iter().position(|record| record.id == *id))
        .map(|k| k + 1)
        .collect();
    found.sort_unstable();
    found.dedup();
    if found.is_empty() {
        return String::new();
    }
    let written: Vec<String> = found.iter().map(usize::to_string).collect();
    format!("[{}]", written.join(","))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::json::{CardLineDoc, MarketDoc, NO_CERTIFICATE};

    fn doc(looks: usize) -> DisclosureDoc {
        let on_file: Vec<OnFileDoc> = (0..looks)
            .map(|k| OnFileDoc {
                id: format!("look-{k}"),
                words: "Edge under the loupe: one dead straight line all round".to_owned(),
                by: Some("the cutter".to_owned()),
                at: None,
                note: None,
                photo: None,
            })
            .collect();
        let line = |text: &str, rests_on: &[&str]| CardLineDoc {
            text: text.to_owned(),
            rests_on: rests_on.iter().map(ToString::to_string).collect(),
        };
        DisclosureDoc {
            format: String::new(),
            stone: "Ring stone".to_owned(),
            market: MarketDoc {
                key: "australia".to_owned(),
                name: "Australia".to_owned(),
                edition: "of its year".to_owned(),
                read: "2026-11".to_owned(),
                note: "No conformity is claimed.".to_owned(),
            },
            class: "doublet".to_owned(),
            title: "Opal doublet".to_owned(),
            card: vec![
                line("Opal doublet.", &["look-1", "look-0"]),
                line("It is glued to a back of unknown material.", &["look-0"]),
                line("Not tested: Refractive index.", &[]),
            ],
            listing: String::new(),
            invoice: String::new(),
            care: vec!["Keep it out of water.".to_owned()],
            not_tested: "Not tested: Refractive index.".to_owned(),
            clause: "own rule".to_owned(),
            no_certificate: NO_CERTIFICATE.to_owned(),
            described_as_faults: Vec::new(),
            notes: Vec::new(),
            on_file,
        }
    }

    fn words(doc: &DisclosureDoc) -> Vec<String> {
        let faces = Faces::load().expect("built in");
        laid_out(doc, &faces)
            .into_iter()
            .map(|page| {
                page.iter()
                    .map(|run| run.text.as_str())
                    .collect::<Vec<_>>()
                    .join(" ")
            })
            .collect()
    }

    #[test]
    fn claims_carry_the_numbers_of_their_looks() {
        let pages = words(&doc(2));
        assert_eq!(pages.len(), 1);
        for there in [
            "Named so by [1,2] below.",
            "unknown material. [1]",
            "Not tested: Refractive index.",
            "not a laboratory's certificate",
            "the cutter",
            "Keep it out of water.",
            "No conformity is claimed.",
        ] {
            assert!(pages[0].contains(there), "{there}\n{}", pages[0]);
        }
    }

    #[test]
    fn nothing_leaves_the_paper_and_much_goes_on_overleaf() {
        let faces = Faces::load().expect("built in");
        let pages = laid_out(&doc(120), &faces);
        assert!(pages.len() > 1);
        for run in pages.iter().flatten() {
            assert!(run.at_mm[0] >= MARGIN_MM - 1e-9);
            assert!(run.at_mm[0] + run.width_mm(&faces) <= PAPER_MM[0] - MARGIN_MM + 1e-6);
            assert!(run.at_mm[1] <= PAPER_MM[1] - MARGIN_MM + 1e-9);
        }
    }

    #[test]
    fn the_same_document_gives_the_same_bytes() {
        let (one, two) = (
            card(&doc(3)).expect("a card"),
            card(&doc(3)).expect("a card"),
        );
        assert!(one == two && one.starts_with(b"%PDF-"));
        let read = lopdf::Document::load_mem(&one).expect("reads");
        assert_eq!(read.get_pages().len(), 1);
    }
}
