//! The calibration study drawn: what each interval held, and where outcomes fell.

use crate::tally::LEVELS;
use crate::{CalibrationReport, Cell, Tally};
use std::fmt::Write as _;

const WIDTH: f64 = 780.0;
const PANEL: f64 = 132.0;
const HEAD: f64 = 56.0;
/// Height of a chart and width of each of its two halves.
const CHART: (f64, f64) = (78.0, 150.0);

impl CalibrationReport {
    /// As a drawing (SVG): a row for each look and law, all forms together. On the
    /// left of a pair the three intervals against what they are to hold, with two
    /// standard errors; on the right the histogram of ranks, flat where all is well.
    #[must_use]
    pub fn svg(&self) -> String {
        let cells: Vec<&Cell> = self.cells.iter().filter(|c| c.form.is_none()).collect();
        let height = HEAD + PANEL * cells.len() as f64 + 16.0;
        let mut out = String::new();
        // Writing to a string cannot fail.
        let _ = write!(
            out,
            r##"<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {height}" font-family="sans-serif" font-size="11" role="img"><title>Do the intervals hold what they say?</title><rect width="{WIDTH}" height="{height}" fill="#fff"/><text x="16" y="22" font-size="15">Do the intervals hold what they say?</text><text x="16" y="40" fill="#555">{} invented stones a row, {} interiors each, {} hidden places a stone; per cent held, of those to hold; whiskers: two standard errors</text>"##,
            self.stones, self.interiors, self.places
        );
        for (k, cell) in cells.iter().enumerate() {
            let y = HEAD + PANEL * k as f64;
            let _ = write!(
                out,
                r##"<text x="16" y="{:.1}" font-weight="bold">{} · {}</text>"##,
                y + 14.0,
                cell.look.word(),
                cell.law.words()
            );
            for (half, (name, tally)) in [("top", &cell.top), ("thickness", &cell.thickness)]
                .into_iter()
                .enumerate()
            {
                pair(
                    &mut out,
                    cell,
                    name,
                    tally,
                    [16.0 + 380.0 * half as f64, y + 24.0],
                );
            }
        }
        out.push_str("</svg>\n");
        out
    }
}

/// Coverage and histogram of one quantity.
fn pair(out: &mut String, cell: &Cell, name: &str, tally: &Tally, at: [f64; 2]) {
    let [x, y] = at;
    let (high, wide) = CHART;
    let base = y + high;
    let _ = write!(
        out,
        r##"<path d="M{x:.1} {y:.1}V{base:.1}H{:.1}M{:.1} {base:.1}H{:.1}" fill="none" stroke="#999"/>"##,
        x + wide,
        x + wide + 30.0,
        x + 2.0 * wide + 30.0
    );
    for (k, c) in cell.coverage_of(tally).iter().enumerate() {
        let left = x + 12.0 + 46.0 * k as f64;
        let up = |share: f64| base - high * share.clamp(0.0, 1.0);
        let (low, top) = (
            up(c.share - 2.0 * c.standard_error),
            up(c.share + 2.0 * c.standard_error),
        );
        let middle = left + 16.0;
        let _ = write!(
            out,
            r##"<rect x="{left:.1}" y="{:.1}" width="32" height="{:.1}" fill="#7fa8c9"/><path d="M{middle:.1} {low:.1}V{top:.1}" stroke="#223"/><path d="M{:.1} {:.1}h40" stroke="#b3261e" stroke-width="2"/><text x="{middle:.1}" y="{:.1}" text-anchor="middle" font-size="10">{:.0} of {:.0}</text>"##,
            up(c.share),
            base - up(c.share),
            left - 4.0,
            up(LEVELS[k]),
            base + 13.0,
            100.0 * c.share,
            100.0 * c.level
        );
    }
    let count = tally.len().max(1) as f64;
    let step = wide / 10.0;
    // Twice the flat height fills the chart.
    let up = |share: f64| (high * share * 5.0).min(high);
    for (k, &held) in tally.pit.counts.iter().enumerate() {
        let tall = up(held as f64 / count);
        let _ = write!(
            out,
            r##"<rect x="{:.1}" y="{:.1}" width="{:.1}" height="{tall:.1}" fill="#9fb88f"/>"##,
            x + wide + 30.0 + step * k as f64 + 0.5,
            base - tall,
            step - 1.0
        );
    }
    let _ = write!(
        out,
        r##"<path d="M{:.1} {:.1}h{wide}" stroke="#b3261e" stroke-width="1.5"/><text x="{:.1}" y="{:.1}" text-anchor="middle">{name}: rank among the draws</text>"##,
        x + wide + 30.0,
        base - up(0.1),
        x + 1.5 * wide + 30.0,
        base + 13.0
    );
}
