//! Words measured and broken into lines.
//!
//! The face is Source Sans 3 (SIL Open Font License 1.1, licence beside the
//! font file), one variable file for both weights.

use super::PrintError;
use krilla::text::{Font, GlyphId, KrillaGlyph, Tag};
use skrifa::instance::Size;
use skrifa::{FontRef, MetadataProvider};

const FILE: &[u8] = include_bytes!("../../fonts/SourceSans3-wght.ttf");

/// Weights of the two faces on the font's own axis.
const REGULAR: f32 = 400.0;
const BOLD: f32 = 650.0;

/// Points in a millimetre: 72 to the inch of 25.4 mm.
pub(crate) const PT_PER_MM: f64 = 72.0 / 25.4;

/// Which weight.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub(crate) enum Weight {
    Regular,
    Bold,
}

/// One weight of the font.
pub(crate) struct Face {
    pub(crate) font: Font,
    weight: f32,
}

/// The two faces.
pub(crate) struct Faces {
    pub(crate) regular: Face,
    pub(crate) bold: Face,
}

impl Faces {
    pub(crate) fn load() -> Result<Self, PrintError> {
        let face = |weight: f32| {
            Font::new_variable(FILE.to_vec().into(), 0, &[(Tag::new(b"wght"), weight)])
                .map(|font| Face { font, weight })
                .ok_or_else(|| PrintError("the built-in font cannot be read".to_owned()))
        };
        Ok(Self {
            regular: face(REGULAR)?,
            bold: face(BOLD)?,
        })
    }

    pub(crate) fn of(&self, weight: Weight) -> &Face {
        match weight {
            Weight::Regular => &self.regular,
            Weight::Bold => &self.bold,
        }
    }
}

impl Face {
    /// The glyphs of a text, with advances in ems. A character that the font
    /// lacks becomes a question mark.
    pub(crate) fn glyphs(&self, text: &str) -> Vec<KrillaGlyph> {
        let Ok(font) = FontRef::new(FILE) else {
            return Vec::new();
        };
        let location = font.axes().location([("wght", self.weight)]);
        let charmap = font.charmap();
        let metrics = font.glyph_metrics(Size::new(1.0), &location);
        let fallback = charmap.map('?');
        text.char_indices()
            .filter_map(|(at, c)| {
                let c = if c.is_whitespace() { ' ' } else { c };
                let glyph = charmap.map(c).or(fallback)?;
                let advance = metrics.advance_width(glyph).unwrap_or(0.5);
                let range = at..at + text[at..].chars().next().map_or(1, char::len_utf8);
                let id = GlyphId::new(glyph.to_u32());
                Some(KrillaGlyph::new(id, advance, 0.0, 0.0, 0.0, range, None))
            })
            .collect()
    }

    /// Width of a text at a size in points, mm.
    pub(crate) fn width_mm(&self, text: &str, size_pt: f64) -> f64 {
        let ems: f64 = self
            .glyphs(text)
            .iter()
            .map(|g| f64::from(g.x_advance))
            .sum();
        ems * size_pt / PT_PER_MM
    }

    /// The text in lines no wider than `width_mm`; a word that is wider than a
    /// line goes on in the next.
    pub(crate) fn lines(&self, text: &str, size_pt: f64, width_mm: f64) -> Vec<String> {
        let mut lines = Vec::new();
        let (mut line, mut line_width) = (String::new(), 0.0);
        let space = self.width_mm(" ", size_pt);
        for word in text.split_whitespace() {
            let mut word_width = self.width_mm(word, size_pt);
            if !line.is_empty() && line_width + space + word_width <= width_mm {
                line.push(' ');
                line.push_str(word);
                line_width += space + word_width;
                continue;
            }
            if !line.is_empty() {
                lines.push(std::mem::take(&mut line));
            }
            let mut rest = word;
            while word_width > width_mm {
                let end = self.end_of_first(rest, size_pt, width_mm);
                lines.push(rest[..end].to_owned());
                rest = &rest[end..];
                word_width = self.width_mm(rest, size_pt);
            }
            line.push_str(rest);
            line_width = word_width;
        }
        if !line.is_empty() {
            lines.push(line);
        }
        lines
    }

    /// Where the first line of a word ends that is too wide for one: after at
    /// least one character.
    fn end_of_first(&self, word: &str, size_pt: f64, width_mm: f64) -> usize {
        let mut width = 0.0;
        for (at, c) in word.char_indices() {
            width += self.width_mm(c.encode_utf8(&mut [0; 4]), size_pt);
            if width > width_mm && at > 0 {
                return at;
            }
        }
        word.len()
    }

    /// The text, or as much of it as fits with an ellipsis.
    pub(crate) fn cut(&self, text: &str, size_pt: f64, width_mm: f64) -> String {
        if self.width_mm(text, size_pt) <= width_mm {
            return text.to_owned();
        }
        let mut kept: String = text.to_owned();
        while kept.pop().is_some() {
            let shown = format!("{}…", kept.trim_end());
            if self.width_mm(&shown, size_pt) <= width_mm {
                return shown;
            }
        }
        String::new()
    }
}
