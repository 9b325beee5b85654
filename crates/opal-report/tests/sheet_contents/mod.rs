//! Contents for layout tests: ordinary ones and hard ones. All invented.

use opal_report::sheet::{
    LineKind, SheetCaution, SheetContent, SheetFigure, SheetLine, SheetMark, SheetView,
};

fn ellipse(half: [f64; 2]) -> Vec<[f64; 2]> {
    (0..72)
        .map(|k| {
            let (s, c) = (std::f64::consts::TAU * f64::from(k) / 72.0).sin_cos();
            [half[0] * c, half[1] * s]
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

fn mark(at_mm: [f64; 2], text: &str, ringed: bool) -> SheetMark {
    SheetMark {
        at_mm,
        text: text.into(),
        ringed,
    }
}

fn caution(text: &str, brief: &str) -> SheetCaution {
    SheetCaution {
        text: text.into(),
        brief: brief.into(),
    }
}

/// A sheet for a stone whose half sizes are given, with all kinds of lines and
/// marks that lie on one another.
fn sheet(half: [f64; 3]) -> SheetContent {
    let [a, b, c] = half;
    let cut = LineKind::Cut { kerf_mm: 0.5 };
    let above = SheetView {
        title: "From above".into(),
        lines: vec![
            line(ellipse([a, b]), true, LineKind::Rough),
            line(ellipse([0.9 * a, 0.9 * b]), true, LineKind::Bar),
            line(ellipse([0.8 * a, 0.8 * b]), true, LineKind::Stone),
            line(vec![[-a, 0.0], [a, 0.0]], false, LineKind::Faint),
            line(vec![[-0.9 * a, -b], [-0.9 * a, b]], false, cut),
        ],
        marks: vec![
            mark([-a, 0.0], "A", false),
            mark([a, 0.0], "B", false),
            mark([-a, 0.0], "1", true),
            mark([-a, 0.0], "2", true),
            mark([-0.9 * a, b], "3", true),
        ],
        sized: false,
    };
    let side = SheetView {
        title: "Section A to B".into(),
        lines: vec![
            line(ellipse([a, c]), true, LineKind::Rough),
            line(ellipse([0.9 * a, 0.4 * c]), true, LineKind::BarSpread),
            line(ellipse([0.9 * a, 0.2 * c]), true, LineKind::Bar),
            line(ellipse([0.8 * a, 0.3 * c]), true, LineKind::Stone),
            line(vec![[a + 2.0, 0.5 * c], [-a - 2.0, 0.5 * c]], false, cut),
        ],
        marks: vec![
            mark([-a - 3.0, 0.0], "A", false),
            mark([a + 3.0, 0.0], "B", false),
            mark([a + 2.0, 0.5 * c], "1", true),
        ],
        sized: false,
    };
    let figure = |label: &str, unit: &str, quantiles, digits| SheetFigure {
        label: label.into(),
        unit: unit.into(),
        quantiles,
        digits,
    };
    SheetContent {
        title: "Ridge 12".into(),
        subtitle: "Plan 1 of 7: specimen about 35.9 × 24.0 mm; price it by the piece".into(),
        date: "2026-11-25".into(),
        invented: true,
        above,
        side: Some(side),
        templates: vec![SheetView {
            title: "Template".into(),
            lines: vec![line(ellipse([0.8 * a, 0.8 * b]), true, LineKind::Stone)],
            marks: vec![
                mark([-0.8 * a - 3.0, 0.0], "A", false),
                mark([0.8 * a + 3.0, 0.0], "B", false),
            ],
            sized: true,
        }],
        steps: [
            "Cut 1: Saw parallel to the bar, 5.1 mm below the highest point above the stone, 1.5 mm above the planned face; the slice is about 2.7 mm thick.",
            "Back: grind about 1.3 mm off, flat, so that a calliper can stand on it.",
            "Open the face on the 250 diamond, from 1.5 mm down to 0.12 mm above the wanted face; leave that on it. About 6 min (2 to 19). Stop every 0.2 mm, wet it, look. Loupe before the change: only even scratches of this wheel, no pits, no chips along the edge.",
            "Shape: oval 28.0 × 19.0 mm, from the template; dome 2.1 mm above a wall of 1.6 mm, bevel 0.4 mm. Leave the same on it as on the face.",
            "Rinse, then 600 diamond, soft: 0.12 down to 0.04 mm above the face. About 2 min (1 to 6). Loupe: every older scratch gone; work a quarter turn from the last wheel.",
            "Rinse, then 1200 diamond, soft: 0.04 down to 0.01 mm above the face. About 4 min (1 to 12). Loupe: an even satin without one bright line.",
            "Polish: cerium oxide on felt or leather, damp. About 9 min (3 to 27). Loupe: a lamp mirrored sharply from edge to edge.",
            "Dry it, look at every side under a lamp, weigh it, and write the weight down.",
        ]
        .map(String::from)
        .to_vec(),
        notes: vec![
            "The face takes about 30 min (15 to 60) with changes of wheel. Wheels and rates are the usual set, not your own.".into(),
            "No figure is published for how deep a wheel damages opal: the depths may be wrong by a factor of two or more.".into(),
        ],
        figures: vec![
            figure("Finished weight", "ct", [31.2, 43.6, 51.7], 1),
            figure("Colour in it", "ct", [8.6, 11.1, 13.8], 1),
            figure("Clean face", "%", [80.0, 93.0, 97.0], 0),
            figure("Least colour", "mm", [0.4, 0.6, 0.9], 1),
            figure("Would fetch", "AUD", [150.0, 1150.0, 2300.0], 0),
            figure("Left after the work", "AUD", [0.0, 1000.0, 2150.0], 0),
        ],
        rests_on: "7 measured sightings of the bar, 1 place without colour and a scan of the outside, 1000 possible insides that honour them, and the plan to keep it whole.".into(),
        cautions: (0..10)
            .map(|k| {
                caution(
                    &format!("Caution {k}: {}", "work wet, guard on, hands clear of the wheel, eyes covered. ".repeat(2)),
                    &format!("Caution {k}: work wet, guard on, hands clear of the wheel."),
                )
            })
            .collect(),
        weigh: ["Rough", "After sawing", "Face open", "Shaped", "Finished"]
            .map(String::from)
            .to_vec(),
        ..SheetContent::default()
    }
}

/// What the bench sheet of an ordinary stone looks like.
pub(crate) fn bench_like() -> SheetContent {
    sheet([18.0, 12.5, 8.0])
}

/// Everything that was thought of to break a layout.
pub(crate) fn all_kinds() -> Vec<(&'static str, SheetContent)> {
    let long = "Very-long-name-without-a-blank-in-it".repeat(9);
    let mut names = bench_like();
    names.title = long.clone();
    names.subtitle = format!("{long} {}", "and a plan with many words ".repeat(30));
    names.date = long.clone();
    names.rests_on = "many sightings and more words ".repeat(90);
    names.steps.push(long.clone());
    names.weigh.push(long.clone());
    names.above.title = format!("From above {long}");
    names.figures[0].label = long.clone();
    names.figures[0].unit = long;

    let mut lists = bench_like();
    lists.steps = (0..45)
        .map(|k| format!("Step {k}: {}", "grind, stop, wet it and look. ".repeat(7)))
        .collect();
    lists.cautions = (0..60)
        .map(|k| caution(&format!("Danger {k}: {}", "mind it well. ".repeat(12)), ""))
        .collect();
    lists.figures = (0..25)
        .map(|k| SheetFigure {
            label: format!("Figure {k}"),
            unit: "AUD".into(),
            quantiles: [-1.0e12, 3.0e13, 9.0e14],
            digits: 2,
        })
        .collect();
    lists.weigh = (0..40).map(|k| format!("Weight {k}")).collect();
    lists.notes = vec!["A note that goes on. ".repeat(120)];

    let mut marks = bench_like();
    marks.above.marks = (0..160)
        .map(|k| mark([0.1 * f64::from(k % 7), 0.0], &format!("{k}"), k % 2 == 0))
        .collect();
    marks.templates = (0..9).map(|_| marks.templates[0].clone()).collect();

    let mut as_it_is = bench_like();
    as_it_is.templates.clear();
    as_it_is.side = None;
    as_it_is.cautions.clear();
    as_it_is.notes.clear();
    as_it_is.steps = vec!["Sell it as it is: no work is worth its cost.".into()];
    as_it_is.weigh.truncate(1);

    vec![
        ("ordinary", bench_like()),
        ("a chip", sheet([2.5, 1.5, 1.0])),
        ("a hand's length", sheet([85.0, 55.0, 40.0])),
        ("as wide as the column", sheet([59.0, 40.0, 20.0])),
        ("a boulder", sheet([700.0, 500.0, 300.0])),
        ("as thin as a pencil", sheet([60.0, 2.0, 90.0])),
        ("long names", names),
        ("long lists", lists),
        ("many marks and templates", marks),
        ("sold as it is", as_it_is),
        ("nothing", SheetContent::default()),
    ]
}
