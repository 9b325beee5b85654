//! The study of plans drawn: what each way lost on every stone, against the best.

use crate::plans::{CHOICES, PlansReport};
use std::fmt::Write as _;

const WIDTH: f64 = 780.0;
const LEFT: f64 = 240.0;
const ROW: f64 = 56.0;
const HEAD: f64 = 64.0;

impl PlansReport {
    /// As a drawing (SVG): a row for each way, a dot for each stone at the share
    /// of the best plan knowing the inside that it brought; a bar at the share of
    /// all stones together. What lost money stands at the left edge.
    #[must_use]
    pub fn svg(&self) -> String {
        let doc = self.document();
        let height = HEAD + ROW * CHOICES.len() as f64 + 44.0;
        let across = |share: f64| LEFT + (WIDTH - LEFT - 24.0) * share.clamp(0.0, 1.0);
        let mut out = String::new();
        // Writing to a string cannot fail.
        let _ = write!(
            out,
            r##"<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {height}" font-family="sans-serif" font-size="12" role="img"><title>What each way to choose keeps of the best plan</title><rect width="{WIDTH}" height="{height}" fill="#fff"/><text x="16" y="24" font-size="15">What each way to choose keeps of the best plan knowing the inside</text><text x="16" y="44" fill="#555">{} invented stones, invented money; a dot a stone, the bar all stones together</text>"##,
            doc.stones
        );
        for (c, choice) in doc.choices.iter().enumerate() {
            let y = HEAD + ROW * c as f64;
            let middle = y + 0.5 * ROW;
            let _ = write!(
                out,
                r##"<text x="16" y="{:.1}">{}</text><rect x="{LEFT}" y="{:.1}" width="{:.1}" height="14" fill="#7fa8c9"/><text x="{:.1}" y="{:.1}" text-anchor="end">{:.0} %</text>"##,
                middle + 4.0,
                choice.choice,
                y + 6.0,
                across(choice.share_of_best) - LEFT,
                LEFT - 8.0,
                middle + 4.0,
                100.0 * choice.share_of_best
            );
            for (k, stone) in self.stones.iter().enumerate() {
                let share = if stone.best > 0.0 {
                    stone.brought[c] / stone.best
                } else {
                    1.0
                };
                // Spread over the lower half of the row, so that dots part.
                let down = y + 26.0 + 22.0 * ((k * 37) % 100) as f64 / 100.0;
                let _ = write!(
                    out,
                    r##"<circle cx="{:.1}" cy="{down:.1}" r="2" fill="#223" fill-opacity="0.5"/>"##,
                    across(share)
                );
            }
        }
        let base = HEAD + ROW * CHOICES.len() as f64 + 6.0;
        let _ = write!(
            out,
            r##"<path d="M{LEFT} {base:.1}H{:.1}" stroke="#999"/>"##,
            across(1.0)
        );
        for tenth in [0, 25, 50, 75, 100] {
            let at = across(f64::from(tenth) / 100.0);
            let _ = write!(
                out,
                r##"<path d="M{at:.1} {base:.1}v5" stroke="#999"/><text x="{at:.1}" y="{:.1}" text-anchor="middle">{tenth} %</text>"##,
                base + 20.0
            );
        }
        out.push_str("</svg>\n");
        out
    }
}
