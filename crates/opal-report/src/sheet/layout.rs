//! Where everything stands: two columns that run on over as many pages as they
//! need, set in the largest type that needs the fewest pages.

use super::column::Column;
use super::words::LeftColumn;
use super::{SheetContent, SheetText};
use crate::print::pen::{Box4, Line, Pages, SAW, Type, WHITE, leading, text_box};
use crate::print::pen::{GREY, INK, PALE};
use crate::print::type_setting::{Faces, Weight};

/// Margin, mm. Chosen: what most printers can reach, and a thumb's hold.
pub(super) const MARGIN: f64 = 12.0;
/// Widths of the column of figures that are tried, the most comfortable first, mm: a
/// narrower one may let two drawings stand side by side.
const COLUMN: [f64; 2] = [57.0, 51.0];
/// Between the columns, mm.
const GAP: f64 = 5.0;
/// Strip for the page's number at the bottom, mm.
const PAGE_NUMBER: f64 = 5.0;

/// Sizes of type that are tried, the most comfortable first: steps are read at a
/// bench, at arm's length, through splashed glasses. Chosen.
const STEPS_PT: [f64; 4] = [11.0, 10.5, 10.0, 9.5];
const CAUTIONS_PT: [f64; 3] = [9.5, 9.0, 8.5];

/// Where a column may stand on one page.
#[derive(Clone, Copy, Debug)]
pub(super) struct Field {
    pub(super) left: f64,
    pub(super) top: f64,
    pub(super) width: f64,
    pub(super) bottom: f64,
}

/// Where columns may stand, page by page.
#[derive(Clone, Copy, Debug)]
pub(super) struct Frame {
    size: [f64; 2],
    /// Width of the column of figures, mm.
    column: f64,
    first_top: f64,
    later_top: f64,
    first_bottom: f64,
    later_bottom: f64,
    /// Pages on which the right column stands: the left one is then narrow.
    right_pages: usize,
}

impl Frame {
    pub(super) fn right(&self, page: usize) -> Field {
        Field {
            left: self.size[0] - MARGIN - self.column,
            width: self.column,
            ..self.field(page)
        }
    }

    pub(super) fn left(&self, page: usize) -> Field {
        let whole = self.field(page);
        if page < self.right_pages {
            let width = whole.width - self.column - GAP;
            return Field { width, ..whole };
        }
        whole
    }

    fn field(&self, page: usize) -> Field {
        let (top, bottom) = match page {
            0 => (self.first_top, self.first_bottom),
            _ => (self.later_top, self.later_bottom),
        };
        Field {
            left: MARGIN,
            top,
            width: self.size[0] - 2.0 * MARGIN,
            bottom,
        }
    }
}

/// Lays the sheet out.
pub(super) fn pages<'f>(content: &SheetContent, faces: &'f Faces) -> Pages<'f> {
    let size = content.paper.size_mm();
    let mut sheet = Pages::new(faces);
    let first_top = head(&mut sheet, content, size);
    let (first_bottom, rest) = foot(&mut sheet, content, size);
    let mut frame = Frame {
        size,
        column: COLUMN[0],
        first_top,
        later_top: MARGIN + 9.0,
        first_bottom,
        later_bottom: size[1] - MARGIN - PAGE_NUMBER,
        right_pages: 1,
    };
    if content.invented {
        frame.later_top += BANNER;
    }

    let mut columns: Option<[Pages<'f>; 2]> = None;
    let count = |columns: &[Pages<'f>; 2]| columns.iter().map(|c| c.marks.len()).max();
    for column in COLUMN {
        let next = both_columns(content, faces, Frame { column, ..frame }, rest.as_deref());
        if columns.as_ref().is_none_or(|c| count(&next) < count(c)) {
            columns = Some(next);
        }
    }
    for column in columns.into_iter().flatten() {
        sheet.add(column);
    }
    furniture(&mut sheet, content, size);
    sheet
}

/// The column of figures and the column of drawings and steps.
fn both_columns<'f>(
    content: &SheetContent,
    faces: &'f Faces,
    mut frame: Frame,
    rest: Option<&str>,
) -> [Pages<'f>; 2] {
    // The full words of every caution if there is room for them on the first
    // page, else the short ones, of which most can stand there.
    let tries = [false, true].map(|brief| CAUTIONS_PT.map(|pt| (brief, pt)));
    let right = first_on_one_page(tries.into_iter().flatten(), |(brief, size_pt)| {
        let mut pages = Pages::new(faces);
        Column::new(content, frame, size_pt, brief).put(&mut pages);
        pages
    });
    frame.right_pages = right.marks.len();
    let tries = [true, false].map(|early| STEPS_PT.map(|pt| (early, pt)));
    let left = fewest_pages(tries.into_iter().flatten(), |(early, size_pt)| {
        let mut pages = Pages::new(faces);
        LeftColumn::new(content, frame, size_pt, early, rest).put(&mut pages);
        pages
    });
    [right, left]
}

/// Every piece of text with its box.
pub(super) fn texts(pages: &Pages<'_>) -> Vec<SheetText> {
    use crate::print::pen::Mark;
    let mut out = Vec::new();
    for (page, marks) in pages.marks.iter().enumerate() {
        for mark in marks {
            if let Mark::Text {
                at_mm,
                kind,
                text,
                width_mm,
            } = mark
            {
                let around = text_box(*at_mm, kind.size_pt, *width_mm);
                out.push(SheetText {
                    page,
                    left_mm: around.left,
                    top_mm: around.top,
                    right_mm: around.right,
                    bottom_mm: around.bottom,
                    size_pt: kind.size_pt,
                    text: text.clone(),
                });
            }
        }
    }
    out
}

/// The first that needs one page, else the last.
fn first_on_one_page<'f, T>(
    tries: impl Iterator<Item = T>,
    lay_out: impl Fn(T) -> Pages<'f>,
) -> Pages<'f> {
    let mut last = None;
    for next in tries {
        let pages = lay_out(next);
        if pages.marks.len() == 1 {
            return pages;
        }
        last = Some(pages);
    }
    last.expect("the lists of sizes are not empty")
}

/// The first of those that need the fewest pages.
fn fewest_pages<'f, T>(
    tries: impl Iterator<Item = T>,
    lay_out: impl Fn(T) -> Pages<'f>,
) -> Pages<'f> {
    let mut best: Option<Pages<'f>> = None;
    for next in tries {
        let pages = lay_out(next);
        let one = pages.marks.len() == 1;
        if best
            .as_ref()
            .is_none_or(|b| pages.marks.len() < b.marks.len())
        {
            best = Some(pages);
        }
        if one {
            break;
        }
    }
    best.expect("the lists of sizes are not empty")
}

/// Height of the strip that says a sheet is invented, mm.
const BANNER: f64 = 10.0;

fn banner(sheet: &mut Pages<'_>, page: usize, size: [f64; 2]) {
    let strip = Box4 {
        left: MARGIN,
        top: MARGIN,
        right: size[0] - MARGIN,
        bottom: MARGIN + 8.0,
    };
    let mut pen = sheet.on(page);
    pen.rectangle(strip, SAW);
    let words = "INVENTED EXAMPLE: no such stone exists. Do not cut from this sheet.";
    pen.text_mid(
        Type::bold(12.0, WHITE),
        [size[0] / 2.0, MARGIN + 5.6],
        words,
    );
}

/// Title, plan and date; gives where the next thing may start.
fn head(sheet: &mut Pages<'_>, content: &SheetContent, size: [f64; 2]) -> f64 {
    let right = size[0] - MARGIN;
    let faces = sheet.faces;
    let mut y = MARGIN;
    if content.invented {
        banner(sheet, 0, size);
        y += BANNER;
    }
    let mut pen = sheet.on(0);
    let date = Type::plain(10.0, GREY);
    let shown = faces.regular.cut(&content.date, 10.0, 60.0);
    let room = right - MARGIN - pen.width(date, &shown) - 5.0;
    // A long name is set smaller before it is cut.
    let size_pt = [20.0, 17.0, 14.0, 12.0]
        .into_iter()
        .find(|&pt| faces.bold.width_mm(&content.title, pt) <= room)
        .unwrap_or(12.0);
    let title = faces.bold.cut(&content.title, size_pt, room);
    pen.text(Type::bold(size_pt, INK), [MARGIN, y + 6.5], &title);
    pen.text_right(date, [right, y + 6.5], &shown);
    y += 8.0;
    let lines = faces.regular.lines(&content.subtitle, 12.0, right - MARGIN);
    for (k, line) in lines.iter().take(3).enumerate() {
        let line = match lines.len() > 3 && k == 2 {
            true => faces
                .regular
                .cut(&format!("{line} …"), 12.0, right - MARGIN),
            false => line.clone(),
        };
        pen.text(Type::plain(12.0, INK), [MARGIN, y + 4.5], &line);
        y += leading(12.0);
    }
    y += 2.2;
    pen.line(&[[MARGIN, y], [right, y]], false, Line::plain(INK, 0.4));
    y + 2.5
}

/// What the figures rest on, at the foot of the first page; gives where it
/// starts, and the words when they are too many to stand there.
fn foot(sheet: &mut Pages<'_>, content: &SheetContent, size: [f64; 2]) -> (f64, Option<String>) {
    let bottom = size[1] - MARGIN - PAGE_NUMBER;
    if content.rests_on.trim().is_empty() {
        return (bottom, None);
    }
    let words = format!("Rests on: {}", content.rests_on);
    let width = size[0] - 2.0 * MARGIN;
    let lines = sheet.faces.of(Weight::Regular).lines(&words, 8.5, width);
    if lines.len() > 4 {
        return (bottom, Some(words));
    }
    let top = bottom - leading(8.5) * lines.len() as f64;
    let mut pen = sheet.on(0);
    let edge = [[MARGIN, top - 1.5], [MARGIN + width, top - 1.5]];
    pen.line(&edge, false, Line::plain(PALE, 0.25));
    for (k, line) in lines.iter().enumerate() {
        let y = top + 2.6 + leading(8.5) * k as f64;
        pen.text(Type::plain(8.5, GREY), [MARGIN, y], line);
    }
    (top - 3.0, None)
}

/// Names and numbers of the pages, when there is more than one.
fn furniture(sheet: &mut Pages<'_>, content: &SheetContent, size: [f64; 2]) {
    let count = sheet.marks.len();
    if count < 2 {
        return;
    }
    let faces = sheet.faces;
    for page in 0..count {
        if page > 0 {
            let mut y = MARGIN;
            if content.invented {
                banner(sheet, page, size);
                y += BANNER;
            }
            let width = size[0] - 2.0 * MARGIN;
            let title = faces.bold.cut(&content.title, 12.0, width);
            let mut pen = sheet.on(page);
            pen.text(Type::bold(12.0, INK), [MARGIN, y + 4.2], &title);
            let edge = [[MARGIN, y + 6.2], [MARGIN + width, y + 6.2]];
            pen.line(&edge, false, Line::plain(INK, 0.4));
        }
        let words = format!("Page {} of {count}", page + 1);
        let at = [size[0] - MARGIN, size[1] - MARGIN];
        sheet
            .on(page)
            .text_right(Type::plain(9.0, GREY), at, &words);
    }
}
