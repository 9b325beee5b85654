//! The scale card on paper: the squares, and a rule that proves the print.

use crate::card::CardError;
use crate::print::pen::{Box4, INK, Line, Pages, Type};
use crate::print::render;
use crate::print::type_setting::{Faces, Weight};
use crate::sheet::{Paper, without_scaling};
use opal_photo::card;

/// From the paper's upper edge to the card, mm. Chosen: printers reach that far.
const ABOVE_MM: f64 = 34.0;
/// From the card to the rule, mm; a square stays white all round the card.
const TO_RULE_MM: f64 = 18.0;
/// Black as the printer has it: the edges are what is measured.
const BLACK: [u8; 3] = [0; 3];

/// What stands on it.
const TITLE: &str = "Scale card for photos";
const HOW: [&str; 6] = [
    "Print at 100 % (actual size, no fitting to the page), on matt white paper.",
    "Then measure the rule above with callipers: it must be 50.0 mm. If it is not, print again, \
     or tell the program what it measures.",
    "Lay the card flat on a hard board. From above: the stone lies in the white window, nothing \
     else on it.",
    "From the side: stand the card upright behind the stone, its lower edge on the table.",
    "Hold the camera square to the card and as far off as it still fills the picture, in even \
     light without flash.",
    "A stone nearer to the camera than the card looks larger: say how far the camera was.",
];

/// The card as a PDF file, to be printed at 100 %.
///
/// # Errors
/// None that is known: the font is built in.
pub fn scale_card_pdf(paper: Paper) -> Result<Vec<u8>, CardError> {
    let faces = Faces::load()?;
    let pages = laid_out(paper, &faces);
    let pdf = render::pdf(&pages, paper.size_mm(), TITLE)?;
    without_scaling(pdf).map_err(|why| CardError::Writing(why.to_string()))
}

fn laid_out(paper: Paper, faces: &Faces) -> Pages<'_> {
    let [paper_width, _] = paper.size_mm();
    let [width, height] = card::size_mm();
    let left = 0.5 * (paper_width - width);
    let mut pages = Pages::new(faces);
    let mut pen = pages.on(0);
    pen.text(Type::bold(15.0, INK), [left, 18.0], TITLE);
    pen.text(Type::plain(9.0, INK), [left, 25.0], "This edge is up.");
    for [x, y] in card::dark_squares_mm() {
        // The card counts upward, the paper downward.
        let top = ABOVE_MM + height - y - card::SQUARE_MM;
        let square = Box4 {
            left: left + x,
            top,
            right: left + x + card::SQUARE_MM,
            bottom: top + card::SQUARE_MM,
        };
        pen.rectangle(square, BLACK);
    }
    let rule_y = ABOVE_MM + height + TO_RULE_MM;
    let line = Line::plain(INK, 0.2);
    pen.line(
        &[[left, rule_y], [left + card::RULE_MM, rule_y]],
        false,
        line,
    );
    for mm in 0..=card::RULE_MM as u32 {
        let tick = match mm {
            0 | 50 => 6.0,
            _ if mm % 10 == 0 => 4.0,
            _ if mm % 5 == 0 => 3.0,
            _ => 2.0,
        };
        let x = left + f64::from(mm);
        pen.line(&[[x, rule_y], [x, rule_y - tick]], false, line);
    }
    pen.text(
        Type::bold(10.0, INK),
        [left + card::RULE_MM + 4.0, rule_y],
        "50 mm from end to end",
    );
    let mut y = rule_y + 9.0;
    for sentence in HOW {
        for line in faces.of(Weight::Regular).lines(sentence, 9.5, width) {
            pen.text(Type::plain(9.5, INK), [left, y], &line);
            y += 4.6;
        }
        y += 1.2;
    }
    pages
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::print::pen::Mark;

    /// Everything that is drawn is on the paper, with room that printers leave white.
    #[test]
    fn the_card_fits_both_papers_true_to_size() {
        let faces = Faces::load().expect("built in");
        for paper in [Paper::A4, Paper::Letter] {
            let [width, height] = paper.size_mm();
            let pages = laid_out(paper, &faces);
            assert_eq!(pages.marks.len(), 1);
            let mut squares = 0;
            let mut longest: f64 = 0.0;
            for mark in &pages.marks[0] {
                let points = match mark {
                    Mark::Line { points_mm, .. } => {
                        longest = longest.max((points_mm[1][0] - points_mm[0][0]).abs());
                        points_mm.clone()
                    }
                    Mark::Area { rings_mm, .. } => {
                        squares += 1;
                        let [a, _, c, _] = rings_mm[0][..] else {
                            unreachable!("squares have four corners")
                        };
                        assert!((c[0] - a[0] - card::SQUARE_MM).abs() < 1e-9);
                        assert!((c[1] - a[1] - card::SQUARE_MM).abs() < 1e-9);
                        rings_mm.concat()
                    }
                    Mark::Text {
                        at_mm, width_mm, ..
                    } => vec![*at_mm, [at_mm[0] + width_mm, at_mm[1]]],
                };
                for [x, y] in points {
                    assert!(x > 10.0 && x < width - 10.0, "{paper:?}: {x}");
                    assert!(y > 10.0 && y < height - 10.0, "{paper:?}: {y}");
                }
            }
            assert_eq!(squares, card::dark_squares_mm().len());
            assert!((longest - 50.0).abs() < 1e-9);
        }
    }

    #[test]
    fn the_file_asks_the_printer_to_leave_it_at_its_size() {
        let pdf = scale_card_pdf(Paper::A4).expect("written");
        let document = lopdf::Document::load_mem(&pdf).expect("a PDF file");
        let preferences = document
            .catalog()
            .expect("a catalogue")
            .get(b"ViewerPreferences")
            .and_then(lopdf::Object::as_dict)
            .expect("preferences");
        // ISO 32000-1:2008, table 150.
        let scaling = preferences.get(b"PrintScaling").expect("a wish");
        assert_eq!(scaling.as_name().expect("a name"), b"None");
        assert_eq!(pdf, scale_card_pdf(Paper::A4).expect("written"));
    }
}
