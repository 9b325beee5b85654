//! The bench sheet: one printed page where all fits on one, drawn true to scale.

mod column;
mod drawing;
mod layout;
mod print_scaling;
mod words;

pub(crate) use print_scaling::without_scaling;

use crate::print::type_setting::Faces;
use crate::print::{PrintError, render};
use thiserror::Error;

/// The paper.
#[derive(Clone, Copy, Debug, Default, Eq, PartialEq)]
pub enum Paper {
    /// 210 × 297 mm (ISO 216).
    #[default]
    A4,
    /// 8.5 × 11 inch, 215.9 × 279.4 mm (ANSI/ASME Y14.1).
    Letter,
}

impl Paper {
    /// Width and height, mm.
    #[must_use]
    pub fn size_mm(self) -> [f64; 2] {
        match self {
            Self::A4 => [210.0, 297.0],
            Self::Letter => [215.9, 279.4],
        }
    }
}

/// What a drawn line stands for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum LineKind {
    /// The outside of the rough.
    Rough,
    /// The planned stone.
    Stone,
    /// The colour bar, where it most likely is; closed lines are filled.
    Bar,
    /// How far the bar may well reach; closed lines are filled.
    BarSpread,
    /// A saw cut; the line is the middle of the blade.
    Cut {
        /// What the blade takes, mm; drawn true to scale.
        kerf_mm: f64,
    },
    /// A crack, a patch to avoid.
    Avoid,
    /// Anything that only helps the eye.
    Faint,
}

/// A line of a drawing.
#[derive(Clone, Debug, PartialEq)]
pub struct SheetLine {
    /// Corners, mm; y (or z in a section) upward.
    pub points_mm: Vec<[f64; 2]>,
    /// True when the last corner joins the first.
    pub closed: bool,
    /// What it stands for.
    pub kind: LineKind,
}

/// A few words, or the number of a cut, at a place in a drawing.
#[derive(Clone, Debug, PartialEq)]
pub struct SheetMark {
    /// Where, mm.
    pub at_mm: [f64; 2],
    /// What stands there.
    pub text: String,
    /// True for a number in a ring, as for the order of cuts.
    pub ringed: bool,
}

/// A drawing.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct SheetView {
    /// What is seen: "From above", "Section A to B".
    pub title: String,
    /// Lines; the outside is drawn first, then the bar, the stone, the cuts.
    pub lines: Vec<SheetLine>,
    /// Words and numbers; one that would meet another moves aside.
    pub marks: Vec<SheetMark>,
    /// True to write the planned stone's length and width beside it.
    pub sized: bool,
}

/// A caution, in full and in short.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct SheetCaution {
    /// All of it.
    pub text: String,
    /// What is printed where there is little room; may be empty.
    pub brief: String,
}

/// A piece of text on the laid-out sheet, with the box around its letters.
#[derive(Clone, Debug, PartialEq)]
pub struct SheetText {
    /// Page, counted from 0.
    pub page: usize,
    /// Left edge, mm from the paper's left edge.
    pub left_mm: f64,
    /// Upper edge, mm from the paper's upper edge.
    pub top_mm: f64,
    /// Right edge, mm.
    pub right_mm: f64,
    /// Lower edge, mm.
    pub bottom_mm: f64,
    /// Size of the type, points.
    pub size_pt: f64,
    /// What stands there.
    pub text: String,
}

/// A figure with its spread.
#[derive(Clone, Debug, PartialEq)]
pub struct SheetFigure {
    /// What it is: "Finished weight".
    pub label: String,
    /// Its unit: "ct".
    pub unit: String,
    /// 5 %, 50 % and 95 % quantiles.
    pub quantiles: [f64; 3],
    /// Digits after the point.
    pub digits: usize,
}

/// Everything that stands on the sheet.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct SheetContent {
    /// The piece.
    pub title: String,
    /// The plan, in words.
    pub subtitle: String,
    /// When it was worked out, as it is to be printed.
    pub date: String,
    /// The paper.
    pub paper: Paper,
    /// True for an invented example: the sheet says so in large letters.
    pub invented: bool,
    /// From above.
    pub above: SheetView,
    /// From the side.
    pub side: Option<SheetView>,
    /// Outlines to cut out of the paper, at full size or not at all.
    pub templates: Vec<SheetView>,
    /// What to do, in order.
    pub steps: Vec<String>,
    /// Small print under the steps: what they assume.
    pub notes: Vec<String>,
    /// What to expect.
    pub figures: Vec<SheetFigure>,
    /// What the figures rest on: one sentence.
    pub rests_on: String,
    /// What can hurt.
    pub cautions: Vec<SheetCaution>,
    /// What is to be weighed and written in by hand: "Rough", "After sawing".
    pub weigh: Vec<String>,
}

/// Why there is no sheet.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum SheetError {
    /// A number that is not finite, or far outside of what can be drawn.
    #[error("{place} is {value}; a number between -2000 and 2000 is needed to draw it")]
    NotDrawable {
        /// Where.
        place: String,
        /// What stood there.
        value: f64,
    },
    /// The page could not be written.
    #[error("the page could not be written: {0}")]
    Writing(String),
}

impl From<PrintError> for SheetError {
    fn from(error: PrintError) -> Self {
        Self::Writing(error.0)
    }
}

/// The sheet as a PDF file: one page, or more when one cannot hold it all.
///
/// The largest type is taken that needs the fewest pages; steps are never set
/// below 9.5 points, cautions never below 8.5, and nothing is left out. Drawings stand at full size, or, when a piece is larger than the paper, at a
/// half, a fifth or a tenth, which the drawing's title then says. The 50 mm
/// rule is always true. The file asks the printer not to scale the page. The
/// same content gives the same bytes.
///
/// # Errors
/// A number that cannot be drawn, named with its place.
pub fn sheet_pdf(content: &SheetContent) -> Result<Vec<u8>, SheetError> {
    check(content)?;
    let faces = Faces::load()?;
    let pages = layout::pages(content, &faces);
    let title = format!("Bench sheet: {}", content.title);
    let bytes = render::pdf(&pages, content.paper.size_mm(), &title)?;
    without_scaling(bytes)
}

/// Every piece of text of the sheet and where it stands.
///
/// # Errors
/// As [`sheet_pdf`].
pub fn sheet_texts(content: &SheetContent) -> Result<Vec<SheetText>, SheetError> {
    check(content)?;
    let faces = Faces::load()?;
    Ok(layout::texts(&layout::pages(content, &faces)))
}

fn check(content: &SheetContent) -> Result<(), SheetError> {
    let fine = |x: f64| (-2000.0..=2000.0).contains(&x);
    let views = [Some(&content.above), content.side.as_ref()];
    for view in views.into_iter().flatten().chain(&content.templates) {
        let line_points = view.lines.iter().flat_map(|l| &l.points_mm);
        let points = line_points.chain(view.marks.iter().map(|m| &m.at_mm));
        let kerfs = view.lines.iter().filter_map(|l| match l.kind {
            LineKind::Cut { kerf_mm } => Some(kerf_mm),
            _ => None,
        });
        if let Some(value) = points.flatten().copied().chain(kerfs).find(|&x| !fine(x)) {
            let place = format!("a point of the drawing '{}'", view.title);
            return Err(SheetError::NotDrawable { place, value });
        }
    }
    for figure in &content.figures {
        if let Some(&value) = figure.quantiles.iter().find(|x| !x.is_finite()) {
            let place = format!("the figure '{}'", figure.label);
            return Err(SheetError::NotDrawable { place, value });
        }
    }
    Ok(())
}
