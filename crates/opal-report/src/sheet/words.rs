//! The left column: drawings side by side where they fit, what their lines
//! mean, the rule, the steps, the templates.

use super::drawing::{Drawing, legend, legend_height, rule};
use super::layout::{Field, Frame};
use super::{LineKind, SheetContent};
use crate::print::pen::{Box4, GREY, INK, Pages, Type, leading};

/// Between drawings, mm.
const BETWEEN: f64 = 3.0;
/// Field of the rule with its words, mm; the legend stands below it.
const RULE: [f64; 2] = [55.0, 20.0];
/// A drawing leaves at least this much of the first page to the words, mm.
/// Chosen: for the rule or three steps.
const LEFT_FOR_WORDS: f64 = 45.0;

pub(super) struct LeftColumn<'c> {
    content: &'c SheetContent,
    frame: Frame,
    steps_pt: f64,
    /// Templates stand with the drawings, not behind the steps.
    early: bool,
    /// What the figures rest on, when it did not fit at the foot.
    rests_on: Option<&'c str>,
    page: usize,
    y: f64,
}

/// What stands on a shelf of drawings.
enum Shelved<'c> {
    Drawing(Drawing<'c>),
    /// The rule, and below it what the lines of these kinds mean.
    Rule(Vec<LineKind>),
    /// What the lines of these kinds mean.
    Legend(Vec<LineKind>),
}

impl Shelved<'_> {
    fn size(&self) -> [f64; 2] {
        match self {
            Self::Drawing(drawing) => drawing.size_mm(),
            Self::Legend(kinds) => [RULE[0], legend_height(kinds)],
            Self::Rule(kinds) => [RULE[0], RULE[1] + legend_height(kinds)],
        }
    }
}

impl<'c> LeftColumn<'c> {
    pub(super) fn new(
        content: &'c SheetContent,
        frame: Frame,
        steps_pt: f64,
        early: bool,
        rests_on: Option<&'c str>,
    ) -> Self {
        Self {
            content,
            frame,
            steps_pt,
            early,
            rests_on,
            page: 0,
            y: frame.left(0).top,
        }
    }

    pub(super) fn put(mut self, pages: &mut Pages<'_>) {
        let field = self.field();
        let room = [field.width, field.bottom - field.top - LEFT_FOR_WORDS];
        let content = self.content;
        let faces = pages.faces;
        let mut shelf: Vec<Shelved<'_>> = Vec::new();
        for view in [Some(&content.above), content.side.as_ref()]
            .into_iter()
            .flatten()
            .filter(|view| !view.lines.is_empty() || !view.marks.is_empty())
        {
            shelf.push(Shelved::Drawing(Drawing::scaled(view, room, faces)));
        }
        let mut without_room = Vec::new();
        let mut late = Vec::new();
        for view in &content.templates {
            match Drawing::full_size(view, room, faces).filter(|_| self.early) {
                Some(drawing) => shelf.push(Shelved::Drawing(drawing)),
                None => late.push(view),
            }
        }
        shelf.push(Shelved::Rule(self.kinds()));
        self.shelves(pages, shelf, &mut without_room);
        self.steps(pages);
        // Templates that found no room above stand behind the words.
        for view in late {
            let field = self.frame.left(self.page.max(1));
            let room = [field.width, field.bottom - field.top];
            match Drawing::full_size(view, room, faces) {
                Some(drawing) => {
                    if drawing.size_mm()[0] > self.field().width {
                        self.next_page();
                    }
                    let shelf = vec![Shelved::Drawing(drawing)];
                    self.shelves(pages, shelf, &mut without_room);
                }
                None => {
                    let words = format!(
                        "{}: larger than the paper, so there is none to cut out. Draw the line \
                         on the stone from its sizes.",
                        view.title
                    );
                    self.paragraph(pages, &words, Type::plain(9.5, INK), 0.0, None);
                }
            }
        }
        for words in without_room {
            self.paragraph(pages, &words, Type::plain(8.5, GREY), 0.0, None);
        }
        if let Some(words) = self.rests_on {
            self.paragraph(pages, words, Type::plain(8.5, GREY), 0.0, None);
        }
    }

    fn field(&self) -> Field {
        self.frame.left(self.page)
    }

    fn next_page(&mut self) {
        self.page += 1;
        self.y = self.field().top;
    }

    fn need(&mut self, height: f64) {
        let field = self.field();
        if self.y + height > field.bottom && self.y > field.top {
            self.next_page();
        }
    }

    /// Rows of drawings, each as many as fit beside one another.
    fn shelves(
        &mut self,
        pages: &mut Pages<'_>,
        shelf: Vec<Shelved<'_>>,
        without_room: &mut Vec<String>,
    ) {
        let mut rest = shelf.into_iter().peekable();
        while rest.peek().is_some() {
            let width = self.field().width;
            let (mut row, mut taken, mut height) = (Vec::new(), 0.0, 0.0_f64);
            while let Some(next) = rest.peek() {
                if let (true, Shelved::Rule(kinds)) = (row.is_empty(), next) {
                    // In a row of its own the legend stands beside the rule.
                    let legend = Shelved::Legend(kinds.clone());
                    rest.next();
                    taken = 2.0 * RULE[0] + BETWEEN;
                    height = RULE[1].max(legend.size()[1]);
                    row.extend([Shelved::Rule(Vec::new()), legend]);
                    continue;
                }
                let [w, h] = next.size();
                if !row.is_empty() && taken + BETWEEN + w > width {
                    break;
                }
                taken += w + if row.is_empty() { 0.0 } else { BETWEEN };
                height = height.max(h);
                row.extend(rest.next());
            }
            self.need(height);
            let Field { left, width, .. } = self.field();
            // What is left over is shared out, so that drawings stand apart.
            let extra = ((width - taken) / row.len().max(1) as f64).max(0.0);
            let mut x = left;
            for item in row {
                let w = item.size()[0] + extra;
                let field = Box4 {
                    left: x,
                    top: self.y,
                    right: x + w,
                    bottom: self.y + height,
                };
                match item {
                    Shelved::Drawing(drawing) => {
                        without_room.extend(drawing.put(&mut pages.on(self.page), field));
                    }
                    Shelved::Legend(kinds) => legend(&mut pages.on(self.page), &kinds, [x, self.y]),
                    Shelved::Rule(kinds) => {
                        let mut pen = pages.on(self.page);
                        rule(&mut pen, [x, self.y]);
                        legend(&mut pen, &kinds, [x, self.y + RULE[1]]);
                    }
                }
                x += w + BETWEEN;
            }
            self.y += height + 1.0;
        }
    }

    /// The kinds of lines that are drawn, for the legend.
    fn kinds(&self) -> Vec<LineKind> {
        let views = [Some(&self.content.above), self.content.side.as_ref()];
        let lines = views.into_iter().flatten().flat_map(|view| &view.lines);
        lines.map(|line| line.kind).collect()
    }

    fn steps(&mut self, pages: &mut Pages<'_>) {
        let content = self.content;
        if content.steps.is_empty() {
            return;
        }
        self.need(7.0 + 2.0 * leading(self.steps_pt));
        let at = [self.field().left, self.y + 4.2];
        pages.on(self.page).text(Type::bold(11.0, INK), at, "Steps");
        self.y += 6.4;
        let kind = Type::plain(self.steps_pt, INK);
        for (k, step) in content.steps.iter().enumerate() {
            self.paragraph(pages, step, kind, 7.0, Some(&(k + 1).to_string()));
        }
        for note in &content.notes {
            self.paragraph(pages, note, Type::plain(8.5, GREY), 0.0, None);
        }
    }

    /// Words that run on over the end of a page, wrapped to each page's width.
    fn paragraph(
        &mut self,
        pages: &mut Pages<'_>,
        words: &str,
        kind: Type,
        indent: f64,
        number: Option<&str>,
    ) {
        let mut rest = words.to_owned();
        let mut number = number;
        // No line stands alone at the foot of a page.
        self.need(2.0 * leading(kind.size_pt));
        while !rest.is_empty() {
            let width = self.field().width - indent;
            let mut lines = pages
                .faces
                .of(kind.weight)
                .lines(&rest, kind.size_pt, width);
            let room = self.field().bottom - self.y;
            let fits = ((room / leading(kind.size_pt)).floor() as usize).max(1);
            rest = if lines.len() > fits {
                lines.split_off(fits).join(" ")
            } else {
                String::new()
            };
            for line in lines {
                let base = self.y + 0.8 * leading(kind.size_pt);
                let left = self.field().left;
                let mut pen = pages.on(self.page);
                if let Some(number) = number.take() {
                    pen.text(Type::bold(kind.size_pt, INK), [left, base], number);
                }
                pen.text(kind, [left + indent, base], &line);
                self.y += leading(kind.size_pt);
            }
            if !rest.is_empty() {
                self.next_page();
            }
        }
        self.y += 1.0;
    }
}
