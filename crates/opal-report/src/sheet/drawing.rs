//! One drawing: its scale, its lines by kind, and marks that keep out of each
//! other's way.

use super::{LineKind, SheetLine, SheetMark, SheetView};
use crate::print::pen::{
    Box4, COLOUR, COLOUR_WASH, Colour, GREY, INK, Line, Pen, REACH_WASH, SAW, SAW_WASH, STONE,
    STONE_WASH, Type, WASH, WHITE, leading, text_box,
};
use crate::print::type_setting::Faces;

/// Scales, the first that fits is taken.
const SCALES: [(f64, &str); 6] = [
    (1.0, "full size"),
    (0.5, "HALF SIZE"),
    (0.2, "ONE FIFTH SIZE"),
    (0.1, "ONE TENTH SIZE"),
    (0.04, "ONE TWENTY-FIFTH SIZE"),
    (0.02, "ONE FIFTIETH SIZE"),
];
/// Room around a drawing for its marks, mm: sideways, up and down.
const AROUND: [f64; 2] = [8.0, 6.5];
/// Room for the sizes of a template: right of it and below it, mm.
const FOR_SIZES: [f64; 2] = [14.0, 6.0];
/// Sideways room around a template, mm: its letters lie within what is drawn.
const AROUND_TEMPLATE: f64 = 4.0;
/// A title is not squeezed into less than this, mm.
const LEAST_WIDTH: f64 = 46.0;
/// Radius of the ring around a cut's number, mm.
const RING: f64 = 2.6;

const TITLE: Type = Type {
    weight: crate::print::type_setting::Weight::Bold,
    size_pt: 10.5,
    colour: INK,
};
const WARNING: Type = Type {
    weight: crate::print::type_setting::Weight::Regular,
    size_pt: 9.0,
    colour: SAW,
};

/// A view at a scale.
pub(super) struct Drawing<'c> {
    view: &'c SheetView,
    scale: f64,
    width: f64,
    height: f64,
    title: Vec<String>,
    warning: Vec<String>,
}

impl<'c> Drawing<'c> {
    /// At the largest scale at which it fits into a room.
    pub(super) fn scaled(view: &'c SheetView, room: [f64; 2], faces: &Faces) -> Self {
        let fits = |drawing: &Self| drawing.width <= room[0] && drawing.height <= room[1];
        let mut last = Self::at(view, SCALES[SCALES.len() - 1], faces);
        if let Some(best) = SCALES
            .into_iter()
            .map(|scale| Self::at(view, scale, faces))
            .find(fits)
        {
            return best;
        }
        last.width = last.width.min(room[0]);
        last.height = last.height.min(room[1]);
        last
    }

    /// At full size; `None` when it does not fit into the room.
    pub(super) fn full_size(view: &'c SheetView, room: [f64; 2], faces: &Faces) -> Option<Self> {
        let drawing = Self::at(view, SCALES[0], faces);
        (drawing.width <= room[0] && drawing.height <= room[1]).then_some(drawing)
    }

    fn at(view: &'c SheetView, (scale, words): (f64, &str), faces: &Faces) -> Self {
        let [w, h] = extent(view).map(|x| x * scale);
        let sizes = if view.sized { FOR_SIZES } else { [0.0; 2] };
        let around = if view.sized {
            AROUND_TEMPLATE
        } else {
            AROUND[0]
        };
        let width = (w + 2.0 * around + sizes[0]).max(LEAST_WIDTH);
        let title = format!("{}, {words}", view.title);
        let title = faces.bold.lines(&title, TITLE.size_pt, width);
        let warning = if scale < 1.0 {
            let words = "Too large for the paper: do not trace.";
            faces.regular.lines(words, WARNING.size_pt, width)
        } else {
            Vec::new()
        };
        let head =
            head_height(title.len(), TITLE.size_pt) + head_height(warning.len(), WARNING.size_pt);
        Self {
            view,
            scale,
            width,
            height: head + h + 2.0 * AROUND[1] + sizes[1],
            title,
            warning,
        }
    }

    pub(super) fn size_mm(&self) -> [f64; 2] {
        [self.width, self.height]
    }

    /// Draws it in the middle of a field; tells what found no room.
    pub(super) fn put(&self, pen: &mut Pen<'_>, field: Box4) -> Option<String> {
        let mut top = field.top;
        for (lines, kind) in [(&self.title, TITLE), (&self.warning, WARNING)] {
            for line in lines {
                let base = top + 0.8 * leading(kind.size_pt);
                pen.text(kind, [field.left, base], line);
                top += leading(kind.size_pt);
            }
        }
        let field = Box4 { top, ..field };
        let (low, high) = corners(self.view)?;
        let sizes = if self.view.sized { FOR_SIZES } else { [0.0; 2] };
        let middle = [
            0.5 * (field.left + field.right - sizes[0]),
            0.5 * (field.top + field.bottom - sizes[1]),
        ];
        let onto = |p: [f64; 2]| {
            [
                middle[0] + self.scale * (p[0] - 0.5 * (low[0] + high[0])),
                middle[1] - self.scale * (p[1] - 0.5 * (low[1] + high[1])),
            ]
        };
        let mut lines: Vec<&SheetLine> = self.view.lines.iter().collect();
        lines.sort_by_key(|line| depth(line.kind));
        for kind in lines.chunk_by(|a, b| depth(a.kind) == depth(b.kind)) {
            // Lines of a kind are filled together: one within another is a hole.
            let placed = |line: &SheetLine| line.points_mm.iter().map(|&p| onto(p)).collect();
            let closed = kind.iter().filter(|line| line.closed);
            let rings: Vec<Vec<[f64; 2]>> = closed.map(|line| placed(line)).collect();
            if let Some((colour, opacity)) = wash(kind[0].kind) {
                pen.rings(rings, colour, opacity);
            }
            for line in kind {
                let points: Vec<[f64; 2]> = placed(line);
                draw_line(pen, &points, line, self.scale);
            }
        }
        let mut taken = if self.view.sized {
            draw_sizes(pen, self.view, onto)
        } else {
            Vec::new()
        };
        let mut homeless = 0;
        for mark in &self.view.marks {
            match place(pen, mark, onto(mark.at_mm), middle, field, &taken) {
                Some((at, around)) => {
                    draw_mark(pen, mark, onto(mark.at_mm), at);
                    taken.push(around);
                }
                None => homeless += 1,
            }
        }
        (homeless > 0).then(|| {
            format!(
                "{homeless} marks found no room in the drawing '{}'; the steps name them.",
                self.view.title
            )
        })
    }
}

fn head_height(lines: usize, size_pt: f64) -> f64 {
    lines as f64 * leading(size_pt)
}

/// What lies at the bottom comes first.
fn depth(kind: LineKind) -> u8 {
    match kind {
        LineKind::Rough => 0,
        LineKind::BarSpread => 1,
        LineKind::Bar => 2,
        LineKind::Stone => 3,
        LineKind::Faint => 4,
        LineKind::Cut { .. } => 5,
        LineKind::Avoid => 6,
    }
}

/// How each kind of line is stroked; the legend shows the same.
fn style(kind: LineKind) -> Line {
    match kind {
        LineKind::Rough => Line::plain(INK, 0.5),
        LineKind::Stone => Line::plain(STONE, 0.6),
        LineKind::Bar => Line::plain(COLOUR, 0.25),
        LineKind::BarSpread => Line::dashed(COLOUR, 0.25, 1.2, 0.8),
        LineKind::Cut { .. } => Line::dashed(SAW, 0.25, 3.0, 1.0),
        LineKind::Avoid => Line::dashed(SAW, 0.35, 0.6, 0.6),
        LineKind::Faint => Line::dashed(GREY, 0.15, 0.5, 1.0),
    }
}

/// What a closed line of a kind is filled with, and how densely.
fn wash(kind: LineKind) -> Option<(Colour, f32)> {
    match kind {
        LineKind::Rough => Some((WASH, 1.0)),
        LineKind::BarSpread => Some((REACH_WASH, 1.0)),
        LineKind::Bar => Some((COLOUR_WASH, 1.0)),
        LineKind::Stone => Some((STONE_WASH, 0.4)),
        LineKind::Cut { .. } | LineKind::Avoid | LineKind::Faint => None,
    }
}

fn draw_line(pen: &mut Pen<'_>, points: &[[f64; 2]], line: &SheetLine, scale: f64) {
    // The blade takes its kerf, true to the drawing's scale.
    if let LineKind::Cut { kerf_mm } = line.kind {
        let kerf = Line::plain(SAW_WASH, (kerf_mm * scale).max(0.1));
        pen.line(points, false, kerf);
    }
    pen.line(points, line.closed, style(line.kind));
}

/// The sizes of what is planned, below it and right of it; gives their boxes.
fn draw_sizes(
    pen: &mut Pen<'_>,
    view: &SheetView,
    onto: impl Fn([f64; 2]) -> [f64; 2],
) -> Vec<Box4> {
    let outline = SheetView {
        lines: view
            .lines
            .iter()
            .filter(|line| line.kind == LineKind::Stone)
            .cloned()
            .collect(),
        ..SheetView::default()
    };
    let Some((low, high)) = corners(&outline) else {
        return Vec::new();
    };
    let [left, bottom] = onto(low);
    let [right, top] = onto(high);
    let (y, x) = (bottom + 4.0, right + 6.0);
    let thin = Line::plain(GREY, 0.2);
    pen.line(&[[left, y], [right, y]], false, thin);
    pen.line(&[[x, bottom], [x, top]], false, thin);
    for at in [left, right] {
        pen.line(&[[at, y - 1.2], [at, y + 1.2]], false, thin);
    }
    for at in [bottom, top] {
        pen.line(&[[x - 1.2, at], [x + 1.2, at]], false, thin);
    }
    let kind = Type::bold(10.0, INK);
    let texts = [
        (format!("{:.1} mm", high[0] - low[0]), true),
        (format!("{:.1} mm", high[1] - low[1]), false),
    ];
    texts
        .into_iter()
        .map(|(text, below)| {
            let width = pen.width(kind, &text);
            let at = if below {
                [0.5 * (left + right) - width / 2.0, y + 4.4]
            } else {
                [x + 1.8, 0.5 * (bottom + top) + 1.2]
            };
            pen.text(kind, at, &text);
            text_box(at, kind.size_pt, width)
        })
        .collect()
}

const RINGED: Type = Type {
    weight: crate::print::type_setting::Weight::Bold,
    size_pt: 10.0,
    colour: SAW,
};
const PLAIN: Type = Type {
    weight: crate::print::type_setting::Weight::Bold,
    size_pt: 10.0,
    colour: INK,
};

/// The nearest place, away from the middle first, where a mark meets no other
/// and stays within the field.
fn place(
    pen: &Pen<'_>,
    mark: &SheetMark,
    wanted: [f64; 2],
    middle: [f64; 2],
    field: Box4,
    taken: &[Box4],
) -> Option<([f64; 2], Box4)> {
    let kind = if mark.ringed { RINGED } else { PLAIN };
    let half = pen.width(kind, &mark.text) / 2.0 + 0.4;
    let (half_w, half_h) = if mark.ringed {
        (half.max(RING + 0.2), RING + 0.2)
    } else {
        (half, 2.0)
    };
    let outward = (wanted[1] - middle[1]).atan2(wanted[0] - middle[0]);
    let places = (0..40).flat_map(|ring| {
        let radius = 1.2 * f64::from(ring);
        let directions = if ring == 0 { 1 } else { 24 };
        (0..directions).map(move |k| {
            // 0, +1, −1, +2, −2, …: turns grow away from the way outward.
            let turn = f64::from((k + 1) / 2) * if k % 2 == 0 { 1.0 } else { -1.0 };
            let (s, c) = (outward + turn * std::f64::consts::TAU / 24.0).sin_cos();
            [wanted[0] + radius * c, wanted[1] + radius * s]
        })
    });
    places
        .map(|at| (at, Box4::around(at, half_w, half_h)))
        .find(|(_, around)| field.holds(around) && !taken.iter().any(|other| other.meets(around)))
}

fn draw_mark(pen: &mut Pen<'_>, mark: &SheetMark, wanted: [f64; 2], at: [f64; 2]) {
    if (wanted[0] - at[0]).hypot(wanted[1] - at[1]) > 4.0 {
        pen.line(&[wanted, at], false, Line::plain(GREY, 0.15));
    }
    if mark.ringed {
        pen.disc(at, RING, WHITE, Line::plain(SAW, 0.4));
        pen.text_mid(RINGED, [at[0], at[1] + 1.2], &mark.text);
    } else {
        pen.text_mid(PLAIN, [at[0], at[1] + 1.2], &mark.text);
    }
}

/// Rows of the legend, mm.
const LEGEND_ROW: f64 = 4.6;
const SAW_CUT: LineKind = LineKind::Cut { kerf_mm: 0.0 };
const LEGEND: [(LineKind, &str); 6] = [
    (LineKind::Rough, "rough"),
    (LineKind::Stone, "planned stone"),
    (LineKind::Bar, "colour bar, in the middle case"),
    (LineKind::BarSpread, "the bar may reach so far, 9 in 10"),
    (SAW_CUT, "saw cut with its kerf"),
    (LineKind::Avoid, "crack: keep clear"),
];

/// The legend's rows: the kinds that are drawn.
fn legend_rows(kinds: &[LineKind]) -> impl Iterator<Item = (LineKind, &'static str)> {
    LEGEND.into_iter().filter(|(kind, _)| {
        let same = |drawn: &LineKind| depth(*drawn) == depth(*kind);
        kinds.iter().any(same)
    })
}

/// Height of the legend, mm.
pub(super) fn legend_height(kinds: &[LineKind]) -> f64 {
    LEGEND_ROW * legend_rows(kinds).count() as f64
}

/// What the lines mean, for those that are drawn.
pub(super) fn legend(pen: &mut Pen<'_>, kinds: &[LineKind], at: [f64; 2]) {
    for (row, (kind, words)) in legend_rows(kinds).enumerate() {
        let [x, middle] = [at[0], at[1] + LEGEND_ROW * (row as f64 + 0.5)];
        let ends = [[x, middle], [x + 6.0, middle]];
        if let Some((colour, _)) = wash(kind) {
            let [top, bottom] = [middle - 1.3, middle + 1.3];
            let corners = [[x, top], [x + 6.0, top], [x + 6.0, bottom], [x, bottom]];
            pen.area(&corners, colour, 1.0);
            pen.line(&corners, true, style(kind));
        } else {
            if depth(kind) == depth(SAW_CUT) {
                pen.line(&ends, false, Line::plain(SAW_WASH, 1.0));
            }
            pen.line(&ends, false, style(kind));
        }
        pen.text(Type::plain(8.5, INK), [x + 8.0, middle + 1.05], words);
    }
}

/// A rule of 50 mm: its ends and its whole length can be laid against a calliper.
pub(super) fn rule(pen: &mut Pen<'_>, at: [f64; 2]) {
    let (x, y) = (at[0] + 2.0, at[1] + 1.0);
    pen.line(
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
        pen.line(
            &[[at, y + 4.0], [at, y + 4.0 - long]],
            false,
            Line::plain(INK, width),
        );
        if mm % 10 == 0 {
            pen.text_mid(Type::plain(8.0, INK), [at, y + 7.4], &mm.to_string());
        }
    }
    let words = [
        "mm. Lay your calliper on it: if it is not",
        "50.0 mm long, print again at 100 %.",
    ];
    for (k, words) in words.into_iter().enumerate() {
        let base = y + 12.0 + 4.0 * k as f64;
        pen.text(Type::plain(8.5, INK), [x - 2.0, base], words);
    }
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
