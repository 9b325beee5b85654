//! The printed sheet, read back out of the file: true to scale, the same bytes
//! each time, and asking not to be scaled by the printer.

use lopdf::{Document, Object};
use opal_report::sheet::{
    LineKind, Paper, SheetCaution, SheetContent, SheetError, SheetFigure, SheetLine, SheetMark,
    SheetView, sheet_pdf,
};

/// Points in a millimetre (ISO 32000-1, 8.3.2.3: 1/72 inch; the inch is 25.4 mm).
const PT_PER_MM: f64 = 72.0 / 25.4;

fn ellipse(middle: [f64; 2], half: [f64; 2]) -> Vec<[f64; 2]> {
    (0..96)
        .map(|k| {
            let (s, c) = (std::f64::consts::TAU * f64::from(k) / 96.0).sin_cos();
            [middle[0] + half[0] * c, middle[1] + half[1] * s]
        })
        .collect()
}

fn line(points_mm: Vec<[f64; 2]>, closed: bool, kind: LineKind) -> SheetLine {
    SheetLine {
        points_mm,
        closed,
        kind,
    }
}

fn wavy(from: f64, to: f64, height: f64, amplitude: f64) -> Vec<[f64; 2]> {
    (0..=60)
        .map(|k| {
            let x = from + (to - from) * f64::from(k) / 60.0;
            [x, height + amplitude * (0.21 * x).sin()]
        })
        .collect()
}

fn template(title: &str, half: [f64; 2]) -> SheetView {
    SheetView {
        title: title.into(),
        lines: vec![line(ellipse([0.0; 2], half), true, LineKind::Stone)],
        marks: Vec::new(),
        sized: true,
    }
}

/// An invented piece; only the layout is under test.
fn example(paper: Paper) -> SheetContent {
    let rough: Vec<[f64; 2]> = ellipse([30.0, 20.0], [31.0, 21.0])
        .iter()
        .enumerate()
        .map(|(k, p)| {
            let wave = 1.0 + 0.05 * (k as f64 * 0.39).sin() + 0.04 * (k as f64 * 0.13).cos();
            [30.0 + (p[0] - 30.0) * wave, 20.0 + (p[1] - 20.0) * wave]
        })
        .collect();
    let mut bar = wavy(2.0, 58.0, 10.6, 0.8);
    bar.extend(wavy(2.0, 58.0, 8.8, 0.9).into_iter().rev());
    let cut = LineKind::Cut { kerf_mm: 0.8 };
    let figure = |label: &str, unit: &str, quantiles, digits| SheetFigure {
        label: label.into(),
        unit: unit.into(),
        quantiles,
        digits,
    };
    SheetContent {
        title: "Gully 7".into(),
        subtitle: "One freeform, 40.0 × 26.0 mm, dome 2.4 mm, from bar A".into(),
        date: "25 November 2026".into(),
        paper,
        invented: true,
        above: SheetView {
            title: "From above".into(),
            lines: vec![
                line(rough, true, LineKind::Rough),
                line(ellipse([29.0, 20.0], [20.0, 13.0]), true, LineKind::Stone),
                line(vec![[5.5, -6.0], [5.5, 46.0]], false, cut),
                line(vec![[-4.0, 36.0], [64.0, 35.0]], false, cut),
                line(vec![[40.0, 4.0], [44.0, 9.0], [47.0, 12.0]], false, LineKind::Avoid),
                line(vec![[-2.0, 20.0], [62.0, 20.0]], false, LineKind::Faint),
            ],
            marks: vec![
                SheetMark { at_mm: [5.5, 46.0], text: "1".into(), ringed: true },
                SheetMark { at_mm: [64.0, 35.0], text: "2".into(), ringed: true },
                SheetMark { at_mm: [-4.0, 20.0], text: "A".into(), ringed: false },
                SheetMark { at_mm: [64.0, 20.0], text: "B".into(), ringed: false },
            ],
            sized: false,
        },
        side: Some(SheetView {
            title: "Section A to B".into(),
            lines: vec![
                line(ellipse([30.0, 8.5], [31.0, 8.5]), true, LineKind::Rough),
                line(bar, true, LineKind::Bar),
                line(wavy(2.0, 58.0, 11.3, 0.8), false, LineKind::BarSpread),
                line(wavy(2.0, 58.0, 8.2, 0.9), false, LineKind::BarSpread),
                line(vec![[9.0, 8.2], [14.0, 9.9], [29.0, 10.7], [44.0, 9.9], [49.0, 8.2], [49.0, 6.4], [9.0, 6.4]], true, LineKind::Stone),
            ],
            marks: vec![
                SheetMark { at_mm: [-3.5, 8.5], text: "A".into(), ringed: false },
                SheetMark { at_mm: [63.5, 8.5], text: "B".into(), ringed: false },
            ],
            sized: false,
        }),
        templates: vec![template("Template", [20.0, 13.0])],
        notes: vec!["Wheels and rates are the usual set.".into()],
        steps: vec![
            "Mark the outline on the top with a metal scribe, from this sheet.".into(),
            "Saw cut 1, upright, 5.5 mm in from the left end. Blade 0.8 mm; feed slowly, water on.".into(),
            "Saw cut 2, upright, along the far side. Keep the off-cut: potch with a thin line of colour.".into(),
            "Grind the top down 3.9 mm on 80 grit, in tenths from 3.2 mm on. Stop when colour shows over half of the face.".into(),
            "Look with the loupe. Where the bar still lies under potch, go on by tenths, never more than 4.6 mm in all.".into(),
            "Shape the outline, then the dome, on 220 grit; leave 0.3 mm for the finer wheels.".into(),
            "Back: flat, 1.8 mm under the edge. Bevel 0.4 mm.".into(),
            "600, 1200, 3000 grit, then polish. Weigh, and write it down here.".into(),
        ],
        figures: vec![
            figure("Finished weight", "ct", [28.4, 41.2, 52.0], 1),
            figure("Colour in it", "ct", [9.8, 16.3, 24.1], 1),
            figure("Clean share of the face", "%", [61.0, 84.0, 96.0], 0),
            figure("Thinnest colour under the face", "mm", [0.3, 0.8, 1.4], 1),
            figure("Would fetch, costs taken off", "AUD", [-120.0, 640.0, 1480.0], 0),
        ],
        rests_on: "14 sightings of bar A around the edge (each ± 0.2 mm), one window, the scale (412.5 ct) and a scan of the outside; specks were counted on 120 mm² of edge. Nobody has seen the inside.".into(),
        cautions: [
            "Silica dust harms the lungs for good: always cut and grind wet, wear a fitted P2 or N95 mask, wipe up wet.",
            "Eyes and ears: goggles, hearing protection.",
            "Electricity near water: residual-current device, dry hands at the switch.",
            "Follow your local rules and the makers' instructions.",
        ].map(|text| SheetCaution {
            text: text.into(),
            brief: text.split(':').next().unwrap_or(text).into(),
        })
        .to_vec(),
        weigh: ["Rough", "After sawing", "Dopped off", "Finished"].map(String::from).to_vec(),
    }
}

/// Straight pieces of the page in mm, from upper left, with CTM applied.
fn segments(pdf: &[u8]) -> Vec<[[f64; 2]; 2]> {
    let document = Document::load_mem(pdf).expect("a PDF file");
    let page = *document.get_pages().get(&1).expect("one page");
    let content = document
        .get_and_decode_page_content(page)
        .expect("drawing operations");
    let number = |o: &Object| o.as_float().map(f64::from).expect("a number");
    let mut matrix = [1.0, 0.0, 0.0, 1.0, 0.0, 0.0];
    let (mut kept, mut here, mut found) = (Vec::new(), [0.0; 2], Vec::new());
    for operation in content.operations {
        let n: Vec<f64> = operation
            .operands
            .iter()
            .filter(|o| o.as_float().is_ok())
            .map(number)
            .collect();
        let onto = |m: &[f64; 6], x: f64, y: f64| {
            [
                (m[0] * x + m[2] * y + m[4]) / PT_PER_MM,
                (m[1] * x + m[3] * y + m[5]) / PT_PER_MM,
            ]
        };
        match operation.operator.as_str() {
            "q" => kept.push(matrix),
            "Q" => matrix = kept.pop().expect("as many q as Q"),
            "cm" => {
                let m = matrix;
                matrix = [
                    n[0] * m[0] + n[1] * m[2],
                    n[0] * m[1] + n[1] * m[3],
                    n[2] * m[0] + n[3] * m[2],
                    n[2] * m[1] + n[3] * m[3],
                    n[4] * m[0] + n[5] * m[2] + m[4],
                    n[4] * m[1] + n[5] * m[3] + m[5],
                ];
            }
            "m" => here = onto(&matrix, n[0], n[1]),
            "l" => {
                let next = onto(&matrix, n[0], n[1]);
                found.push([here, next]);
                here = next;
            }
            _ => {}
        }
    }
    found
}

#[test]
fn the_rule_measures_fifty_millimetres_and_its_ticks_one() {
    for paper in [Paper::A4, Paper::Letter] {
        let found = segments(&sheet_pdf(&example(paper)).expect("a sheet"));
        let length = |s: &[[f64; 2]; 2]| (s[0][0] - s[1][0]).hypot(s[0][1] - s[1][1]);
        let rule = found
            .iter()
            .filter(|s| s[0][1] == s[1][1] && (length(s) - 50.0).abs() < 0.01);
        let rule: Vec<_> = rule.collect();
        assert_eq!(rule.len(), 1, "{paper:?}");
        let [start, end] = *rule[0];
        let mut ticks: Vec<f64> = found
            .iter()
            .filter(|s| {
                (s[0][1] - start[1]).abs() < 1e-3
                    && (s[0][0] - s[1][0]).abs() < 1e-6
                    && length(s) < 3.1
            })
            .map(|s| s[0][0])
            .collect();
        ticks.sort_by(f64::total_cmp);
        assert_eq!(ticks.len(), 51);
        assert!((ticks[0] - start[0]).abs() < 1e-3 && (ticks[50] - end[0]).abs() < 1e-3);
        for (k, tick) in ticks.iter().enumerate() {
            assert!((tick - ticks[0] - k as f64).abs() < 5e-3);
        }
    }
}

#[test]
fn the_planned_outline_is_drawn_at_its_size() {
    let found = segments(&sheet_pdf(&example(Paper::A4)).expect("a sheet"));
    // The first side of the ellipse, found by its length and direction.
    let outline = ellipse([0.0; 2], [20.0, 13.0]);
    let side = [outline[1][0] - outline[0][0], outline[1][1] - outline[0][1]];
    let first = found
        .iter()
        .position(|s| {
            (s[1][0] - s[0][0] - side[0]).abs() < 2e-3 && (s[1][1] - s[0][1] - side[1]).abs() < 2e-3
        })
        .expect("the outline is drawn");
    let drawn = &found[first..first + 95];
    let span = |k: usize| {
        let all = drawn.iter().map(|s| s[1][k]).chain([drawn[0][0][k]]);
        all.clone().fold(f64::MIN, f64::max) - all.fold(f64::MAX, f64::min)
    };
    assert!((span(0) - 40.0).abs() < 0.01 && (span(1) - 26.0).abs() < 0.01);
}

#[test]
fn the_printer_is_asked_to_leave_the_size_alone() {
    let bytes = sheet_pdf(&example(Paper::A4)).expect("a sheet");
    let document = Document::load_mem(&bytes).expect("a PDF file");
    let wish = document
        .catalog()
        .and_then(|c| c.get(b"ViewerPreferences"))
        .and_then(Object::as_dict)
        .and_then(|d| d.get(b"PrintScaling"))
        .and_then(Object::as_name)
        .expect("the wish stands in the catalogue");
    assert_eq!(wish, b"None");
}

#[test]
fn the_same_content_gives_the_same_bytes() {
    let make = || sheet_pdf(&example(Paper::A4)).expect("a sheet");
    let bytes = make();
    assert_eq!(bytes, make());
    std::fs::write(concat!(env!("CARGO_TARGET_TMPDIR"), "/sheet.pdf"), bytes).expect("written");
}

#[test]
fn a_piece_larger_than_the_paper_is_scaled_and_the_rule_is_not() {
    let mut content = example(Paper::A4);
    for line in &mut content.above.lines {
        for x in line.points_mm.iter_mut().flatten() {
            *x *= 3.0;
        }
    }
    content.steps = vec!["A step with many words in it, so that the page fills up. ".repeat(4); 40];
    let bytes = sheet_pdf(&content).expect("a sheet");
    std::fs::write(
        concat!(env!("CARGO_TARGET_TMPDIR"), "/sheet-large.pdf"),
        &bytes,
    )
    .expect("written");
    let rules = segments(&bytes)
        .iter()
        .filter(|s| s[0][1] == s[1][1] && ((s[0][0] - s[1][0]).abs() - 50.0).abs() < 0.01)
        .count();
    assert_eq!(rules, 1);
}

#[test]
fn what_cannot_be_drawn_is_named() {
    let mut content = example(Paper::A4);
    content.above.lines[0].points_mm[3][1] = f64::NAN;
    let fault = sheet_pdf(&content).expect_err("not a number");
    assert!(
        matches!(&fault, SheetError::NotDrawable { place, .. } if place.contains("From above"))
    );
    let empty = sheet_pdf(&SheetContent::default()).expect("an empty sheet is a sheet");
    assert!(empty.starts_with(b"%PDF"));
}
