//! The right column: what to expect, what to weigh, what can hurt.

use super::layout::{Field, Frame};
use super::{SheetContent, SheetFigure};
use crate::print::pen::{
    Box4, GREY, INK, Line, PALE, Pages, SAW, STONE, STONE_WASH, Type, WASH, leading,
};

/// Fill-in line of one weight, mm.
const WEIGH_ROW: f64 = 7.2;

pub(super) struct Column<'c> {
    content: &'c SheetContent,
    frame: Frame,
    cautions_pt: f64,
    brief: bool,
    page: usize,
    y: f64,
}

impl<'c> Column<'c> {
    pub(super) fn new(
        content: &'c SheetContent,
        frame: Frame,
        cautions_pt: f64,
        brief: bool,
    ) -> Self {
        Self {
            content,
            frame,
            cautions_pt,
            brief,
            page: 0,
            y: frame.right(0).top,
        }
    }

    pub(super) fn put(mut self, pages: &mut Pages<'_>) {
        if !self.content.figures.is_empty() {
            self.figures(pages);
        }
        self.weigh(pages);
        self.cautions(pages);
    }

    fn field(&self) -> Field {
        self.frame.right(self.page)
    }

    /// Makes sure of some height: goes on to the next page where it is missing.
    /// True when it did.
    fn need(&mut self, height: f64) -> bool {
        let field = self.field();
        if self.y + height <= field.bottom || self.y <= field.top {
            return false;
        }
        self.page += 1;
        self.y = self.field().top;
        true
    }

    fn figures(&mut self, pages: &mut Pages<'_>) {
        let Field { left, width, .. } = self.field();
        let mut pen = pages.on(self.page);
        pen.text(
            Type::bold(11.0, INK),
            [left, self.y + 4.0],
            "What to expect",
        );
        self.y += 5.6;
        let words = "Middle figure, and the range that 9 in 10 such stones fall in.";
        for line in pages.faces.regular.lines(words, 8.5, width) {
            let at = [left, self.y + 2.8];
            pages.on(self.page).text(Type::plain(8.5, GREY), at, &line);
            self.y += leading(8.5);
        }
        self.y += 1.2;
        for figure in &self.content.figures {
            self.figure(pages, figure);
        }
    }

    fn figure(&mut self, pages: &mut Pages<'_>, figure: &SheetFigure) {
        let [low, middle, high] = figure.quantiles;
        let digits = figure.digits.min(6);
        let Field { left, width, .. } = self.field();
        let faces = pages.faces;
        let value = format!("{} {}", shown(middle, digits), figure.unit);
        let value = faces.bold.cut(value.trim(), 14.0, width);
        let range = format!("{} to {}", shown(low, digits), shown(high, digits));
        let range = faces.regular.cut(&range, 10.0, width);
        let taken = faces.bold.width_mm(&value, 14.0) + faces.regular.width_mm(&range, 10.0);
        let two_lines = taken + 3.0 > width;
        self.need(if two_lines { 17.2 } else { 12.6 });
        let mut y = self.y;
        let mut pen = pages.on(self.page);
        let label = faces.regular.cut(&figure.label, 10.0, width);
        pen.text(Type::plain(10.0, INK), [left, y + 3.3], &label);
        pen.text(Type::bold(14.0, INK), [left, y + 8.6], &value);
        if two_lines {
            y += 4.6;
        }
        pen.text_right(Type::plain(10.0, INK), [left + width, y + 8.6], &range);
        // The bar runs over the range and a tenth of it beyond at each side.
        let bar = y + 10.5;
        pen.line(
            &[[left, bar], [left + width, bar]],
            false,
            Line::plain(PALE, 0.25),
        );
        let reach = (high - low).max(f64::MIN_POSITIVE);
        let at = |value: f64| {
            (left + width * (0.1 + 0.8 * (value - low) / reach)).clamp(left, left + width)
        };
        pen.rectangle(
            Box4 {
                left: at(low),
                top: bar - 0.6,
                right: at(high),
                bottom: bar + 0.6,
            },
            STONE_WASH,
        );
        let tick = at(middle);
        pen.line(
            &[[tick, bar - 1.2], [tick, bar + 1.2]],
            false,
            Line::plain(STONE, 0.6),
        );
        self.y = y + 12.6;
    }

    /// Boxes to write weights into.
    fn weigh(&mut self, pages: &mut Pages<'_>) {
        let mut rest = self.content.weigh.as_slice();
        while !rest.is_empty() {
            self.need(8.0 + WEIGH_ROW);
            let Field {
                left,
                width,
                bottom,
                ..
            } = self.field();
            let rows = ((bottom - self.y - 8.0) / WEIGH_ROW).max(1.0) as usize;
            let (now, later) = rest.split_at(rows.min(rest.len()));
            let mut pen = pages.on(self.page);
            let height = 8.0 + WEIGH_ROW * now.len() as f64;
            pen.rectangle(
                Box4 {
                    left,
                    top: self.y,
                    right: left + width,
                    bottom: self.y + height,
                },
                WASH,
            );
            let heading = "Weigh and write down";
            pen.text(Type::bold(11.0, INK), [left + 3.0, self.y + 5.6], heading);
            self.y += 8.0;
            for label in now {
                let label = pen.faces.regular.cut(label, 10.0, 27.0);
                let base = self.y + 4.6;
                pen.text(Type::plain(10.0, INK), [left + 3.0, base], &label);
                pen.line(
                    &[[left + 31.0, base + 0.6], [left + width - 9.0, base + 0.6]],
                    false,
                    Line::plain(GREY, 0.25),
                );
                pen.text(Type::plain(10.0, GREY), [left + width - 7.0, base], "ct");
                self.y += WEIGH_ROW;
            }
            self.y += 3.0;
            rest = later;
        }
    }

    fn cautions(&mut self, pages: &mut Pages<'_>) {
        let size_pt = self.cautions_pt;
        let texts = self.content.cautions.iter().map(|caution| {
            if self.brief && !caution.brief.is_empty() {
                caution.brief.as_str()
            } else {
                caution.text.as_str()
            }
        });
        let width = self.field().width - 4.0;
        let face = &pages.faces.regular;
        let blocks: Vec<Vec<String>> = texts
            .map(|text| face.lines(text, size_pt, width))
            .filter(|lines| !lines.is_empty())
            .collect();
        if blocks.is_empty() {
            return;
        }
        self.need(7.0 + 2.0 * leading(size_pt));
        let mut from = self.y;
        self.cautions_heading(pages, "Take care");
        for lines in blocks {
            for (k, line) in lines.iter().enumerate() {
                let before = (self.page, self.y);
                if self.need(leading(size_pt)) {
                    self.red_edge(pages, before.0, from, before.1);
                    from = self.y;
                    self.cautions_heading(pages, "Take care, continued");
                }
                let left = self.field().left;
                let mut pen = pages.on(self.page);
                let base = self.y + 0.8 * leading(size_pt);
                if k == 0 {
                    pen.disc([left + 2.2, base - 1.1], 0.45, SAW, Line::plain(SAW, 0.1));
                }
                pen.text(Type::plain(size_pt, INK), [left + 4.0, base], line);
                self.y += leading(size_pt);
            }
            self.y += 0.6;
        }
        self.red_edge(pages, self.page, from, self.y - 0.6);
    }

    fn cautions_heading(&mut self, pages: &mut Pages<'_>, words: &str) {
        let at = [self.field().left + 2.0, self.y + 4.2];
        pages.on(self.page).text(Type::bold(11.0, SAW), at, words);
        self.y += 6.2;
    }

    fn red_edge(&self, pages: &mut Pages<'_>, page: usize, from: f64, to: f64) {
        let left = self.frame.right(page).left;
        pages
            .on(page)
            .line(&[[left, from], [left, to]], false, Line::plain(SAW, 0.6));
    }
}

/// A number with thousands parted and a true minus sign.
fn shown(value: f64, digits: usize) -> String {
    let text = format!("{value:.digits$}");
    let (sign, text) = match text.strip_prefix('-') {
        Some(rest) if rest.chars().any(|c| ('1'..='9').contains(&c)) => ("\u{2212}", rest),
        Some(rest) => ("", rest),
        None => ("", text.as_str()),
    };
    let whole = text.find('.').unwrap_or(text.len());
    let mut out = String::from(sign);
    for (k, c) in text.chars().enumerate() {
        if k > 0 && k < whole && (whole - k).is_multiple_of(3) {
            out.push(',');
        }
        out.push(c);
    }
    out
}

#[cfg(test)]
mod tests {
    use super::shown;

    #[test]
    fn numbers_read_as_on_a_price_tag() {
        for (value, digits, text) in [
            (0.0, 0, "0"),
            (-0.2, 0, "0"),
            (1150.0, 0, "1,150"),
            (-1_234_567.0, 0, "\u{2212}1,234,567"),
            (43.62, 1, "43.6"),
            (1043.62, 1, "1,043.6"),
        ] {
            assert_eq!(shown(value, digits), text);
        }
    }
}
