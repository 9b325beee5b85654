//! How the ways to stop did, as numbers, a table and a drawing.

use crate::facing::{FacingReport, WAYS};
use serde::Serialize;
use std::fmt::Write as _;

/// The name of the format, with its version.
pub const STUDY_FACING_FORMAT: &str = "opalwright-study-facing/1";

/// The study in machine form.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FacingStudyDoc {
    /// `opalwright-study-facing/1`.
    pub format: String,
    /// Stones that were faced.
    pub stones: usize,
    /// Stones that were left out: nothing could be cut, or no bar was seen.
    pub left_out: usize,
    /// The ways to stop.
    pub ways: Vec<WayDoc>,
    /// What the advice was forecast to bring, on average.
    pub forecast: f64,
    /// Stones on which the advice ended with the bar gone through somewhere.
    pub through: usize,
}

/// One way to stop.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct WayDoc {
    /// Which.
    pub way: String,
    /// What it brought on average, invented money.
    pub mean: f64,
    /// That over what seeing inside brought.
    pub kept: f64,
    /// One standard error of that share, on the same stones.
    pub kept_error: f64,
    /// What the advice brought over it, on the same stones.
    pub advice_over: f64,
    /// One standard error of that.
    pub advice_over_error: f64,
}

impl FacingReport {
    /// What each way brought on average.
    #[must_use]
    pub fn means(&self) -> [f64; 5] {
        let n = self.stones.len().max(1) as f64;
        std::array::from_fn(|way| self.stones.iter().map(|s| s[way]).sum::<f64>() / n)
    }

    /// How much the advice brought over another way, on the same stones: mean
    /// and standard error.
    #[must_use]
    pub fn advice_over(&self, way: usize) -> (f64, f64) {
        let n = self.stones.len().max(1) as f64;
        let gains = || self.stones.iter().map(|s| s[0] - s[way]);
        let mean = gains().sum::<f64>() / n;
        let square: f64 = gains().map(|g| (g - mean) * (g - mean)).sum();
        (mean, (square / (n - 1.0).max(1.0) / n).sqrt())
    }

    /// What a way kept of what seeing inside brought: share and standard error.
    ///
    /// # Method
    /// Ratio of means on the same stones; its error by the delta method.
    #[must_use]
    pub fn kept(&self, way: usize) -> (f64, f64) {
        let n = self.stones.len().max(1) as f64;
        let means = self.means();
        let share = means[way] / means[4];
        let square: f64 = self
            .stones
            .iter()
            .map(|s| (s[way] - share * s[4]) * (s[way] - share * s[4]))
            .sum();
        (share, (square / (n - 1.0).max(1.0) / n).sqrt() / means[4])
    }

    fn mean_forecast(&self) -> f64 {
        self.forecast.iter().sum::<f64>() / self.forecast.len().max(1) as f64
    }

    /// In machine form.
    #[must_use]
    pub fn document(&self) -> FacingStudyDoc {
        let round = |v: f64, per: f64| (v * per).round() / per + 0.0;
        let means = self.means();
        let ways = WAYS.iter().enumerate().map(|(way, name)| {
            let (kept, kept_error) = self.kept(way);
            let (over, over_error) = self.advice_over(way);
            WayDoc {
                way: (*name).to_owned(),
                mean: round(means[way], 1e2),
                kept: round(kept, 1e4),
                kept_error: round(kept_error, 1e4),
                advice_over: round(over, 1e2),
                advice_over_error: round(over_error, 1e2),
            }
        });
        FacingStudyDoc {
            format: STUDY_FACING_FORMAT.to_owned(),
            stones: self.stones.len(),
            left_out: self.left_out,
            ways: ways.collect(),
            forecast: round(self.mean_forecast(), 1e2),
            through: self.through,
        }
    }

    /// As a drawing (SVG): what each way kept of what seeing inside would have
    /// brought, with two standard errors.
    #[must_use]
    pub fn svg(&self) -> String {
        const ROW: f64 = 34.0;
        const LEFT: f64 = 250.0;
        const WIDE: f64 = 400.0;
        let height = 70.0 + ROW * WAYS.len() as f64;
        let mut out = String::new();
        // Writing to a string cannot fail.
        let _ = write!(
            out,
            r##"<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 740 {height}" font-family="sans-serif" font-size="12" role="img"><title>What each way to stop kept</title><rect width="740" height="{height}" fill="#fff"/><text x="16" y="24" font-size="15">What each way to stop kept of what seeing inside brings</text><text x="16" y="42" fill="#555">{} invented stones, invented money; whiskers: two standard errors</text>"##,
            self.stones.len()
        );
        for (way, name) in WAYS.iter().enumerate() {
            let (kept, error) = self.kept(way);
            let y = 60.0 + ROW * way as f64;
            let x = |share: f64| LEFT + WIDE * share.clamp(0.0, 1.1);
            let colour = if way == 0 { "#2f6f8f" } else { "#9db6c4" };
            let _ = write!(
                out,
                r##"<text x="{:.1}" y="{:.1}" text-anchor="end">{name}</text><rect x="{LEFT}" y="{y:.1}" width="{:.1}" height="20" fill="{colour}"/><path d="M{:.1} {:.1}H{:.1}" stroke="#223" stroke-width="2"/><text x="{:.1}" y="{:.1}">{:.0} %</text>"##,
                LEFT - 8.0,
                y + 15.0,
                x(kept) - LEFT,
                x(kept - 2.0 * error),
                y + 10.0,
                x(kept + 2.0 * error),
                x(kept + 2.0 * error) + 8.0,
                y + 15.0,
                100.0 * kept
            );
        }
        out.push_str("</svg>\n");
        out
    }

    /// As a table in plain text.
    #[must_use]
    pub fn table(&self) -> String {
        let means = self.means();
        let mut out = format!(
            "{} invented stones ({} left out), invented money\n{:<38} {:>8} {:>9}   advice over it\n",
            self.stones.len(),
            self.left_out,
            "way to stop",
            "mean",
            "of seeing"
        );
        for (way, name) in WAYS.iter().enumerate() {
            let share = 100.0 * self.kept(way).0;
            let over = if way == 0 {
                String::new()
            } else {
                let (mean, error) = self.advice_over(way);
                format!("{mean:>8.1} ± {error:.1}")
            };
            out += &format!("{name:<38} {:>8.1} {share:>7.0} %   {over}\n", means[way]);
        }
        out += &format!(
            "The advice was forecast to bring {:.1}; the bar was gone through somewhere on {} \
             stones.\n",
            self.mean_forecast(),
            self.through
        );
        out
    }
}
