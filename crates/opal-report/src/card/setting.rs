//! Lines of type set one below the other, on as many pages as they need.

use crate::print::pen::{GREY, INK, Line, PALE, Pages, Type, leading};
use crate::print::type_setting::{Faces, Weight};

/// A kind of text with the space above it, mm.
#[derive(Clone, Copy, Debug)]
pub(super) struct Style {
    kind: Type,
    above_mm: f64,
}

const fn style(weight: Weight, size_pt: f64, colour: [u8; 3], above_mm: f64) -> Style {
    Style {
        kind: Type {
            weight,
            size_pt,
            colour,
        },
        above_mm,
    }
}

pub(super) const TITLE: Style = style(Weight::Bold, 17.0, INK, 0.0);
pub(super) const NAME: Style = style(Weight::Regular, 11.0, GREY, 0.5);
pub(super) const BODY: Style = style(Weight::Regular, 10.5, INK, 1.0);
pub(super) const STRONG: Style = style(Weight::Bold, 10.5, INK, 1.0);
pub(super) const SMALL: Style = style(Weight::Regular, 9.0, INK, 0.5);
pub(super) const FINE: Style = style(Weight::Regular, 7.5, GREY, 0.5);
const HEADING: Style = style(Weight::Bold, 9.5, INK, 3.5);

/// How far the text of a numbered list stands in, mm. Chosen: three digits fit.
const INDENT_MM: f64 = 7.0;
/// What a heading keeps below it on its page, mm. Chosen: two lines of small type.
const KEPT_BELOW_HEADING_MM: f64 = 9.0;

/// Sets lines from the top of the first page down.
pub(super) struct Setter<'f> {
    pages: Pages<'f>,
    paper_mm: [f64; 2],
    margin_mm: f64,
    page: usize,
    y_mm: f64,
}

impl<'f> Setter<'f> {
    pub(super) fn new(faces: &'f Faces, paper_mm: [f64; 2], margin_mm: f64) -> Self {
        Self {
            pages: Pages::new(faces),
            paper_mm,
            margin_mm,
            page: 0,
            y_mm: margin_mm,
        }
    }

    pub(super) fn text(&mut self, style: Style, text: &str) {
        self.indented(style, text, 0.0, None);
    }

    /// A line of a list; the number hangs in the margin of its text.
    pub(super) fn numbered(&mut self, number: usize, text: &str) {
        let number = format!("[{number}]");
        self.indented(SMALL, text, INDENT_MM, Some(&number));
    }

    pub(super) fn heading(&mut self, text: &str) {
        let needed = HEADING.above_mm + leading(HEADING.kind.size_pt) + KEPT_BELOW_HEADING_MM;
        if !self.has_room(needed) {
            self.overleaf();
        }
        self.text(HEADING, text);
    }

    pub(super) fn gap(&mut self, mm: f64) {
        self.y_mm += mm;
    }

    pub(super) fn rule(&mut self) {
        self.y_mm += 2.0;
        let ends = [self.margin_mm, self.paper_mm[0] - self.margin_mm].map(|x| [x, self.y_mm]);
        let pen = &mut self.pages.on(self.page);
        pen.line(&ends, false, Line::plain(PALE, 0.3));
        self.y_mm += 1.0;
    }

    /// What follows stands on a page of its own.
    pub(super) fn overleaf(&mut self) {
        self.page += 1;
        self.y_mm = self.margin_mm;
    }

    fn has_room(&self, mm: f64) -> bool {
        self.y_mm + mm <= self.paper_mm[1] - self.margin_mm
    }

    fn indented(&mut self, style: Style, text: &str, indent_mm: f64, number: Option<&str>) {
        let Style { kind, above_mm } = style;
        let width = self.paper_mm[0] - 2.0 * self.margin_mm - indent_mm;
        let step = leading(kind.size_pt);
        self.y_mm += above_mm;
        let face = self.pages.faces.of(kind.weight);
        for (k, line) in face.lines(text, kind.size_pt, width).iter().enumerate() {
            if !self.has_room(step) {
                self.overleaf();
            }
            self.y_mm += step;
            let mut pen = self.pages.on(self.page);
            pen.text(kind, [self.margin_mm + indent_mm, self.y_mm], line);
            if let Some(number) = number.filter(|_| k == 0) {
                pen.text(kind, [self.margin_mm, self.y_mm], number);
            }
        }
    }

    pub(super) fn finish(self) -> Pages<'f> {
        self.pages
    }
}
