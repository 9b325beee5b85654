//! The calibration study as a table and as a document for programs.

use crate::tally::LEVELS;
use crate::{CalibrationReport, Cell, Evidenced, Tally};
use opal_evidence::Form;
use serde::Serialize;

/// Name and version of the document.
pub const CALIBRATION_FORMAT: &str = "opalwright-calibration/1";

/// The study for programs.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CalibrationDoc {
    /// [`CALIBRATION_FORMAT`].
    pub format: &'static str,
    /// Stones for each combination of look and law.
    pub stones: usize,
    /// Interiors for each stone.
    pub interiors: usize,
    /// Hidden places compared in each stone.
    pub places: usize,
    /// Where it all started from.
    pub seed: u64,
    /// Measured surfaces that were used.
    pub surfaces: Vec<String>,
    /// The lines.
    pub cells: Vec<CellDoc>,
    /// What held and what did not, in words.
    pub findings: Vec<String>,
}

/// One line.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CellDoc {
    /// `sighted` or `quick`.
    pub look: &'static str,
    /// The law of the truth.
    pub law: &'static str,
    /// The form; left out for all together.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub form: Option<String>,
    /// Stones in it.
    pub stones: usize,
    /// Height of the top where the bar is, mm.
    pub top: TallyDoc,
    /// Thickness, absence as 0, mm.
    pub thickness: TallyDoc,
    /// Volume of the bar over the true one.
    pub volume: TallyDoc,
    /// The same of the stones whose forecast warned of nothing.
    pub volume_unwarned: TallyDoc,
}

/// How forecasts of one quantity did.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct TallyDoc {
    /// Outcomes compared.
    pub outcomes: usize,
    /// Of the middle 50, 80 and 90 % intervals.
    pub coverage: Vec<CoverageDoc>,
    /// Where outcomes fell among the draws: counts in ten equal bins.
    pub pit: [usize; 10],
    /// Mean continuous ranked probability score, in the quantity's unit.
    pub crps: f64,
    /// Mean width of the 90 % interval.
    pub width_90: f64,
    /// Mean of outcome less forecast median.
    pub bias: f64,
}

/// One interval.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct CoverageDoc {
    /// What it is to hold.
    pub level: f64,
    /// What it held.
    pub share: f64,
    /// One standard error of the share, places of one stone counted as one.
    pub standard_error: f64,
}

/// Distance from the level, in shares, up to which coverage is as it should be.
const CLOSE: f64 = 0.05;

impl CalibrationReport {
    /// As a document for programs.
    #[must_use]
    pub fn document(&self) -> CalibrationDoc {
        CalibrationDoc {
            format: CALIBRATION_FORMAT,
            stones: self.stones,
            interiors: self.interiors,
            places: self.places,
            seed: self.seed.0,
            surfaces: self.surfaces.clone(),
            cells: self.cells.iter().map(Cell::document).collect(),
            findings: self.findings(),
        }
    }

    /// As a table in plain text, with the findings below.
    #[must_use]
    pub fn table(&self) -> String {
        let mut text = format!(
            "{:<9} {:<21} {:<8} {:>6} | {:^29} | {:^29} | {:^17} | {:^17}\n",
            "look",
            "law of the truth",
            "form",
            "stones",
            "top: 50 80 90 %, CRPS, width",
            "thickness: the same",
            "bar volume",
            "where not warned"
        );
        let cover = |t: &Tally| {
            t.coverage
                .iter()
                .map(|c| format!("{:>5.1}", 100.0 * c.share()))
                .collect::<Vec<_>>()
                .join(" ")
        };
        for cell in &self.cells {
            text += &format!(
                "{:<9} {:<21} {:<8} {:>6} | {} {:>5.2} {:>5.2} | {} {:>5.2} {:>5.2} | {} | {}\n",
                cell.look.word(),
                cell.law.words(),
                cell.form.map_or("all", form_word),
                cell.stones,
                cover(&cell.top),
                cell.top.crps(),
                cell.top.width(),
                cover(&cell.thickness),
                cell.thickness.crps(),
                cell.thickness.width(),
                cover(&cell.volume),
                cover(&cell.volume_unwarned),
            );
        }
        for finding in self.findings() {
            text += &finding;
            text.push('\n');
        }
        text
    }

    /// What held and what did not, for all forms together: a line for each look and
    /// law of which an interval is more than five points and two standard errors off.
    #[must_use]
    pub fn findings(&self) -> Vec<String> {
        let mut found = Vec::new();
        for cell in self.cells.iter().filter(|c| c.form.is_none()) {
            for (what, tally) in [
                ("top", &cell.top),
                ("thickness", &cell.thickness),
                ("bar volume", &cell.volume),
                (
                    "bar volume where nothing was warned of",
                    &cell.volume_unwarned,
                ),
            ] {
                let off: Vec<String> = cell
                    .coverage_of(tally)
                    .into_iter()
                    .filter(|c| {
                        let away = (c.share - c.level).abs();
                        away > CLOSE && away > 2.0 * c.standard_error
                    })
                    .map(|c| {
                        let side = if c.share < c.level { "narrow" } else { "wide" };
                        format!(
                            "the {:.0} % interval held {:.0} % (too {side})",
                            100.0 * c.level,
                            100.0 * c.share
                        )
                    })
                    .collect();
                if !off.is_empty() {
                    found.push(format!(
                        "{}, {}: of the {what}, {}.",
                        cell.look.word(),
                        cell.law.words(),
                        off.join(", ")
                    ));
                }
            }
        }
        if found.is_empty() {
            found.push(
                "Every interval holds what it says, within five points or two standard errors."
                    .to_owned(),
            );
        }
        found
    }
}

impl Evidenced {
    /// In a word.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Sighted => "sighted",
            Self::QuickLook => "quick",
        }
    }
}

fn form_word(form: Form) -> &'static str {
    match form {
        Form::Seam => "seam",
        Form::Nobby => "nobby",
        Form::Boulder => "boulder",
        Form::Pipe => "pipe",
        Form::Matrix => "matrix",
        Form::Unknown => "unknown",
    }
}

impl Cell {
    fn document(&self) -> CellDoc {
        let tally = |t: &Tally| TallyDoc {
            outcomes: t.len(),
            coverage: self.coverage_of(t),
            pit: t.pit.counts,
            crps: finite(t.crps()),
            width_90: finite(t.width()),
            bias: finite(t.bias()),
        };
        CellDoc {
            look: self.look.word(),
            law: self.law.words(),
            form: self.form.map(|f| form_word(f).to_owned()),
            stones: self.stones,
            top: tally(&self.top),
            thickness: tally(&self.thickness),
            volume: tally(&self.volume),
            volume_unwarned: tally(&self.volume_unwarned),
        }
    }

    pub(crate) fn coverage_of(&self, tally: &Tally) -> Vec<CoverageDoc> {
        // Places of one stone hang together: the stones are counted.
        let stones = self.stones.min(tally.len()).max(1) as f64;
        tally
            .coverage
            .iter()
            .zip(LEVELS)
            .map(|(coverage, level)| CoverageDoc {
                level,
                share: finite(coverage.share()),
                standard_error: (level * (1.0 - level) / stones).sqrt(),
            })
            .collect()
    }
}

/// JSON has no NaN: nothing compared is 0.
fn finite(value: f64) -> f64 {
    if value.is_finite() { value } else { 0.0 }
}
