//! Studies of how well forecasts do on invented stones with known insides.
//!
//! Layer 11. Nothing here is used to make a forecast.

mod calibration;
mod calibration_drawing;
mod calibration_report;
mod facing;
mod facing_report;
mod invented;
mod learning;
mod learning_report;
mod plain_rules;
mod plans;
mod plans_drawing;
mod plans_report;
mod study;
mod tally;
mod true_inside;

pub use calibration::{CalibrationOptions, CalibrationReport, Cell, Evidenced, calibration};
pub use calibration_report::{CALIBRATION_FORMAT, CalibrationDoc, CellDoc, CoverageDoc, TallyDoc};
pub use facing::{FacingOptions, FacingReport, WAYS, facing};
pub use facing_report::{FacingStudyDoc, STUDY_FACING_FORMAT, WayDoc};
pub use invented::{InventedStone, invented_stone};
pub use learning::{LearningOptions, LearningReport, Stretch, learning};
pub use learning_report::{CutterDoc, LEARNING_FORMAT, LearningDoc, ProfitDoc, StretchDoc};
pub use plans::{CHOICES, Forecast, PlannedStone, PlansOptions, PlansReport, plans};
pub use plans_report::{
    ChoiceDoc, ForecastDoc, PLANS_STUDY_FORMAT, PlansStudyDoc, plans_study_schema,
};
pub use study::{Going, Report, Study, StudyError};
pub use tally::Tally;
