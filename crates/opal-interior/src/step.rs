//! A line along which the bars break off, as the geostatistics engine takes it.

use crate::bar::Setting;
use opal_geostat::{BreakLine, CoefficientPrior, FieldModel};

impl Setting<'_> {
    fn break_line(&self) -> Option<BreakLine> {
        let step = self.step?;
        let [dx, dy] = [0, 1].map(|a: usize| step.to_mm[a] - step.from_mm[a]);
        Some(BreakLine {
            through: step.from_mm,
            direction_rad: dy.atan2(dx),
            // Chosen: because what is left across a break is not known, and too little
            // is the honest side.
            correlation_across: 0.0,
        })
    }

    /// Breaks a top off: its bends are of each side alone, and its plane may jump by
    /// what was judged, or else by as much as a bar's height is unsure.
    pub(crate) fn break_top(&self, field: &mut FieldModel) {
        let line = self.break_line();
        field.covariance.break_line = line;
        field.trend.step = line;
        if let Some(step) = self.step {
            let unsure = self.form.height_share_sd * self.size.height_mm();
            let (mean, sd) = step
                .rise
                .map_or((0.0, unsure), |r| (r.value.mm(), r.sigma.mm().max(0.02)));
            field
                .coefficients
                .push(CoefficientPrior::Normal { mean, sd });
        }
    }

    /// Breaks a thickness off: each side thins and thickens by itself about one mean.
    pub(crate) fn break_thickness(&self, field: &mut FieldModel) {
        field.covariance.break_line = self.break_line();
    }
}
