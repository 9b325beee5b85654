//! The laid-out pages as a PDF file.

use super::PrintError;
use super::pen::{Colour, Line, Mark, Pages};
use super::type_setting::PT_PER_MM;
use krilla::color::rgb::Color;
use krilla::geom::{Path, PathBuilder, Point};
use krilla::metadata::Metadata;
use krilla::num::NormalizedF32;
use krilla::page::PageSettings;
use krilla::paint::{Fill, FillRule, LineCap, LineJoin, Stroke, StrokeDash};
use krilla::surface::Surface;
use krilla::{Document, SerializeSettings};

/// Writes the pages.
///
/// # Errors
/// A paper without size, or a document that the library refuses.
pub(crate) fn pdf(
    pages: &Pages<'_>,
    size_mm: [f64; 2],
    title: &str,
) -> Result<Vec<u8>, PrintError> {
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
    for marks in &pages.marks {
        let settings = PageSettings::from_wh(pt(size_mm[0]), pt(size_mm[1]))
            .ok_or_else(|| PrintError("the paper has no size".to_owned()))?;
        let mut page = document.start_page_with(settings);
        let mut surface = page.surface();
        for mark in marks {
            put(&mut surface, mark, pages);
        }
        surface.finish();
        page.finish();
    }
    document.finish().map_err(|e| PrintError(format!("{e:?}")))
}

fn put(surface: &mut Surface<'_>, mark: &Mark, pages: &Pages<'_>) {
    match mark {
        Mark::Line {
            points_mm,
            closed,
            line,
        } => {
            if let Some(path) = path(std::slice::from_ref(points_mm), *closed) {
                surface.set_fill(None);
                surface.set_stroke(Some(stroke(line)));
                surface.draw_path(&path);
            }
        }
        Mark::Area {
            rings_mm,
            colour,
            opacity,
        } => {
            if let Some(path) = path(rings_mm, true) {
                fill(surface, *colour, *opacity);
                surface.draw_path(&path);
            }
        }
        Mark::Text {
            at_mm, kind, text, ..
        } => {
            let face = pages.faces.of(kind.weight);
            fill(surface, kind.colour, 1.0);
            surface.draw_glyphs(
                Point::from_xy(pt(at_mm[0]), pt(at_mm[1])),
                &face.glyphs(text),
                face.font.clone(),
                text,
                kind.size_pt as f32,
                false,
            );
        }
    }
}

fn pt(mm: f64) -> f32 {
    (mm * PT_PER_MM) as f32
}

fn path(rings_mm: &[Vec<[f64; 2]>], closed: bool) -> Option<Path> {
    let mut builder = PathBuilder::new();
    for ring in rings_mm.iter().filter(|ring| !ring.is_empty()) {
        for (k, p) in ring.iter().enumerate() {
            if k == 0 {
                builder.move_to(pt(p[0]), pt(p[1]));
            } else {
                builder.line_to(pt(p[0]), pt(p[1]));
            }
        }
        if closed {
            builder.close();
        }
    }
    builder.finish()
}

fn rgb(colour: Colour) -> Color {
    Color::new(colour[0], colour[1], colour[2])
}

fn stroke(line: &Line) -> Stroke {
    Stroke {
        paint: rgb(line.colour).into(),
        width: pt(line.width_mm),
        miter_limit: 4.0,
        line_cap: LineCap::Butt,
        line_join: LineJoin::Round,
        opacity: NormalizedF32::ONE,
        dash: line.dash_mm.map(|d| StrokeDash {
            array: d.map(pt).to_vec(),
            offset: 0.0,
        }),
    }
}

fn fill(surface: &mut Surface<'_>, colour: Colour, opacity: f32) {
    surface.set_stroke(None);
    surface.set_fill(Some(Fill {
        paint: rgb(colour).into(),
        opacity: NormalizedF32::new(opacity).unwrap_or(NormalizedF32::ONE),
        rule: FillRule::EvenOdd,
    }));
}
