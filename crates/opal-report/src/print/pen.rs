//! What is to be put on the pages, in millimetres from the upper left corner,
//! kept as a list so that a layout can be tried before it is taken.

use super::type_setting::{Faces, PT_PER_MM, Weight};

pub(crate) const INK: Colour = [0x1b, 0x1f, 0x24];
pub(crate) const GREY: Colour = [0x4c, 0x55, 0x5f];
pub(crate) const PALE: Colour = [0xc9, 0xcf, 0xd6];
pub(crate) const WASH: Colour = [0xf1, 0xf3, 0xf5];
pub(crate) const SAW: Colour = [0xb4, 0x23, 0x18];
pub(crate) const SAW_WASH: Colour = [0xf3, 0xb8, 0xb2];
pub(crate) const COLOUR: Colour = [0x0f, 0x76, 0x6e];
pub(crate) const COLOUR_WASH: Colour = [0x9f, 0xd8, 0xd0];
pub(crate) const REACH_WASH: Colour = [0xe2, 0xf3, 0xf0];
pub(crate) const STONE: Colour = [0x1d, 0x4e, 0x9e];
pub(crate) const STONE_WASH: Colour = [0xdb, 0xe6, 0xf7];
pub(crate) const WHITE: Colour = [0xff; 3];

/// Red, green and blue.
pub(crate) type Colour = [u8; 3];

/// How far letters reach above and below their baseline, as shares of the size.
/// Chosen: capitals and risers of the font end at 0.71, its tails at 0.21.
const ABOVE_BASELINE: f64 = 0.74;
const BELOW_BASELINE: f64 = 0.22;

/// How a line looks.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Line {
    pub(crate) colour: Colour,
    pub(crate) width_mm: f64,
    /// On and off, mm.
    pub(crate) dash_mm: Option<[f64; 2]>,
}

impl Line {
    pub(crate) fn plain(colour: Colour, width_mm: f64) -> Self {
        Self {
            colour,
            width_mm,
            dash_mm: None,
        }
    }

    pub(crate) fn dashed(colour: Colour, width_mm: f64, on_mm: f64, off_mm: f64) -> Self {
        Self {
            colour,
            width_mm,
            dash_mm: Some([on_mm, off_mm]),
        }
    }
}

/// How a piece of text looks.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Type {
    pub(crate) weight: Weight,
    pub(crate) size_pt: f64,
    pub(crate) colour: Colour,
}

impl Type {
    pub(crate) fn plain(size_pt: f64, colour: Colour) -> Self {
        Self {
            weight: Weight::Regular,
            size_pt,
            colour,
        }
    }

    pub(crate) fn bold(size_pt: f64, colour: Colour) -> Self {
        Self {
            weight: Weight::Bold,
            size_pt,
            colour,
        }
    }
}

/// Left, top, right and bottom, mm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Box4 {
    pub(crate) left: f64,
    pub(crate) top: f64,
    pub(crate) right: f64,
    pub(crate) bottom: f64,
}

impl Box4 {
    pub(crate) fn around(middle: [f64; 2], half_w: f64, half_h: f64) -> Self {
        Self {
            left: middle[0] - half_w,
            top: middle[1] - half_h,
            right: middle[0] + half_w,
            bottom: middle[1] + half_h,
        }
    }

    pub(crate) fn meets(&self, other: &Self) -> bool {
        self.left < other.right
            && other.left < self.right
            && self.top < other.bottom
            && other.top < self.bottom
    }

    pub(crate) fn holds(&self, other: &Self) -> bool {
        self.left <= other.left
            && self.top <= other.top
            && self.right >= other.right
            && self.bottom >= other.bottom
    }
}

/// One thing on a page.
#[derive(Clone, Debug)]
pub(crate) enum Mark {
    Line {
        points_mm: Vec<[f64; 2]>,
        closed: bool,
        line: Line,
    },
    /// Filled by the even-odd rule: a ring within a ring is a hole.
    Area {
        rings_mm: Vec<Vec<[f64; 2]>>,
        colour: Colour,
        opacity: f32,
    },
    /// The left end of the baseline stands at `at_mm`.
    Text {
        at_mm: [f64; 2],
        kind: Type,
        text: String,
        width_mm: f64,
    },
}

/// The box around a text whose baseline starts at `at`.
pub(crate) fn text_box(at: [f64; 2], size_pt: f64, width_mm: f64) -> Box4 {
    let em = size_pt / PT_PER_MM;
    Box4 {
        left: at[0],
        top: at[1] - ABOVE_BASELINE * em,
        right: at[0] + width_mm,
        bottom: at[1] + BELOW_BASELINE * em,
    }
}

/// Line distance for a size of type, mm.
pub(crate) fn leading(size_pt: f64) -> f64 {
    1.22 * size_pt / PT_PER_MM
}

/// Pages that are being laid out.
pub(crate) struct Pages<'f> {
    pub(crate) faces: &'f Faces,
    pub(crate) marks: Vec<Vec<Mark>>,
}

impl<'f> Pages<'f> {
    pub(crate) fn new(faces: &'f Faces) -> Self {
        Self {
            faces,
            marks: vec![Vec::new()],
        }
    }

    /// A pen on page `k`, counted from 0; pages up to it are made.
    pub(crate) fn on(&mut self, k: usize) -> Pen<'_> {
        while self.marks.len() <= k {
            self.marks.push(Vec::new());
        }
        Pen {
            faces: self.faces,
            marks: &mut self.marks[k],
        }
    }

    /// Lays the other pages over these.
    pub(crate) fn add(&mut self, other: Self) {
        for (k, marks) in other.marks.into_iter().enumerate() {
            self.on(k).marks.extend(marks);
        }
    }
}

/// Puts things on one page.
pub(crate) struct Pen<'a> {
    pub(crate) faces: &'a Faces,
    marks: &'a mut Vec<Mark>,
}

impl Pen<'_> {
    pub(crate) fn line(&mut self, points_mm: &[[f64; 2]], closed: bool, line: Line) {
        self.marks.push(Mark::Line {
            points_mm: points_mm.to_vec(),
            closed,
            line,
        });
    }

    pub(crate) fn area(&mut self, points_mm: &[[f64; 2]], colour: Colour, opacity: f32) {
        self.rings(vec![points_mm.to_vec()], colour, opacity);
    }

    /// Several rings filled as one.
    pub(crate) fn rings(&mut self, rings_mm: Vec<Vec<[f64; 2]>>, colour: Colour, opacity: f32) {
        self.marks.push(Mark::Area {
            rings_mm,
            colour,
            opacity,
        });
    }

    pub(crate) fn rectangle(&mut self, at: Box4, colour: Colour) {
        let corners = [
            [at.left, at.top],
            [at.right, at.top],
            [at.right, at.bottom],
            [at.left, at.bottom],
        ];
        self.area(&corners, colour, 1.0);
    }

    pub(crate) fn disc(&mut self, at: [f64; 2], radius_mm: f64, inside: Colour, rim: Line) {
        let ring: Vec<[f64; 2]> = (0..32)
            .map(|k| {
                let (s, c) = (std::f64::consts::TAU * f64::from(k) / 32.0).sin_cos();
                [at[0] + radius_mm * c, at[1] + radius_mm * s]
            })
            .collect();
        self.area(&ring, inside, 1.0);
        self.line(&ring, true, rim);
    }

    /// Text with its baseline's left end at a place.
    pub(crate) fn text(&mut self, kind: Type, at_mm: [f64; 2], text: &str) {
        let width_mm = self.width(kind, text);
        if width_mm > 0.0 {
            self.marks.push(Mark::Text {
                at_mm,
                kind,
                text: text.to_owned(),
                width_mm,
            });
        }
    }

    /// Text that ends at a place.
    pub(crate) fn text_right(&mut self, kind: Type, at_mm: [f64; 2], text: &str) {
        let width = self.width(kind, text);
        self.text(kind, [at_mm[0] - width, at_mm[1]], text);
    }

    /// Text with its middle at a place.
    pub(crate) fn text_mid(&mut self, kind: Type, at_mm: [f64; 2], text: &str) {
        let width = self.width(kind, text);
        self.text(kind, [at_mm[0] - width / 2.0, at_mm[1]], text);
    }

    pub(crate) fn width(&self, kind: Type, text: &str) -> f64 {
        self.faces.of(kind.weight).width_mm(text, kind.size_pt)
    }
}
