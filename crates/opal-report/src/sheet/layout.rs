//! Where everything stands on the sheet.

use super::pen::{COLOUR, COLOUR_WASH, GREY, INK, Line, PALE, Pen, SAW, STONE, STONE_WASH, WASH};
use super::type_setting::{Face, Faces, PT_PER_MM};
use super::{LineKind, SheetContent, SheetError, SheetFigure, SheetView};
use krilla::metadata::Metadata;
use krilla::page::PageSettings;
use krilla::{Document, SerializeSettings};

/// Margin, mm. Chosen: what most printers can reach, and a thumb's hold.
const MARGIN: f64 = 12.0;
/// Width of the column of figures, mm.
const COLUMN: f64 = 58.0;
/// Legend and rule below the drawings, mm.
const BELOW_DRAWINGS: f64 = 21.0;
/// Between the drawings and the column, mm.
const GAP: f64 = 6.0;

pub(super) fn page(content: &SheetContent) -> Result<Vec<u8>, SheetError> {
    let faces = Faces::load()?;
    let [width, height] = content.paper.size_mm();
    let settings = PageSettings::from_wh((width * PT_PER_MM) as f32, (height * PT_PER_MM) as f32)
        .ok_or_else(|| SheetError::Writing("the paper has no size".to_owned()))?;
    let mut document = Document::new_with(SerializeSettings {
        xmp_metadata: false,
        enable_tagging: false,
        ..SerializeSettings::default()
    });
    document.set_metadata(
        Metadata::new()
            .title(format!("Bench sheet: {}", content.title))
            .language("en-GB".to_owned()),
    );
    let mut page = document.start_page_with(settings);
    let mut surface = page.surface();
    let mut sheet = Sheet {
        pen: Pen {
            surface: &mut surface,
        },
        faces: &faces,
        content,
        width,
        height,
    };
    sheet.draw();
    surface.finish();
    page.finish();
    document
        .finish()
        .map_err(|e| SheetError::Writing(format!("{e:?}")))
}

struct Sheet<'a, 'b, 'c> {
    pen: Pen<'a, 'b>,
    faces: &'c Faces,
    content: &'c SheetContent,
    width: f64,
    height: f64,
}

impl Sheet<'_, '_, '_> {
    fn draw(&mut self) {
        let content = self.content;
        let top = self.head();
        let foot = self.foot();
        let left_width = self.width - 2.0 * MARGIN - COLUMN - GAP;
        let column_end = self.column(self.width - MARGIN - COLUMN, top);

        // Drawings at full size come first; the words get what is left, but never
        // less than a quarter of the page, and stay clear of the column.
        let need = |view: &SheetView| extent(view)[1] + 18.0;
        let above_need = need(&content.above);
        let side_need = content.side.as_ref().map_or(0.0, need);
        let left_over = foot - top - above_need - side_need - BELOW_DRAWINGS;
        let words_most = left_over
            .clamp(0.25 * self.height, 0.45 * self.height)
            .min(foot - column_end - 5.0);
        let (size_pt, words) = self.words_height(words_most);
        let words_top = foot - words;
        let room = words_top - BELOW_DRAWINGS - top;
        let above_height = room * above_need / (above_need + side_need);
        self.view(&content.above, MARGIN, top, left_width, above_height);
        if let Some(side) = &content.side {
            self.view(
                side,
                MARGIN,
                top + above_height,
                left_width,
                room - above_height,
            );
        }
        self.legend(MARGIN, top + room + 1.0, left_width);
        self.rule(MARGIN, top + room + 7.5);
        self.words(words_top, size_pt);
    }

    /// What the lines mean, for those that are drawn.
    fn legend(&mut self, x: f64, y: f64, width: f64) {
        let views = [Some(&self.content.above), self.content.side.as_ref()];
        let kinds: Vec<LineKind> = views
            .into_iter()
            .flatten()
            .flat_map(|v| v.lines.iter().map(|l| l.kind))
            .collect();
        type Asked = fn(&LineKind) -> bool;
        let entries: [(Asked, &str, Line); 5] = [
            (
                |k| matches!(k, LineKind::Stone),
                "planned stone",
                Line::plain(STONE, 0.7),
            ),
            (
                |k| matches!(k, LineKind::Cut { .. }),
                "saw cut",
                Line {
                    colour: SAW,
                    width_mm: 0.4,
                    dash_mm: Some([3.0, 1.0]),
                },
            ),
            (
                |k| matches!(k, LineKind::Bar),
                "colour bar",
                Line::plain(COLOUR, 0.7),
            ),
            (
                |k| matches!(k, LineKind::BarSpread),
                "may reach",
                Line {
                    colour: COLOUR,
                    width_mm: 0.4,
                    dash_mm: Some([1.2, 0.8]),
                },
            ),
            (
                |k| matches!(k, LineKind::Avoid),
                "keep clear",
                Line {
                    colour: SAW,
                    width_mm: 0.5,
                    dash_mm: Some([0.6, 0.6]),
                },
            ),
        ];
        let mut at = x;
        for (asked, words, line) in entries {
            let needed = 7.0 + self.faces.regular.width_mm(words, 8.5);
            if kinds.iter().any(asked) && at + needed <= x + width + GAP {
                self.pen
                    .line(&[[at, y + 1.6], [at + 5.5, y + 1.6]], false, line);
                self.pen
                    .text(&self.faces.regular, 8.5, at + 7.0, y + 2.6, INK, words);
                at += needed + 4.0;
            }
        }
    }

    /// Title, plan and date; gives where the next thing may start.
    fn head(&mut self) -> f64 {
        let content = self.content;
        let right = self.width - MARGIN;
        let mut y = MARGIN;
        if content.invented {
            self.pen.rectangle(MARGIN, y, right - MARGIN, 8.0, SAW);
            let words = "INVENTED EXAMPLE: no such stone exists. Do not cut from this sheet.";
            self.pen.text_mid(
                &self.faces.bold,
                12.0,
                self.width / 2.0,
                y + 5.6,
                [255; 3],
                words,
            );
            y += 10.0;
        }
        let room = right - MARGIN - 30.0;
        let title = self.faces.bold.cut(&content.title, 20.0, room);
        self.pen
            .text(&self.faces.bold, 20.0, MARGIN, y + 6.5, INK, &title);
        self.pen.text_right(
            &self.faces.regular,
            10.0,
            right,
            y + 6.5,
            GREY,
            &content.date,
        );
        let subtitle = self
            .faces
            .regular
            .cut(&content.subtitle, 12.0, right - MARGIN);
        self.pen
            .text(&self.faces.regular, 12.0, MARGIN, y + 12.5, INK, &subtitle);
        self.pen.line(
            &[[MARGIN, y + 15.5], [right, y + 15.5]],
            false,
            Line::plain(INK, 0.4),
        );
        y + 18.0
    }

    /// What it rests on, at the foot; gives where it starts.
    fn foot(&mut self) -> f64 {
        let words = format!("Rests on: {}", self.content.rests_on);
        let width = self.width - 2.0 * MARGIN;
        let mut lines = self.faces.regular.lines(&words, 9.0, width);
        lines.truncate(4);
        let top = self.height - MARGIN - 4.0 * lines.len() as f64;
        self.pen.line(
            &[[MARGIN, top - 2.0], [MARGIN + width, top - 2.0]],
            false,
            Line::plain(PALE, 0.25),
        );
        for (k, line) in lines.iter().enumerate() {
            self.pen.text(
                &self.faces.regular,
                9.0,
                MARGIN,
                top + 2.5 + 4.0 * k as f64,
                GREY,
                line,
            );
        }
        top - 4.0
    }

    fn column(&mut self, x: f64, top: f64) -> f64 {
        let mut y = top + 1.0;
        self.pen
            .text(&self.faces.bold, 11.0, x, y + 3.5, INK, "What to expect");
        y += 6.5;
        let words = "Middle figure, and the range that 9 in 10 such stones fall in.";
        for line in self.faces.regular.lines(words, 8.5, COLUMN) {
            self.pen
                .text(&self.faces.regular, 8.5, x, y + 2.0, GREY, &line);
            y += 3.7;
        }
        y += 2.0;
        for figure in self.content.figures.iter().take(7) {
            y = self.figure(figure, x, y);
        }
        if self.content.weigh.is_empty() {
            return y;
        }
        let rows = self.content.weigh.len().min(8);
        y += 2.0;
        let height = 9.0 + 8.5 * rows as f64;
        self.pen.rectangle(x, y, COLUMN, height, WASH);
        self.pen.text(
            &self.faces.bold,
            11.0,
            x + 3.0,
            y + 6.0,
            INK,
            "Weigh and write down",
        );
        y += 9.0;
        for label in self.content.weigh.iter().take(rows) {
            let label = self.faces.regular.cut(label, 10.0, 27.0);
            self.pen
                .text(&self.faces.regular, 10.0, x + 3.0, y + 5.0, INK, &label);
            self.pen.line(
                &[[x + 31.0, y + 5.6], [x + COLUMN - 9.0, y + 5.6]],
                false,
                Line::plain(GREY, 0.25),
            );
            self.pen.text(
                &self.faces.regular,
                10.0,
                x + COLUMN - 7.0,
                y + 5.0,
                GREY,
                "ct",
            );
            y += 8.5;
        }
        y
    }

    fn figure(&mut self, figure: &SheetFigure, x: f64, y: f64) -> f64 {
        let [low, middle, high] = figure.quantiles;
        let digits = figure.digits.min(6);
        let label = self.faces.regular.cut(&figure.label, 10.0, COLUMN);
        self.pen
            .text(&self.faces.regular, 10.0, x, y + 3.5, INK, &label);
        let value = format!("{} {}", shown(middle, digits), figure.unit);
        self.pen
            .text(&self.faces.bold, 14.0, x, y + 9.2, INK, value.trim());
        let range = format!("{} to {}", shown(low, digits), shown(high, digits));
        self.pen
            .text_right(&self.faces.regular, 10.0, x + COLUMN, y + 9.2, INK, &range);
        // The bar runs over the range and a tenth of it beyond at each side.
        let bar = y + 11.6;
        self.pen.line(
            &[[x, bar], [x + COLUMN, bar]],
            false,
            Line::plain(PALE, 0.25),
        );
        let reach = (high - low).max(f64::MIN_POSITIVE);
        let at = |value: f64| x + COLUMN * (0.1 + 0.8 * (value - low) / reach);
        self.pen
            .rectangle(at(low), bar - 0.6, at(high) - at(low), 1.2, STONE_WASH);
        let tick = at(middle).clamp(x, x + COLUMN);
        self.pen.line(
            &[[tick, bar - 1.2], [tick, bar + 1.2]],
            false,
            Line::plain(STONE, 0.6),
        );
        y + 16.0
    }

    /// A drawing in a field, its middle in the field's middle.
    fn view(&mut self, view: &SheetView, x: f64, y: f64, w: f64, h: f64) {
        let head = 7.0;
        // Room around for the numbers of cuts.
        let [need_w, need_h] = extent(view);
        let (room_w, room_h) = (w - 8.0, h - head - 8.0);
        let scales = [
            (1.0, "full size"),
            (0.5, "HALF SIZE"),
            (0.2, "ONE FIFTH SIZE"),
            (0.1, "ONE TENTH SIZE"),
            (0.04, "ONE TWENTY-FIFTH SIZE"),
        ];
        let fits = |s: f64| need_w * s <= room_w && need_h * s <= room_h;
        let (scale, words) = scales
            .into_iter()
            .find(|s| fits(s.0))
            .unwrap_or((0.02, "ONE FIFTIETH SIZE"));
        let title = format!("{}, {words}", view.title);
        let title_width = self.faces.bold.width_mm(&title, 11.0);
        self.pen
            .text(&self.faces.bold, 11.0, x, y + 4.5, INK, &title);
        if scale < 1.0 {
            let warning = "Too large for the paper: do not trace.";
            self.pen.text(
                &self.faces.regular,
                10.0,
                x + title_width + 3.0,
                y + 4.5,
                SAW,
                warning,
            );
        }
        let Some((low, high)) = corners(view) else {
            return;
        };
        let middle = [x + w / 2.0, y + head + (h - head) / 2.0];
        let onto = |p: [f64; 2]| {
            [
                middle[0] + scale * (p[0] - 0.5 * (low[0] + high[0])),
                middle[1] - scale * (p[1] - 0.5 * (low[1] + high[1])),
            ]
        };
        for line in &view.lines {
            let points: Vec<[f64; 2]> = line.points_mm.iter().map(|&p| onto(p)).collect();
            let mut stroke = |style: Line| self.pen.line(&points, line.closed, style);
            match line.kind {
                LineKind::Rough => {
                    if line.closed {
                        self.pen.area(&points, WASH);
                    }
                    self.pen.line(&points, line.closed, Line::plain(INK, 0.5));
                }
                LineKind::Stone => {
                    if line.closed {
                        self.pen.veil(&points, STONE_WASH);
                    }
                    self.pen.line(&points, line.closed, Line::plain(STONE, 0.5));
                }
                LineKind::Bar => {
                    if line.closed {
                        self.pen.area(&points, COLOUR_WASH);
                    }
                    self.pen
                        .line(&points, line.closed, Line::plain(COLOUR, 0.35));
                }
                LineKind::BarSpread => stroke(Line {
                    colour: COLOUR,
                    width_mm: 0.25,
                    dash_mm: Some([1.2, 0.8]),
                }),
                LineKind::Cut { kerf_mm } => {
                    stroke(Line::plain([0xf3, 0xc6, 0xc2], (kerf_mm * scale).max(0.1)));
                    stroke(Line {
                        colour: SAW,
                        width_mm: 0.25,
                        dash_mm: Some([3.0, 1.0]),
                    });
                }
                LineKind::Avoid => stroke(Line {
                    colour: SAW,
                    width_mm: 0.3,
                    dash_mm: Some([0.6, 0.6]),
                }),
                LineKind::Faint => stroke(Line::plain(PALE, 0.2)),
            }
        }
        for mark in &view.marks {
            let at = onto(mark.at_mm);
            if mark.ringed {
                self.pen.disc(at, 2.6, [255; 3], Line::plain(SAW, 0.4));
                self.pen
                    .text_mid(&self.faces.bold, 10.0, at[0], at[1] + 1.25, SAW, &mark.text);
            } else {
                self.pen.text_mid(
                    &self.faces.regular,
                    9.0,
                    at[0],
                    at[1] + 1.1,
                    INK,
                    &mark.text,
                );
            }
        }
    }

    /// A rule of 50 mm: its ends and its whole length can be laid against a calliper.
    fn rule(&mut self, x: f64, y: f64) {
        self.pen.line(
            &[[x, y + 4.0], [x + 50.0, y + 4.0]],
            false,
            Line::plain(INK, 0.4),
        );
        for mm in 0..=50 {
            let long = if mm % 10 == 0 {
                3.0
            } else if mm % 5 == 0 {
                2.0
            } else {
                1.2
            };
            let width = if mm % 10 == 0 { 0.3 } else { 0.15 };
            let at = x + f64::from(mm);
            self.pen.line(
                &[[at, y + 4.0], [at, y + 4.0 - long]],
                false,
                Line::plain(INK, width),
            );
            if mm % 10 == 0 {
                self.pen
                    .text_mid(&self.faces.regular, 7.5, at, y + 7.4, INK, &mm.to_string());
            }
        }
        let words = [
            "mm. Lay your calliper on it: if it is not",
            "50.0 mm long, print again at 100 %.",
        ];
        for (k, words) in words.into_iter().enumerate() {
            let y = y + 2.6 + 4.0 * k as f64;
            self.pen
                .text(&self.faces.regular, 9.0, x + 54.0, y, INK, words);
        }
    }

    fn blocks(&self, size_pt: f64) -> [Vec<Vec<String>>; 2] {
        let [steps_width, cautions_width] = self.word_columns();
        let wrap = |face: &Face, list: &[String], size: f64, width: f64| -> Vec<Vec<String>> {
            list.iter()
                .map(|s| face.lines(s, size, width - 7.0))
                .collect()
        };
        [
            wrap(
                &self.faces.regular,
                &self.content.steps,
                size_pt,
                steps_width,
            ),
            wrap(
                &self.faces.regular,
                &self.content.cautions,
                caution_size(size_pt),
                cautions_width,
            ),
        ]
    }

    fn word_columns(&self) -> [f64; 2] {
        let width = self.width - 2.0 * MARGIN - GAP;
        if self.content.cautions.is_empty() {
            [width, 0.0]
        } else {
            [width - 66.0, 66.0]
        }
    }

    /// Size of type at which steps and cautions fit, and the height they take.
    fn words_height(&self, most: f64) -> (f64, f64) {
        let mut size_pt = 11.0;
        loop {
            let [steps, cautions] = self.blocks(size_pt);
            let height = block_height(&steps, size_pt)
                .max(block_height(&cautions, caution_size(size_pt)))
                + 8.0;
            if height <= most || size_pt <= 7.5 {
                return (size_pt, height.min(most));
            }
            size_pt -= 0.5;
        }
    }

    fn words(&mut self, top: f64, size_pt: f64) {
        let [steps, cautions] = self.blocks(size_pt);
        let bottom = self.foot_top();
        self.pen
            .text(&self.faces.bold, 11.0, MARGIN, top + 4.0, INK, "Steps");
        let mut y = top + 8.0;
        for (k, step) in steps.iter().enumerate() {
            // Unless it is the last, a step leaves room for the line that tells of more.
            let is_last = k + 1 == steps.len();
            let limit = if is_last {
                bottom + 1.0
            } else {
                bottom - leading(size_pt)
            };
            if y + step.len() as f64 * leading(size_pt) > limit {
                let left = format!(
                    "{} more steps stand in the plan on the screen.",
                    steps.len() - k
                );
                self.pen
                    .text(&self.faces.bold, size_pt, MARGIN, y + 3.0, SAW, &left);
                break;
            }
            self.pen.text(
                &self.faces.bold,
                size_pt,
                MARGIN,
                y + 3.2,
                INK,
                &format!("{}", k + 1),
            );
            for line in step {
                self.pen.text(
                    &self.faces.regular,
                    size_pt,
                    MARGIN + 7.0,
                    y + 3.2,
                    INK,
                    line,
                );
                y += leading(size_pt);
            }
            y += 1.2;
        }
        let [steps_width, width] = self.word_columns();
        if cautions.is_empty() {
            return;
        }
        let x = MARGIN + steps_width + GAP;
        self.pen.line(
            &[[x - 3.0, top + 1.0], [x - 3.0, bottom]],
            false,
            Line::plain(SAW, 0.6),
        );
        self.pen
            .text(&self.faces.bold, 11.0, x, top + 4.0, SAW, "Take care");
        let size_pt = caution_size(size_pt);
        let mut y = top + 8.0;
        for caution in &cautions {
            for line in caution {
                let line = self.faces.regular.cut(line, size_pt, width);
                self.pen
                    .text(&self.faces.regular, size_pt, x, y + 3.0, INK, &line);
                y += leading(size_pt);
            }
            y += 1.2;
        }
    }

    fn foot_top(&self) -> f64 {
        let words = format!("Rests on: {}", self.content.rests_on);
        let lines = self
            .faces
            .regular
            .lines(&words, 9.0, self.width - 2.0 * MARGIN)
            .len()
            .min(4);
        self.height - MARGIN - 4.0 * lines as f64 - 4.0
    }
}

/// Size of type for cautions: a little smaller than the steps, never too small
/// to be read at arm's length.
fn caution_size(steps_pt: f64) -> f64 {
    (steps_pt - 1.0).max(8.5)
}

/// A number with a true minus sign.
fn shown(value: f64, digits: usize) -> String {
    format!("{value:.digits$}").replace('-', "\u{2212}")
}

/// Line distance for a size of type, mm.
fn leading(size_pt: f64) -> f64 {
    1.22 * size_pt / PT_PER_MM
}

fn block_height(block: &[Vec<String>], size_pt: f64) -> f64 {
    block
        .iter()
        .map(|lines| lines.len() as f64 * leading(size_pt) + 1.2)
        .sum()
}

/// Lower left and upper right of all that is drawn, mm.
fn corners(view: &SheetView) -> Option<([f64; 2], [f64; 2])> {
    let lines = view.lines.iter().flat_map(|l| &l.points_mm);
    let mut points = lines.chain(view.marks.iter().map(|m| &m.at_mm));
    let first = *points.next()?;
    Some(points.fold((first, first), |(low, high), p| {
        (
            [low[0].min(p[0]), low[1].min(p[1])],
            [high[0].max(p[0]), high[1].max(p[1])],
        )
    }))
}

fn extent(view: &SheetView) -> [f64; 2] {
    corners(view).map_or([0.0; 2], |(low, high)| [high[0] - low[0], high[1] - low[1]])
}
