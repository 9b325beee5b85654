//! The papers that go with a finished stone, as PDF files.
//!
//! Every claim of a card carries the numbers of the looks that it rests on; the
//! looks stand below with who and when. The same document gives the same bytes.

mod setting;

use crate::json::{DisclosureDoc, OnFileDoc};
use crate::print::pen::Pages;
use crate::print::type_setting::Faces;
use crate::print::{PrintError, render};
use crate::sheet::Paper;
use crate::text::{PaperKind, on_file_words};
use setting::Setter;
use thiserror::Error;

/// Chosen: what a kitchen printer can reach on every side.
const MARGIN_MM: f64 = 12.0;

/// Why there is no paper.
#[derive(Debug, Error)]
pub enum CardError {
    /// The file could not be written: a fault of the program.
    #[error("the paper could not be written: {0}")]
    Writing(String),
}

impl From<PrintError> for CardError {
    fn from(error: PrintError) -> Self {
        Self::Writing(error.0)
    }
}

/// A paper of a stone as a PDF file. A card alone is half a sheet, folded once
/// into the stone's box: A5 (ISO 216), or half of Letter. The others stand on
/// whole sheets; all of them together begin each on a page of its own.
///
/// # Errors
/// None that is known: the font is built in.
pub fn paper_pdf(doc: &DisclosureDoc, kind: PaperKind, paper: Paper) -> Result<Vec<u8>, CardError> {
    let faces = Faces::load()?;
    let size_mm = size_mm(kind, paper);
    let pages = laid_out(doc, kind, size_mm, &faces);
    let title = format!("{}: {}", doc.stone, doc.title);
    Ok(render::pdf(&pages, size_mm, &title)?)
}

fn size_mm(kind: PaperKind, paper: Paper) -> [f64; 2] {
    match (kind, paper) {
        // ISO 216 rounds halves down to the millimetre.
        (PaperKind::Card, Paper::A4) => [148.0, 210.0],
        (PaperKind::Card, Paper::Letter) => [139.7, 215.9],
        _ => paper.size_mm(),
    }
}

fn laid_out<'f>(
    doc: &DisclosureDoc,
    kind: PaperKind,
    size_mm: [f64; 2],
    faces: &'f Faces,
) -> Pages<'f> {
    let mut setter = Setter::new(faces, size_mm, MARGIN_MM);
    match kind {
        PaperKind::Card => card(&mut setter, doc),
        PaperKind::Listing => listing(&mut setter, doc),
        PaperKind::Invoice => invoice(&mut setter, doc),
        PaperKind::Care => care(&mut setter, doc),
        PaperKind::All => {
            let papers = [card, listing, invoice, care];
            for (k, paper) in papers.into_iter().enumerate() {
                if k > 0 {
                    setter.overleaf();
                }
                paper(&mut setter, doc);
            }
        }
    }
    setter.finish()
}

fn head(setter: &mut Setter<'_>, doc: &DisclosureDoc, title: &str) {
    setter.text(setting::TITLE, title);
    setter.text(setting::NAME, &doc.stone);
    setter.rule();
}

fn card(setter: &mut Setter<'_>, doc: &DisclosureDoc) {
    head(setter, doc, &doc.title);
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
            setter.numbered(k + 1, &on_file_words(record));
        }
    }
    if !doc.care.is_empty() {
        setter.heading("Care");
        for sentence in &doc.care {
            setter.text(setting::SMALL, sentence);
        }
    }
    words_by(setter, doc);
}

fn listing(setter: &mut Setter<'_>, doc: &DisclosureDoc) {
    head(setter, doc, &doc.title);
    // The listing opens with the title, which stands above already.
    for paragraph in doc.listing.lines().skip(1).filter(|line| !line.is_empty()) {
        setter.text(setting::BODY, paragraph);
    }
    setter.gap(1.5);
    setter.text(setting::STRONG, &doc.no_certificate);
    words_by(setter, doc);
}

fn invoice(setter: &mut Setter<'_>, doc: &DisclosureDoc) {
    head(setter, doc, "Line for the invoice");
    setter.text(setting::BODY, &doc.invoice);
    setter.gap(1.5);
    setter.text(setting::STRONG, &doc.no_certificate);
    words_by(setter, doc);
}

fn care(setter: &mut Setter<'_>, doc: &DisclosureDoc) {
    head(setter, doc, "How to care for it");
    setter.text(setting::STRONG, &format!("{}.", doc.title));
    for sentence in &doc.care {
        setter.text(setting::BODY, sentence);
    }
}

fn words_by(setter: &mut Setter<'_>, doc: &DisclosureDoc) {
    setter.gap(2.0);
    setter.text(
        setting::FINE,
        &format!(
            "Words chosen by: {} ({}; read {}). {} Name by: {}.",
            doc.market.name, doc.market.edition, doc.market.read, doc.market.note, doc.clause
        ),
    );
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
    use crate::print::pen::Mark;

    fn doc(looks: usize) -> DisclosureDoc {
        let on_file: Vec<OnFileDoc> = (0..looks)
            .map(|k| OnFileDoc {
                id: format!("look-{k}"),
                words: "Edge under the loupe: one dead straight line all round".to_owned(),
                by: Some("the cutter".to_owned()),
                at: None,
                note: None,
                photo: None,
                photo_sha256: None,
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
            listing: "Opal doublet.\nIt is glued.".to_owned(),
            invoice: "1 × Opal doublet (Ring stone).".to_owned(),
            care: vec!["Keep it out of water.".to_owned()],
            not_tested: "Not tested: Refractive index.".to_owned(),
            clause: "own rule".to_owned(),
            no_certificate: NO_CERTIFICATE.to_owned(),
            described_as_faults: Vec::new(),
            notes: Vec::new(),
            on_file,
        }
    }

    fn words(doc: &DisclosureDoc, kind: PaperKind) -> Vec<String> {
        let faces = Faces::load().expect("built in");
        let text = |mark: &Mark| match mark {
            Mark::Text { text, .. } => Some(text.clone()),
            _ => None,
        };
        laid_out(doc, kind, size_mm(kind, Paper::A4), &faces)
            .marks
            .iter()
            .map(|page| page.iter().filter_map(text).collect::<Vec<_>>().join(" "))
            .collect()
    }

    #[test]
    fn claims_carry_the_numbers_of_their_looks() {
        let pages = words(&doc(2), PaperKind::Card);
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
    fn every_paper_says_what_it_is() {
        let doc = doc(2);
        for kind in [PaperKind::Card, PaperKind::Listing, PaperKind::Care] {
            let pages = words(&doc, kind);
            assert!(pages[0].contains("Opal doublet"), "{kind:?} {pages:?}");
        }
        assert!(words(&doc, PaperKind::Invoice)[0].contains("1 × Opal doublet"));
        assert_eq!(words(&doc, PaperKind::All).len(), 4);
    }

    #[test]
    fn nothing_leaves_the_paper_and_much_goes_on_overleaf() {
        let faces = Faces::load().expect("built in");
        for paper in [Paper::A4, Paper::Letter] {
            let size = size_mm(PaperKind::Card, paper);
            let pages = laid_out(&doc(120), PaperKind::Card, size, &faces);
            assert!(pages.marks.len() > 1);
            for mark in pages.marks.iter().flatten() {
                let Mark::Text {
                    at_mm, width_mm, ..
                } = mark
                else {
                    continue;
                };
                assert!(at_mm[0] >= MARGIN_MM - 1e-9);
                assert!(at_mm[0] + width_mm <= size[0] - MARGIN_MM + 1e-6);
                assert!(at_mm[1] <= size[1] - MARGIN_MM + 1e-9);
            }
        }
    }

    #[test]
    fn the_same_document_gives_the_same_bytes() {
        let card = || paper_pdf(&doc(3), PaperKind::Card, Paper::A4).expect("a card");
        let one = card();
        assert!(one == card() && one.starts_with(b"%PDF-"));
        let read = lopdf::Document::load_mem(&one).expect("reads");
        assert_eq!(read.get_pages().len(), 1);
    }
}
