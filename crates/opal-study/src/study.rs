//! A study as one thing: what is asked, how far it is, stopping it, and the three ways in
//! which its answer is told.

use crate::calibration::{CalibrationOptions, CalibrationReport, calibration};
use crate::facing::{FacingOptions, FacingReport, facing};
use crate::learning::{LearningOptions, LearningReport, learning};
use crate::plans::{PlansOptions, PlansReport, plans};
use opal_bench::FacingError;
use opal_evidence::Faults;
use opal_interior::InteriorError;
use opal_plan::PlanError;
use opal_value::PriceError;
use serde_json::Value;
use std::ops::ControlFlow;
use thiserror::Error;

/// Hears the share done, 0..=1, now and then; `Break` stops the study there.
pub type Going<'a> = dyn Fn(f64) -> ControlFlow<()> + Sync + 'a;

/// Why a study stopped.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum StudyError {
    /// A stone that could not be forecast.
    #[error(transparent)]
    Interior(#[from] InteriorError),
    /// A stone that could not be planned.
    #[error(transparent)]
    Plan(#[from] PlanError),
    /// A face that could not be valued.
    #[error(transparent)]
    Facing(#[from] FacingError),
    /// The example price book does not read.
    #[error("the example price book: {0}")]
    Prices(#[from] Faults),
    /// The example price book prices nothing of what a stone may be.
    #[error("the example price book: {0}")]
    Price(#[from] PriceError),
    /// A career of a cutter who learns could not go on.
    #[error("the career could not go on: {0}")]
    Career(String),
    /// Somebody stopped it.
    #[error("stopped before it was done")]
    Stopped,
}

/// Tells how far a study is, and gives up where it was stopped.
pub(crate) fn go_on(going: &Going<'_>, share: f64) -> Result<(), StudyError> {
    match going(share) {
        ControlFlow::Continue(()) => Ok(()),
        ControlFlow::Break(()) => Err(StudyError::Stopped),
    }
}

/// What a study found, in the three ways it is told.
pub trait Report {
    /// As a table in plain text, with the findings below.
    fn table(&self) -> String;

    /// As a drawing.
    fn svg(&self) -> String;

    /// As a document for programs.
    ///
    /// # Errors
    /// None that is known: the documents hold only texts, figures and lists.
    fn document(&self) -> Result<Value, serde_json::Error>;
}

macro_rules! told_in_three_ways {
    ($($report:ty),*) => {$(
        impl Report for $report {
            fn table(&self) -> String {
                self.table()
            }

            fn svg(&self) -> String {
                self.svg()
            }

            fn document(&self) -> Result<Value, serde_json::Error> {
                serde_json::to_value(self.document())
            }
        }
    )*};
}

told_in_three_ways!(CalibrationReport, FacingReport, PlansReport, LearningReport);

/// A study, and how large it is to be.
#[derive(Clone, Debug)]
pub enum Study {
    /// Do the intervals hold what they say?
    Calibration(CalibrationOptions),
    /// What is the advice to go on or to stop worth?
    Facing(FacingOptions),
    /// What do the plans lose against the best plan knowing the inside?
    Plans(PlansOptions),
    /// Does learning from each stone better the forecasts?
    Learning(LearningOptions),
}

impl Study {
    /// Runs it.
    ///
    /// # Errors
    /// A part of the program failed; or it was stopped.
    pub fn run(&self, going: &Going<'_>) -> Result<Box<dyn Report>, StudyError> {
        Ok(match self {
            Self::Calibration(options) => Box::new(calibration(options, going)?),
            Self::Facing(options) => Box::new(facing(options, going)?),
            Self::Plans(options) => Box::new(plans(options, going)?),
            Self::Learning(options) => Box::new(learning(options, going)?),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::atomic::{AtomicUsize, Ordering};

    /// Each study of a few stones, stopped at the second time that it tells how far it is.
    #[test]
    fn a_study_can_be_stopped() {
        let studies = [
            Study::Calibration(CalibrationOptions {
                stones: 40,
                interiors: 20,
                ..CalibrationOptions::default()
            }),
            Study::Facing(FacingOptions {
                stones: 40,
                interiors: 20,
                ..FacingOptions::default()
            }),
            Study::Plans(PlansOptions {
                stones: 40,
                interiors: 40,
                most_stones: 1,
                effort: opal_plan::Effort::Quick,
                ..PlansOptions::default()
            }),
            Study::Learning(LearningOptions {
                careers: 2,
                stones: 10,
                draws: 20,
                ..LearningOptions::default()
            }),
        ];
        for study in studies {
            let told = AtomicUsize::new(0);
            let stopped = study.run(&|share| {
                assert!((0.0..=1.0).contains(&share), "{share}");
                match told.fetch_add(1, Ordering::Relaxed) {
                    0 => ControlFlow::Continue(()),
                    _ => ControlFlow::Break(()),
                }
            });
            assert!(matches!(stopped, Err(StudyError::Stopped)), "{study:?}");
            // Other threads may have told a little more before they heard of it.
            let told = told.into_inner();
            assert!((2..20).contains(&told), "{told}: {study:?}");
        }
    }
}
