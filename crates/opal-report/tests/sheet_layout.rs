//! No words on the printed sheet leave the page or meet other words, whatever
//! stands on it, and none are lost.

mod sheet_contents;

use opal_report::sheet::{Paper, SheetContent, SheetText, sheet_pdf, sheet_texts};
use sheet_contents::{all_kinds, bench_like};

/// Every printer reaches this far, mm (common practice, no source).
const MARGIN_MM: f64 = 10.0;

fn faults(content: &SheetContent) -> Vec<String> {
    let [width, height] = content.paper.size_mm();
    let texts = sheet_texts(content).expect("a sheet");
    let mut faults = Vec::new();
    let inside = |t: &SheetText| {
        t.left_mm >= MARGIN_MM
            && t.top_mm >= MARGIN_MM
            && t.right_mm <= width - MARGIN_MM
            && t.bottom_mm <= height - MARGIN_MM
    };
    for text in texts.iter().filter(|t| !inside(t)) {
        faults.push(format!("leaves the page: {text:?}"));
    }
    for (k, a) in texts.iter().enumerate() {
        for b in texts[k + 1..].iter().filter(|b| b.page == a.page) {
            let apart = a.right_mm <= b.left_mm
                || b.right_mm <= a.left_mm
                || a.bottom_mm <= b.top_mm
                || b.bottom_mm <= a.top_mm;
            if !apart {
                faults.push(format!(
                    "'{}' meets '{}' on page {}",
                    a.text, b.text, a.page
                ));
            }
        }
    }
    faults
}

#[test]
fn no_words_leave_the_page_or_meet_other_words() {
    for (name, content) in all_kinds() {
        for paper in [Paper::A4, Paper::Letter] {
            let content = SheetContent {
                paper,
                ..content.clone()
            };
            let faults = faults(&content);
            assert!(
                faults.is_empty(),
                "{name}, {paper:?}, {} faults: {:#?}",
                faults.len(),
                &faults[..faults.len().min(5)]
            );
        }
    }
}

/// The words of all texts run together, blanks left out: how they are broken
/// into lines does not matter.
fn run_together(texts: &[SheetText]) -> String {
    let words: String = texts.iter().map(|t| t.text.as_str()).collect();
    words.split_whitespace().collect()
}

#[test]
fn every_step_and_every_caution_is_on_the_sheet() {
    for (name, content) in all_kinds() {
        let texts = sheet_texts(&content).expect("a sheet");
        // Each step on its own: other columns' words stand between pages.
        for (list, wanted) in [("step", &content.steps), ("note", &content.notes)] {
            for text in wanted {
                let first: Vec<&str> = text.split_whitespace().take(3).collect();
                let first = first.join("");
                assert!(
                    run_together(&texts).contains(&first),
                    "{name}: the {list} '{text}' is missing"
                );
            }
        }
        let said = run_together(&texts);
        for caution in &content.cautions {
            let words = |text: &str| -> String { text.split_whitespace().take(3).collect() };
            let brief = !caution.brief.is_empty() && said.contains(&words(&caution.brief));
            assert!(
                brief || said.contains(&words(&caution.text)),
                "{name}: the caution '{}' is missing",
                caution.text
            );
        }
    }
}

/// Chosen with cutters' eyes in mind: 9.5 points for steps, 8.5 for the rest.
#[test]
fn type_is_never_too_small_for_a_bench() {
    for (name, content) in all_kinds() {
        for text in sheet_texts(&content).expect("a sheet") {
            let step = content.steps.iter().any(|s| {
                s.split_whitespace().count() > 4 && text.text.len() > 20 && s.contains(&text.text)
            });
            let ruler = text.text.chars().all(|c| c.is_ascii_digit());
            let least = if step { 9.5 } else { 8.5 };
            assert!(
                ruler || text.size_pt >= least,
                "{name}: {} pt for '{}'",
                text.size_pt,
                text.text
            );
        }
    }
}

#[test]
fn an_ordinary_sheet_is_one_page() {
    // Letter is 18 mm shorter: it has no room for the strip of an invented example.
    for (paper, invented) in [(Paper::A4, true), (Paper::Letter, false)] {
        let content = SheetContent {
            paper,
            invented,
            ..bench_like()
        };
        let texts = sheet_texts(&content).expect("a sheet");
        assert!(texts.iter().all(|t| t.page == 0), "{paper:?}");
    }
}

/// Kept in the build's own folder, to be looked at.
#[test]
fn every_kind_of_sheet_can_be_written() {
    for (name, content) in all_kinds() {
        let file = format!("{}/sheet {name}.pdf", env!("CARGO_TARGET_TMPDIR"));
        std::fs::write(file, sheet_pdf(&content).expect(name)).expect("written");
    }
}

/// The boxes that another reader of the file finds agree with ours: poppler's
/// `pdftotext -bbox`, where it is installed.
#[test]
fn another_reader_finds_the_same_words_on_the_page() {
    use std::process::Command;
    let content = bench_like();
    let file = concat!(env!("CARGO_TARGET_TMPDIR"), "/sheet-bench-like.pdf");
    std::fs::write(file, sheet_pdf(&content).expect("a sheet")).expect("written");
    let Ok(run) = Command::new("pdftotext")
        .args(["-bbox", file, "-"])
        .output()
    else {
        println!("skipped: no pdftotext");
        return;
    };
    let text = String::from_utf8_lossy(&run.stdout).into_owned();
    let number = |line: &str, key: &str| -> f64 {
        let tail = line.split_once(&format!("{key}=\"")).map_or("", |p| p.1);
        let digits = tail.split('"').next().unwrap_or("");
        digits.parse().expect("a number")
    };
    let [width, height] = content.paper.size_mm().map(|mm| mm * 72.0 / 25.4);
    let mut count = 0;
    for line in text.lines().filter(|l| l.trim_start().starts_with("<word")) {
        let inside = number(line, "xMin") > 25.0
            && number(line, "yMin") > 25.0
            && number(line, "xMax") < width - 25.0
            && number(line, "yMax") < height - 25.0;
        assert!(inside, "{line}");
        count += 1;
    }
    let ours: usize = sheet_texts(&content)
        .expect("a sheet")
        .iter()
        .map(|t| t.text.split_whitespace().count())
        .sum();
    assert_eq!(count, ours);
}
