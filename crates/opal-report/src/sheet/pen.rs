//! A pen that draws on the page in millimetres from its upper left corner.

use super::type_setting::{Face, PT_PER_MM};
use krilla::color::rgb::Color;
use krilla::geom::{Path, PathBuilder, Point};
use krilla::num::NormalizedF32;
use krilla::paint::{Fill, FillRule, LineCap, LineJoin, Stroke, StrokeDash};
use krilla::surface::Surface;

pub(super) const INK: Color3 = [0x1b, 0x1f, 0x24];
pub(super) const GREY: Color3 = [0x5d, 0x66, 0x70];
pub(super) const PALE: Color3 = [0xc9, 0xcf, 0xd6];
pub(super) const WASH: Color3 = [0xf1, 0xf3, 0xf5];
pub(super) const SAW: Color3 = [0xb4, 0x23, 0x18];
pub(super) const COLOUR: Color3 = [0x0f, 0x76, 0x6e];
pub(super) const COLOUR_WASH: Color3 = [0xcf, 0xea, 0xe6];
pub(super) const STONE: Color3 = [0x1d, 0x4e, 0x9e];
pub(super) const STONE_WASH: Color3 = [0xdb, 0xe6, 0xf7];

/// Red, green and blue.
pub(super) type Color3 = [u8; 3];

/// How a line looks.
#[derive(Clone, Copy)]
pub(super) struct Line {
    pub(super) colour: Color3,
    pub(super) width_mm: f64,
    /// On and off, mm.
    pub(super) dash_mm: Option<[f64; 2]>,
}

impl Line {
    pub(super) fn plain(colour: Color3, width_mm: f64) -> Self {
        Self {
            colour,
            width_mm,
            dash_mm: None,
        }
    }
}

pub(super) struct Pen<'a, 'b> {
    pub(super) surface: &'a mut Surface<'b>,
}

fn pt(mm: f64) -> f32 {
    (mm * PT_PER_MM) as f32
}

fn path(points_mm: &[[f64; 2]], closed: bool) -> Option<Path> {
    let mut builder = PathBuilder::new();
    for (k, p) in points_mm.iter().enumerate() {
        if k == 0 {
            builder.move_to(pt(p[0]), pt(p[1]));
        } else {
            builder.line_to(pt(p[0]), pt(p[1]));
        }
    }
    if closed {
        builder.close();
    }
    builder.finish()
}

fn rgb(colour: Color3) -> Color {
    Color::new(colour[0], colour[1], colour[2])
}

impl Pen<'_, '_> {
    pub(super) fn line(&mut self, points_mm: &[[f64; 2]], closed: bool, line: Line) {
        let Some(path) = path(points_mm, closed) else {
            return;
        };
        self.surface.set_fill(None);
        self.surface.set_stroke(Some(Stroke {
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
        }));
        self.surface.draw_path(&path);
        self.surface.set_stroke(None);
    }

    pub(super) fn area(&mut self, points_mm: &[[f64; 2]], colour: Color3) {
        let Some(path) = path(points_mm, true) else {
            return;
        };
        self.fill(colour);
        self.surface.draw_path(&path);
    }

    /// An area through which what lies below still shows.
    pub(super) fn veil(&mut self, points_mm: &[[f64; 2]], colour: Color3) {
        let Some(path) = path(points_mm, true) else {
            return;
        };
        self.surface.set_stroke(None);
        self.surface.set_fill(Some(Fill {
            paint: rgb(colour).into(),
            opacity: NormalizedF32::new(0.55).unwrap_or(NormalizedF32::ONE),
            rule: FillRule::EvenOdd,
        }));
        self.surface.draw_path(&path);
    }

    pub(super) fn rectangle(&mut self, x: f64, y: f64, w: f64, h: f64, colour: Color3) {
        self.area(&[[x, y], [x + w, y], [x + w, y + h], [x, y + h]], colour);
    }

    pub(super) fn disc(&mut self, at: [f64; 2], radius_mm: f64, inside: Color3, rim: Line) {
        let ring: Vec<[f64; 2]> = (0..32)
            .map(|k| {
                let (s, c) = (std::f64::consts::TAU * f64::from(k) / 32.0).sin_cos();
                [at[0] + radius_mm * c, at[1] + radius_mm * s]
            })
            .collect();
        self.area(&ring, inside);
        self.line(&ring, true, rim);
    }

    /// Text with its baseline's left end at (x, y).
    pub(super) fn text(
        &mut self,
        face: &Face,
        size_pt: f64,
        x: f64,
        y: f64,
        colour: Color3,
        text: &str,
    ) {
        let glyphs = face.glyphs(text);
        if glyphs.is_empty() {
            return;
        }
        self.fill(colour);
        let start = Point::from_xy(pt(x), pt(y));
        self.surface.draw_glyphs(
            start,
            &glyphs,
            face.font.clone(),
            text,
            size_pt as f32,
            false,
        );
    }

    /// Text that ends at x.
    pub(super) fn text_right(
        &mut self,
        face: &Face,
        size_pt: f64,
        x: f64,
        y: f64,
        colour: Color3,
        text: &str,
    ) {
        let width = face.width_mm(text, size_pt);
        self.text(face, size_pt, x - width, y, colour, text);
    }

    /// Text with its middle at x.
    pub(super) fn text_mid(
        &mut self,
        face: &Face,
        size_pt: f64,
        x: f64,
        y: f64,
        colour: Color3,
        text: &str,
    ) {
        let width = face.width_mm(text, size_pt);
        self.text(face, size_pt, x - width / 2.0, y, colour, text);
    }

    fn fill(&mut self, colour: Color3) {
        self.surface.set_stroke(None);
        self.surface.set_fill(Some(Fill {
            paint: rgb(colour).into(),
            opacity: NormalizedF32::ONE,
            rule: FillRule::EvenOdd,
        }));
    }
}
