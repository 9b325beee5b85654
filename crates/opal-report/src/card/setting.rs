//! Lines of type set one below the other, on as many pages as they need.

use super::CardError;
use krilla::color::rgb::Color;
use krilla::geom::{PathBuilder, Point};
use krilla::metadata::Metadata;
use krilla::num::NormalizedF32;
use krilla::page::PageSettings;
use krilla::paint::{Fill, FillRule, Stroke};
use krilla::text::{Font, GlyphId, KrillaGlyph, Tag};
use krilla::{Document, SerializeSettings};
use skrifa::instance::Size;
use skrifa::{FontRef, MetadataProvider};

/// Source Sans 3 (SIL Open Font License 1.1, licence beside the file).
const FILE: &[u8] = include_bytes!("../../fonts/SourceSans3-wght.ttf");
/// Weights on the font's own axis.
const WEIGHTS: [f32; 2] = [400.0, 650.0];
/// Points in a millimetre: 72 to the inch of 25.4 mm.
const PT_PER_MM: f64 = 72.0 / 25.4;
/// Line distance over size of type. Chosen: as on the bench sheet.
const LEADING: f64 = 1.22;

const INK: [u8; 3] = [0x1b, 0x1f, 0x24];
const GREY: [u8; 3] = [0x4c, 0x55, 0x5f];

/// How a piece of text looks.
#[derive(Clone, Copy, Debug)]
pub(super) struct Type {
    bold: bool,
    size_pt: f64,
    colour: [u8; 3],
    /// Space above it, mm.
    above_mm: f64,
}

const fn kind(bold: bool, size_pt: f64, colour: [u8; 3], above_mm: f64) -> Type {
    Type {
        bold,
        size_pt,
        colour,
        above_mm,
    }
}

pub(super) const TITLE: Type = kind(true, 17.0, INK, 0.0);
pub(super) const NAME: Type = kind(false, 11.0, GREY, 0.5);
pub(super) const BODY: Type = kind(false, 10.5, INK, 1.0);
pub(super) const STRONG: Type = kind(true, 10.5, INK, 1.0);
pub(super) const SMALL: Type = kind(false, 9.0, INK, 0.5);
pub(super) const FINE: Type = kind(false, 7.5, GREY, 0.5);
const HEADING: Type = kind(true, 9.5, INK, 3.5);

/// The two weights of the font.
pub(super) struct Faces([Font; 2]);

impl Faces {
    pub(super) fn load() -> Result<Self, CardError> {
        let face = |weight: f32| {
            Font::new_variable(FILE.to_vec().into(), 0, &[(Tag::new(b"wght"), weight)])
                .ok_or_else(|| CardError::Writing("the built-in font cannot be read".to_owned()))
        };
        Ok(Self([face(WEIGHTS[0])?, face(WEIGHTS[1])?]))
    }

    /// The glyphs of a text, with advances in ems. A character that the font
    /// lacks becomes a question mark.
    fn glyphs(&self, bold: bool, text: &str) -> Vec<KrillaGlyph> {
        let Ok(font) = FontRef::new(FILE) else {
            return Vec::new();
        };
        let location = font.axes().location([("wght", WEIGHTS[usize::from(bold)])]);
        let charmap = font.charmap();
        let metrics = font.glyph_metrics(Size::new(1.0), &location);
        let fallback = charmap.map('?');
        text.char_indices()
            .filter_map(|(at, c)| {
                let shown = if c.is_whitespace() { ' ' } else { c };
                let glyph = charmap.map(shown).or(fallback)?;
                let advance = metrics.advance_width(glyph).unwrap_or(0.5);
                let id = GlyphId::new(glyph.to_u32());
                let range = at..at + c.len_utf8();
                Some(KrillaGlyph::new(id, advance, 0.0, 0.0, 0.0, range, None))
            })
            .collect()
    }

    fn width_mm(&self, kind: Type, text: &str) -> f64 {
        let glyphs = self.glyphs(kind.bold, text);
        let ems: f64 = glyphs.iter().map(|g| f64::from(g.x_advance)).sum();
        ems * kind.size_pt / PT_PER_MM
    }

    /// The text in lines no wider than `width_mm`; a word wider than a line is
    /// broken where the line ends.
    fn lines(&self, kind: Type, text: &str, width_mm: f64) -> Vec<String> {
        let mut lines = Vec::new();
        let mut line = String::new();
        for word in text.split_whitespace() {
            let longer = if line.is_empty() {
                word.to_owned()
            } else {
                format!("{line} {word}")
            };
            if self.width_mm(kind, &longer) <= width_mm {
                line = longer;
                continue;
            }
            if !line.is_empty() {
                lines.push(std::mem::take(&mut line));
            }
            for c in word.chars() {
                line.push(c);
                if self.width_mm(kind, &line) > width_mm && line.len() > c.len_utf8() {
                    line.pop();
                    lines.push(std::mem::take(&mut line));
                    line.push(c);
                }
            }
        }
        if !line.is_empty() {
            lines.push(line);
        }
        lines
    }
}

/// One line of type in its place, or a rule where the text is empty.
#[derive(Clone, Debug)]
pub(super) struct Run {
    /// Left end of the baseline, mm from the paper's upper left corner.
    pub(super) at_mm: [f64; 2],
    kind: Type,
    pub(super) text: String,
    /// Right end of a rule, mm.
    rule_to_mm: Option<f64>,
}

impl Run {
    #[cfg(test)]
    pub(super) fn width_mm(&self, faces: &Faces) -> f64 {
        faces.width_mm(self.kind, &self.text)
    }
}

/// Sets lines from the top of the first page down.
pub(super) struct Setter<'f> {
    faces: &'f Faces,
    paper_mm: [f64; 2],
    margin_mm: f64,
    y_mm: f64,
    pages: Vec<Vec<Run>>,
}

impl<'f> Setter<'f> {
    pub(super) fn new(faces: &'f Faces, paper_mm: [f64; 2], margin_mm: f64) -> Self {
        Self {
            faces,
            paper_mm,
            margin_mm,
            y_mm: margin_mm,
            pages: vec![Vec::new()],
        }
    }

    pub(super) fn text(&mut self, kind: Type, text: &str) {
        self.indented(kind, text, 0.0);
    }

    /// A line of a list; the number hangs in the margin of its text.
    pub(super) fn numbered(&mut self, number: usize, text: &str) {
        let indent = 7.0;
        let before = (self.pages.len(), self.pages.last().map_or(0, Vec::len));
        self.indented(SMALL, text, indent);
        // The number stands on the baseline of the text's first line, wherever
        // that came to lie.
        let place = self
            .pages
            .iter()
            .enumerate()
            .skip(before.0 - 1)
            .find_map(|(page, runs)| {
                let from = if page + 1 == before.0 { before.1 } else { 0 };
                runs.get(from).map(|run| (page, run.at_mm[1]))
            });
        if let Some((page, y)) = place {
            self.pages[page].push(Run {
                at_mm: [self.margin_mm, y],
                kind: SMALL,
                text: format!("[{number}]"),
                rule_to_mm: None,
            });
        }
    }

    pub(super) fn heading(&mut self, text: &str) {
        self.text(HEADING, text);
    }

    pub(super) fn gap(&mut self, mm: f64) {
        self.y_mm += mm;
    }

    pub(super) fn rule(&mut self) {
        self.y_mm += 2.0;
        let at_mm = [self.margin_mm, self.y_mm];
        self.put(Run {
            at_mm,
            kind: BODY,
            text: String::new(),
            rule_to_mm: Some(self.paper_mm[0] - self.margin_mm),
        });
        self.y_mm += 1.0;
    }

    fn indented(&mut self, kind: Type, text: &str, indent_mm: f64) {
        let width = self.paper_mm[0] - 2.0 * self.margin_mm - indent_mm;
        self.y_mm += kind.above_mm;
        for line in self.faces.lines(kind, text, width) {
            let step = LEADING * kind.size_pt / PT_PER_MM;
            if self.y_mm + step > self.paper_mm[1] - self.margin_mm {
                self.pages.push(Vec::new());
                self.y_mm = self.margin_mm;
            }
            self.y_mm += step;
            self.put(Run {
                at_mm: [self.margin_mm + indent_mm, self.y_mm],
                kind,
                text: line,
                rule_to_mm: None,
            });
        }
    }

    fn put(&mut self, run: Run) {
        if let Some(page) = self.pages.last_mut() {
            page.push(run);
        }
    }

    pub(super) fn finish(self) -> Vec<Vec<Run>> {
        self.pages
    }
}

fn pt(mm: f64) -> f32 {
    (mm * PT_PER_MM) as f32
}

/// Writes the pages.
pub(super) fn pdf(
    pages: &[Vec<Run>],
    faces: &Faces,
    paper_mm: [f64; 2],
    title: &str,
) -> Result<Vec<u8>, CardError> {
    let mut document = Document::new_with(SerializeSettings {
        xmp_metadata: false,
        enable_tagging: false,
        ..SerializeSettings::default()
    });
    document.set_metadata(
        Metadata::new()
            .title(title.to_owned())
            .language("en-GB".to_owned()),
    );
    for runs in pages {
        let settings = PageSettings::from_wh(pt(paper_mm[0]), pt(paper_mm[1]))
            .ok_or_else(|| CardError::Writing("the paper has no size".to_owned()))?;
        let mut page = document.start_page_with(settings);
        let mut surface = page.surface();
        for run in runs {
            let [r, g, b] = run.kind.colour;
            let colour = Color::new(r, g, b);
            let [x, y] = run.at_mm.map(pt);
            if let Some(to) = run.rule_to_mm {
                let mut path = PathBuilder::new();
                path.move_to(x, y);
                path.line_to(pt(to), y);
                if let Some(path) = path.finish() {
                    surface.set_fill(None);
                    surface.set_stroke(Some(Stroke {
                        paint: colour.into(),
                        width: 0.6,
                        ..Stroke::default()
                    }));
                    surface.draw_path(&path);
                }
                continue;
            }
            surface.set_stroke(None);
            surface.set_fill(Some(Fill {
                paint: colour.into(),
                opacity: NormalizedF32::ONE,
                rule: FillRule::NonZero,
            }));
            surface.draw_glyphs(
                Point::from_xy(x, y),
                &faces.glyphs(run.kind.bold, &run.text),
                faces.0[usize::from(run.kind.bold)].clone(),
                &run.text,
                run.kind.size_pt as f32,
                false,
            );
        }
        surface.finish();
        page.finish();
    }
    document
        .finish()
        .map_err(|error| CardError::Writing(format!("{error:?}")))
}
