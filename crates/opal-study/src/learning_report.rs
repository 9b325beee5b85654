//! The study of learning as a table, a document and a drawing.

use crate::learning::{LearningReport, STRETCH, Stretch};
use serde::Serialize;
use std::fmt::Write as _;

/// Name and version of the document.
pub const LEARNING_FORMAT: &str = "opalwright-learning/1";

/// The study for programs.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LearningDoc {
    /// [`LEARNING_FORMAT`].
    pub format: &'static str,
    /// Careers.
    pub careers: usize,
    /// Stones offered in each.
    pub stones: usize,
    /// Where it all started from.
    pub seed: u64,
    /// Stretch by stretch.
    pub stretches: Vec<StretchDoc>,
    /// Profit of a career: learning, not learning, and what learning adds with its
    /// standard error.
    pub profit: ProfitDoc,
}

/// One stretch of stones.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct StretchDoc {
    /// The last stone in it.
    pub to_stone: usize,
    /// The cutter who learns.
    pub learning: CutterDoc,
    /// The one who does not.
    pub not_learning: CutterDoc,
}

/// How a cutter did.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct CutterDoc {
    /// Mean continuous ranked probability score of what stones were worth (asinh of
    /// hours' pay): lower is better.
    pub crps: f64,
    /// Share of outcomes that the middle nine in ten of the forecasts held.
    pub held_90: f64,
    /// Stones bought in a career.
    pub bought: f64,
    /// Profit in a career.
    pub profit: f64,
}

/// Profit of a whole career, on average.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct ProfitDoc {
    /// Learning.
    pub learning: f64,
    /// Not learning.
    pub not_learning: f64,
    /// What learning adds on the same stones.
    pub added: f64,
    /// Standard error of that over the careers.
    pub added_error: f64,
}

impl LearningReport {
    /// Profit of a whole career, on average over the careers.
    #[must_use]
    pub fn profit(&self) -> ProfitDoc {
        let n = self.profits.len().max(1) as f64;
        let mean = |of: &dyn Fn(&[f64; 2]) -> f64| self.profits.iter().map(of).sum::<f64>() / n;
        let added = mean(&|p| p[0] - p[1]);
        let square = mean(&|p| (p[0] - p[1] - added).powi(2));
        ProfitDoc {
            learning: mean(&|p| p[0]),
            not_learning: mean(&|p| p[1]),
            added,
            added_error: (square / (n - 1.0).max(1.0)).sqrt(),
        }
    }

    /// For programs.
    #[must_use]
    pub fn document(&self) -> LearningDoc {
        let careers = self.options.careers.max(1) as f64;
        let cutter = |stretch: &Stretch| CutterDoc {
            crps: stretch.forecasts.crps(),
            held_90: stretch.forecasts.held(0.9) as f64 / stretch.forecasts.len().max(1) as f64,
            bought: stretch.bought as f64 / careers,
            profit: stretch.profit / careers,
        };
        LearningDoc {
            format: LEARNING_FORMAT,
            careers: self.options.careers,
            stones: self.options.stones,
            seed: self.options.seed.0,
            stretches: self
                .learning
                .iter()
                .zip(&self.not_learning)
                .enumerate()
                .map(|(k, (learning, not))| StretchDoc {
                    to_stone: ((k + 1) * STRETCH).min(self.options.stones),
                    learning: cutter(learning),
                    not_learning: cutter(not),
                })
                .collect(),
            profit: self.profit(),
        }
    }

    /// As a table in plain text.
    #[must_use]
    pub fn table(&self) -> String {
        let doc = self.document();
        let mut out = format!(
            "{} careers of {} stones on offer, invented prices; the same stones for both cutters\n\n\
             {:<10} {:^26} {:^26}\n{:<10} {:>8} {:>8} {:>8} {:>8} {:>8} {:>8}\n",
            doc.careers,
            doc.stones,
            "",
            "learning",
            "not learning",
            "to stone",
            "score",
            "held 90",
            "profit",
            "score",
            "held 90",
            "profit"
        );
        for stretch in &doc.stretches {
            let _ = write!(out, "{:<10}", stretch.to_stone);
            for cutter in [stretch.learning, stretch.not_learning] {
                let _ = write!(
                    out,
                    " {:>8.3} {:>6.0} % {:>8.0}",
                    cutter.crps,
                    100.0 * cutter.held_90,
                    cutter.profit
                );
            }
            out.push('\n');
        }
        let profit = doc.profit;
        let _ = writeln!(
            out,
            "\nProfit of a career: {:.0} learning, {:.0} not; learning adds {:.0} ± {:.0}.",
            profit.learning, profit.not_learning, profit.added, profit.added_error
        );
        out
    }

    /// As a drawing (SVG): the score and the profit so far, stretch by stretch.
    #[must_use]
    pub fn svg(&self) -> String {
        let doc = self.document();
        let mut out = String::from(
            r##"<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 780 300" font-family="sans-serif" font-size="11" role="img"><title>What learning from each stone adds</title><rect width="780" height="300" fill="#fff"/><text x="16" y="22" font-size="15">What learning from each stone adds</text>"##,
        );
        let _ = write!(
            out,
            r##"<text x="16" y="40" fill="#555">{} invented careers of {} stones; blue: learning, grey: not</text>"##,
            doc.careers, doc.stones
        );
        let pick = |of: fn(&CutterDoc) -> f64| {
            let learning = doc.stretches.iter().map(|s| of(&s.learning)).collect();
            let not = doc.stretches.iter().map(|s| of(&s.not_learning)).collect();
            [learning, not]
        };
        let so_far = |values: Vec<f64>| -> Vec<f64> {
            values
                .iter()
                .scan(0.0, |sum, v| {
                    *sum += v;
                    Some(*sum)
                })
                .collect()
        };
        chart(
            &mut out,
            40.0,
            "forecast score (lower is better)",
            &pick(|c| c.crps),
        );
        chart(
            &mut out,
            420.0,
            "profit so far, invented money",
            &pick(|c| c.profit).map(so_far),
        );
        out.push_str("</svg>\n");
        out
    }
}

/// Two lines over the stretches, from nothing up.
fn chart(out: &mut String, left: f64, title: &str, lines: &[Vec<f64>; 2]) {
    let (top, base, wide) = (80.0, 260.0, 320.0);
    let most = lines.iter().flatten().copied().fold(1e-9, f64::max);
    let steps = lines[0].len().max(1) as f64;
    let digits = if most < 100.0 { 2 } else { 0 };
    let _ = write!(
        out,
        r##"<text x="{left}" y="62" font-weight="bold">{title}</text><path d="M{left} {top}V{base}h{wide}" fill="none" stroke="#999"/><text x="{left}" y="{:.0}">0</text><text x="{left}" y="{:.0}">{most:.digits$}</text>"##,
        base + 14.0,
        top - 3.0
    );
    for (line, colour) in lines.iter().zip(["#2b6ca3", "#888"]) {
        let points: Vec<String> = line
            .iter()
            .enumerate()
            .map(|(k, value)| {
                format!(
                    "{:.1},{:.1}",
                    left + wide * (k as f64 + 1.0) / steps,
                    base - (base - top) * (value / most).clamp(0.0, 1.0)
                )
            })
            .collect();
        let _ = write!(
            out,
            r##"<polyline points="{}" fill="none" stroke="{colour}" stroke-width="2"/>"##,
            points.join(" ")
        );
    }
}
