//! Trends: the part of a field that is not random, up to its coefficients.

use crate::model::BreakLine;

/// Shape of the trend.
#[derive(Clone, Copy, Debug, Eq, Hash, PartialEq)]
pub enum Drift {
    /// Nothing: the field varies about zero.
    Zero,
    /// 1.
    Constant,
    /// 1, x, y.
    Plane,
    /// 1, x, y, x², xy, y².
    Quadratic,
}

/// A trend: basis functions in x and y counted from `origin`, and one more, 1
/// to the left of `step` and 0 to the right, where the field may jump.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Trend {
    /// Shape.
    pub drift: Drift,
    /// Where x = y = 0 in the basis functions.
    pub origin: [f64; 2],
    /// A line across which the trend may jump.
    pub step: Option<BreakLine>,
}

impl Trend {
    /// A trend about a place.
    #[must_use]
    pub const fn about(drift: Drift, origin: [f64; 2]) -> Self {
        Self {
            drift,
            origin,
            step: None,
        }
    }

    /// How many coefficients.
    #[must_use]
    pub fn terms(&self) -> usize {
        let drift = match self.drift {
            Drift::Zero => 0,
            Drift::Constant => 1,
            Drift::Plane => 3,
            Drift::Quadratic => 6,
        };
        drift + usize::from(self.step.is_some())
    }

    /// The basis functions at a place, in the order of [`Drift`], the step last.
    #[must_use]
    pub fn basis(&self, at: [f64; 2]) -> Vec<f64> {
        let (x, y) = (at[0] - self.origin[0], at[1] - self.origin[1]);
        let mut values = Vec::with_capacity(7);
        match self.drift {
            Drift::Zero => {}
            Drift::Constant => values.push(1.0),
            Drift::Plane => values.extend([1.0, x, y]),
            Drift::Quadratic => values.extend([1.0, x, y, x * x, x * y, y * y]),
        }
        if let Some(line) = self.step {
            values.push(if line.is_left(at) { 1.0 } else { 0.0 });
        }
        values
    }
}

impl Trend {
    /// The trend at a place, with these coefficients.
    #[must_use]
    pub fn value(&self, at: [f64; 2], coefficients: &[f64]) -> f64 {
        self.along_row(at[1], coefficients).value(at[0])
    }

    /// The trend at one y, with these coefficients.
    pub(crate) fn along_row(&self, y: f64, coefficients: &[f64]) -> RowTrend {
        let from = y - self.origin[1];
        let (powers, rest) = match (self.drift, coefficients) {
            (Drift::Constant, [c, rest @ ..]) => ([*c, 0.0, 0.0], rest),
            (Drift::Plane, [c, cx, cy, rest @ ..]) => ([c + cy * from, *cx, 0.0], rest),
            (Drift::Quadratic, [c, cx, cy, cxx, cxy, cyy, rest @ ..]) => {
                ([c + from * (cy + from * cyy), cx + from * cxy, *cxx], rest)
            }
            (_, rest) => ([0.0; 3], rest),
        };
        let jump = match (self.step, rest) {
            (Some(line), [jump]) => Some((line, *jump)),
            _ => None,
        };
        RowTrend {
            y,
            x_origin: self.origin[0],
            powers,
            jump,
        }
    }
}

/// A trend at one y: a polynomial in x, and the jump.
#[derive(Clone, Copy, Debug)]
pub(crate) struct RowTrend {
    y: f64,
    x_origin: f64,
    /// Of 1, x and x².
    powers: [f64; 3],
    jump: Option<(BreakLine, f64)>,
}

impl RowTrend {
    #[inline]
    pub(crate) fn value(&self, x: f64) -> f64 {
        let from = x - self.x_origin;
        let [c, cx, cxx] = self.powers;
        let drift = c + from * (cx + from * cxx);
        match self.jump {
            Some((line, jump)) if line.is_left([x, self.y]) => drift + jump,
            _ => drift,
        }
    }
}

/// What is known of a trend coefficient before the data.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum CoefficientPrior {
    /// Nothing: the universal-kriging treatment. Needs data that determine it.
    Flat,
    /// Normal with this mean and standard deviation.
    Normal {
        /// Mean.
        mean: f64,
        /// Standard deviation.
        sd: f64,
    },
    /// Known.
    Known(f64),
}
