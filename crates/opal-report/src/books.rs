//! The books on paper: what a month or a year came to, and what is held. The pages lie
//! where a table is too wide for upright ones; the same document gives the same bytes.

use crate::json::LedgerDoc;
use crate::print::pen::{Box4, GREY, INK, Line, PALE, Pages, Type, WASH, leading};
use crate::print::type_setting::{Faces, Weight};
use crate::print::{PrintError, render};
use crate::sheet::Paper;
use crate::table::{self, GroupBy, Table};
use crate::text::{period_words, sum_words};
use thiserror::Error;

/// Chosen: what a kitchen printer can reach on every side.
const MARGIN_MM: f64 = 12.0;
/// Between two columns, mm.
const GUTTER_MM: f64 = 4.0;
/// Largest and smallest type of a table, points. Chosen: below 6.5 nobody reads it at a
/// bench.
const TABLE_PT: [f64; 2] = [9.0, 6.5];
/// Narrowest column of words before a name is cut short, mm.
const LEAST_WORDS_MM: f64 = 18.0;

/// Which paper.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum BooksPaper {
    /// What the days came to, by month, origin, parcel and stone.
    Report,
    /// What is held, piece by piece.
    Held,
}

/// The file could not be written: a fault of the program.
#[derive(Clone, Debug, Error, Eq, PartialEq)]
#[error("the paper could not be written: {0}")]
pub struct BooksError(String);

impl From<PrintError> for BooksError {
    fn from(error: PrintError) -> Self {
        Self(error.0)
    }
}

/// The books as a PDF file.
///
/// # Errors
/// None that is known: the font is built in.
pub fn books(doc: &LedgerDoc, which: BooksPaper, paper: Paper) -> Result<Vec<u8>, BooksError> {
    let faces = Faces::load()?;
    let [short, long] = paper.size_mm();
    let tables = tables(doc, which);
    let upright = Setter::new(&faces, [short, long]);
    let size_mm = if tables.iter().all(|table| upright.fits(table)) {
        [short, long]
    } else {
        [long, short]
    };
    let pages = laid_out(doc, which, &tables, size_mm, &faces);
    Ok(render::pdf(&pages, size_mm, &title(doc, which))?)
}

fn title(doc: &LedgerDoc, which: BooksPaper) -> String {
    match (which, &doc.to) {
        (BooksPaper::Report, _) => period_words(doc),
        (BooksPaper::Held, Some(to)) => format!("Held on {to}, in {}", doc.currency),
        (BooksPaper::Held, None) => format!("Held, in {}", doc.currency),
    }
}

fn tables(doc: &LedgerDoc, which: BooksPaper) -> Vec<Table> {
    let tables = match which {
        BooksPaper::Report => [
            GroupBy::Month,
            GroupBy::Origin,
            GroupBy::Parcel,
            GroupBy::Stone,
        ]
        .map(|by| table::groups(doc, by))
        .to_vec(),
        BooksPaper::Held => vec![table::held(&doc.items)],
    };
    tables
        .into_iter()
        .map(Table::without_empty_columns)
        .collect()
}

fn laid_out<'f>(
    doc: &LedgerDoc,
    which: BooksPaper,
    tables: &[Table],
    size_mm: [f64; 2],
    faces: &'f Faces,
) -> Pages<'f> {
    let mut setter = Setter::new(faces, size_mm);
    setter.text(Type::bold(17.0, INK), &title(doc, which));
    let sums = sum_words(&doc.outcome, &doc.held, &doc.currency);
    let told = match which {
        BooksPaper::Report => &sums[..],
        BooksPaper::Held => sums.last().map_or(&[][..], std::slice::from_ref),
    };
    for line in told {
        setter.text(Type::plain(10.5, INK), line);
    }
    for table in tables {
        setter.table(table);
    }
    setter.gap(3.0);
    for sentence in doc.warnings.iter().chain(&doc.rests_on) {
        setter.text(Type::plain(8.0, GREY), sentence);
    }
    setter.numbered()
}

/// Sets lines and tables from the top of the first page down.
struct Setter<'f> {
    faces: &'f Faces,
    pages: Pages<'f>,
    size_mm: [f64; 2],
    page: usize,
    y_mm: f64,
}

impl<'f> Setter<'f> {
    fn new(faces: &'f Faces, size_mm: [f64; 2]) -> Self {
        Self {
            faces,
            pages: Pages::new(faces),
            size_mm,
            page: 0,
            y_mm: MARGIN_MM,
        }
    }

    fn width_mm(&self) -> f64 {
        self.size_mm[0] - 2.0 * MARGIN_MM
    }

    /// The lowest baseline; the page's number stands below.
    fn bottom_mm(&self) -> f64 {
        self.size_mm[1] - MARGIN_MM - 5.0
    }

    fn gap(&mut self, mm: f64) {
        self.y_mm += mm;
    }

    fn overleaf(&mut self) {
        self.page += 1;
        self.y_mm = MARGIN_MM;
    }

    fn text(&mut self, kind: Type, text: &str) {
        let face = self.faces.of(kind.weight);
        for line in face.lines(text, kind.size_pt, self.width_mm()) {
            if self.y_mm + leading(kind.size_pt) > self.bottom_mm() {
                self.overleaf();
            }
            self.y_mm += leading(kind.size_pt);
            let at = [MARGIN_MM, self.y_mm];
            self.pages.on(self.page).text(kind, at, &line);
        }
        self.gap(0.6);
    }

    fn table(&mut self, table: &Table) {
        if table.rows.is_empty() {
            return;
        }
        let (size_pt, widths) = self.columns(table);
        let row_mm = leading(size_pt) + 0.8;
        let width_mm = widths.iter().sum::<f64>() + gutters_mm(table);
        self.gap(5.0);
        // A heading does not stand alone at the foot of a page.
        if self.y_mm + leading(11.0) + 3.0 * row_mm > self.bottom_mm() {
            self.overleaf();
        }
        self.text(Type::bold(11.0, INK), &table.title);
        let names: Vec<String> = table
            .columns
            .iter()
            .map(|(name, _)| (*name).to_owned())
            .collect();
        self.row(table, &names, Type::bold(size_pt, GREY), &widths, row_mm);
        self.rule(width_mm);
        for (k, row) in table.rows.iter().enumerate() {
            if self.y_mm + row_mm > self.bottom_mm() {
                self.overleaf();
                self.row(table, &names, Type::bold(size_pt, GREY), &widths, row_mm);
                self.rule(width_mm);
            }
            if k % 2 == 1 {
                let stripe = Box4 {
                    left: MARGIN_MM,
                    top: self.y_mm + 0.9,
                    right: MARGIN_MM + width_mm,
                    bottom: self.y_mm + row_mm + 0.9,
                };
                self.pages.on(self.page).rectangle(stripe, WASH);
            }
            self.row(table, row, Type::plain(size_pt, INK), &widths, row_mm);
        }
    }

    fn rule(&mut self, width_mm: f64) {
        let y = self.y_mm + 0.9;
        let ends = [[MARGIN_MM, y], [MARGIN_MM + width_mm, y]];
        self.pages
            .on(self.page)
            .line(&ends, false, Line::plain(PALE, 0.25));
    }

    fn row(&mut self, table: &Table, cells: &[String], kind: Type, widths: &[f64], row_mm: f64) {
        self.y_mm += row_mm;
        let mut left = MARGIN_MM;
        let mut pen = self.pages.on(self.page);
        for ((cell, width), (_, figures)) in cells.iter().zip(widths).zip(&table.columns) {
            if *figures {
                pen.text_right(kind, [left + width, self.y_mm], cell);
            } else {
                let shown = self.faces.of(kind.weight).cut(cell, kind.size_pt, *width);
                pen.text(kind, [left, self.y_mm], &shown);
            }
            left += width + GUTTER_MM;
        }
    }

    /// The size of type and the widths of the columns: the largest type at which the
    /// table fits; columns of words give way where none does, figures never.
    fn columns(&self, table: &Table) -> (f64, Vec<f64>) {
        let there = self.width_mm() - gutters_mm(table);
        let [largest, smallest] = TABLE_PT;
        let mut size_pt = largest;
        loop {
            let mut widths = self.natural(table, size_pt);
            let over = widths.iter().sum::<f64>() - there;
            if over <= 0.0 {
                return (size_pt, widths);
            }
            if size_pt <= smallest {
                let words = |k: usize| !table.columns[k].1;
                let spare: f64 = (0..widths.len())
                    .filter(|&k| words(k))
                    .map(|k| (widths[k] - LEAST_WORDS_MM).max(0.0))
                    .sum();
                let share = (over / spare.max(over)).min(1.0);
                for k in (0..widths.len()).filter(|&k| words(k)) {
                    widths[k] -= share * (widths[k] - LEAST_WORDS_MM).max(0.0);
                }
                return (size_pt, widths);
            }
            size_pt -= 0.5;
        }
    }

    /// True when a table fits in its largest type.
    fn fits(&self, table: &Table) -> bool {
        let widths = self.natural(table, TABLE_PT[0]);
        widths.iter().sum::<f64>() + gutters_mm(table) <= self.width_mm()
    }

    fn natural(&self, table: &Table, size_pt: f64) -> Vec<f64> {
        (0..table.columns.len())
            .map(|k| {
                let header = self
                    .faces
                    .of(Weight::Bold)
                    .width_mm(table.columns[k].0, size_pt);
                let regular = self.faces.of(Weight::Regular);
                let cells = table
                    .rows
                    .iter()
                    .map(|row| regular.width_mm(&row[k], size_pt));
                // A hair more, so that a cell as wide as its column is not cut.
                cells.fold(header, f64::max) + 0.01
            })
            .collect()
    }

    /// The pages, each with its number.
    fn numbered(mut self) -> Pages<'f> {
        let of = self.page + 1;
        let at = [
            self.size_mm[0] - MARGIN_MM,
            self.size_mm[1] - MARGIN_MM + 2.0,
        ];
        for k in 0..of {
            let text = format!("page {} of {of}", k + 1);
            self.pages
                .on(k)
                .text_right(Type::plain(8.0, GREY), at, &text);
        }
        self.pages
    }
}

/// The space between a table's columns, mm.
fn gutters_mm(table: &Table) -> f64 {
    GUTTER_MM * table.columns.len().saturating_sub(1) as f64
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::json::{CostsDoc, ExpectedDoc, HeldDoc, HeldItemDoc, OutcomeDoc};
    use crate::print::pen::Mark;

    fn costs(total: &str) -> CostsDoc {
        CostsDoc {
            bought: total.to_owned(),
            brought_in: "0.00".to_owned(),
            consumables: "0.00".to_owned(),
            time: "0.00".to_owned(),
            total: total.to_owned(),
        }
    }

    fn doc(pieces: usize) -> LedgerDoc {
        let nought = || "0.00".to_owned();
        LedgerDoc {
            format: String::new(),
            currency: "AUD".to_owned(),
            from: None,
            to: None,
            entries: pieces,
            outcome: OutcomeDoc {
                sold: 0,
                sales: nought(),
                cost: costs("0.00"),
                fees: nought(),
                lost: nought(),
                overhead: nought(),
                profit: nought(),
                profit_before_time: nought(),
            },
            held: HeldDoc {
                pieces,
                cost: costs("1.00"),
                expected: None,
                not_worked_out: pieces,
            },
            by_stone: Vec::new(),
            by_parcel: Vec::new(),
            by_origin: Vec::new(),
            by_month: Vec::new(),
            items: (0..pieces)
                .map(|k| HeldItemDoc {
                    name: format!("A piece with a name as long as a street, number {k}"),
                    number: Some(k as i64),
                    parcel: Some("The bag that was bought in the winter of a dry year".to_owned()),
                    origin: Some("A field far out beyond the last of the fences".to_owned()),
                    since: "2026-03-04".to_owned(),
                    cost: costs("12345678.90"),
                    expected: Some(ExpectedDoc {
                        mean: "12345678.90".to_owned(),
                        low: "-12345678.90".to_owned(),
                        high: "12345678.90".to_owned(),
                    }),
                    worked_out: None,
                })
                .collect(),
            balances: Vec::new(),
            rests_on: vec!["What you recorded.".to_owned()],
            warnings: Vec::new(),
        }
    }

    #[test]
    fn nothing_leaves_the_paper_and_much_goes_on_overleaf() {
        let faces = Faces::load().expect("built in");
        let size_mm = [297.0, 210.0];
        let (doc, which) = (doc(120), BooksPaper::Held);
        let pages = laid_out(&doc, which, &tables(&doc, which), size_mm, &faces);
        assert!(pages.marks.len() > 1);
        for mark in pages.marks.iter().flatten() {
            if let Mark::Text {
                at_mm, width_mm, ..
            } = mark
            {
                assert!(at_mm[0] >= MARGIN_MM - 1e-9, "{mark:?}");
                assert!(
                    at_mm[0] + width_mm <= size_mm[0] - MARGIN_MM + 1e-6,
                    "{mark:?}"
                );
                assert!(at_mm[1] <= size_mm[1] - MARGIN_MM + 2.0 + 1e-9, "{mark:?}");
            }
        }
    }

    #[test]
    fn the_same_document_gives_the_same_bytes() {
        let pdf = || books(&doc(3), BooksPaper::Report, Paper::Letter).expect("a paper");
        let (one, two) = (pdf(), pdf());
        assert!(one == two && one.starts_with(b"%PDF-"));
        let read = lopdf::Document::load_mem(&one).expect("reads");
        assert_eq!(read.get_pages().len(), 1);
    }
}
