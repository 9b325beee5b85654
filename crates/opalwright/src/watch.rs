//! Long work on the terminal: one bar, only where somebody looks at it.

use indicatif::{ProgressBar, ProgressStyle};
use opal_job::{Progress, Stage};
use std::io::IsTerminal as _;

/// Steps of the bar for each stage of the work.
const STEPS: u64 = 100;

/// A bar on the error stream, so that answers can be piped; silent where that
/// is no terminal.
pub(crate) struct Watch {
    bar: ProgressBar,
}

impl Watch {
    pub(crate) fn new() -> Self {
        let bar = if std::io::stderr().is_terminal() {
            ProgressBar::new(STEPS)
        } else {
            ProgressBar::hidden()
        };
        if let Ok(style) = ProgressStyle::with_template("{msg:<24} {bar:30} {percent:>3} %") {
            bar.set_style(style);
        }
        Self { bar }
    }

    pub(crate) fn clear(&self) {
        self.bar.finish_and_clear();
    }
}

impl Drop for Watch {
    fn drop(&mut self) {
        self.clear();
    }
}

impl Progress for Watch {
    fn at(&self, stage: Stage, share: f64) {
        self.bar.set_message(stage.words());
        self.bar
            .set_position((share.clamp(0.0, 1.0) * STEPS as f64) as u64);
    }
}
