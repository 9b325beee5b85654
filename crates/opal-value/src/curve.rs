//! A factor that changes with one number: straight lines between points.

use thiserror::Error;

/// Why points do not make a curve.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum CurveError {
    /// No points.
    #[error("it has no points; give at least one pair [x, factor]")]
    Empty,
    /// A number is infinite or NaN, or a factor is negative.
    #[error("point {index} is [{x}, {y}]; both numbers must be finite and none below 0")]
    Number {
        /// Which point, from 0.
        index: usize,
        /// Its place.
        x: f64,
        /// Its factor.
        y: f64,
    },
    /// The places do not rise.
    #[error("point {index} stands at {x}; each point must stand beyond the one before it")]
    Order {
        /// Which point, from 0.
        index: usize,
        /// Its place.
        x: f64,
    },
}

/// Points joined by straight lines; flat before the first and after the last.
#[derive(Clone, Debug, PartialEq)]
pub struct Curve {
    points: Vec<[f64; 2]>,
}

impl Curve {
    /// From points with rising places.
    ///
    /// # Errors
    /// No points, a number that is not finite or is negative, places that do
    /// not rise.
    pub fn new(points: Vec<[f64; 2]>) -> Result<Self, CurveError> {
        if points.is_empty() {
            return Err(CurveError::Empty);
        }
        for (index, &[x, y]) in points.iter().enumerate() {
            if !x.is_finite() || !y.is_finite() || x < 0.0 || y < 0.0 {
                return Err(CurveError::Number { index, x, y });
            }
            if index > 0 && x <= points[index - 1][0] {
                return Err(CurveError::Order { index, x });
            }
        }
        Ok(Self { points })
    }

    /// The points.
    #[must_use]
    pub fn points(&self) -> &[[f64; 2]] {
        &self.points
    }

    /// The factor at `x`.
    #[must_use]
    pub fn at(&self, x: f64) -> f64 {
        self.between(x, |x| x)
    }

    /// The factor at `x`, straight in the logarithm of `x`: doubling counts the
    /// same wherever it happens. For sizes, whose points stand above 0.
    #[must_use]
    pub fn at_log(&self, x: f64) -> f64 {
        self.between(x, |x| x.max(f64::MIN_POSITIVE).ln())
    }

    /// The first point whose factor is below that of the point before it.
    #[must_use]
    pub fn first_fall(&self) -> Option<usize> {
        (1..self.points.len()).find(|&k| self.points[k][1] < self.points[k - 1][1])
    }

    /// The first stretch (by its end point) on which `x · factor` falls while
    /// `x` rises, the factor read as in [`Curve::at_log`]: there more would be
    /// worth less in total.
    ///
    /// # Method
    /// With u = ln x, d(x f)/du = x (f + df/du); df/du is constant over a
    /// stretch, so the sign need only be looked at where f is least.
    #[must_use]
    pub fn first_total_fall(&self) -> Option<usize> {
        (1..self.points.len()).find(|&k| {
            let [x0, f0] = self.points[k - 1];
            let [x1, f1] = self.points[k];
            let slope = (f1 - f0) / (x1.ln() - x0.max(f64::MIN_POSITIVE).ln());
            f0.min(f1) + slope < -1e-9
        })
    }

    fn between(&self, x: f64, scale: impl Fn(f64) -> f64) -> f64 {
        let after = self.points.partition_point(|p| p[0] <= x);
        if after == 0 {
            return self.points[0][1];
        }
        if after == self.points.len() {
            return self.points[after - 1][1];
        }
        let ([x0, y0], [x1, y1]) = (self.points[after - 1], self.points[after]);
        let share = (scale(x) - scale(x0)) / (scale(x1) - scale(x0));
        y0 + (y1 - y0) * share
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn reads_between_points_and_holds_the_ends() {
        let curve = Curve::new(vec![[0.0, 0.0], [0.5, 0.4], [1.0, 1.0]]).expect("rises");
        for (x, y) in [
            (-1.0, 0.0),
            (0.0, 0.0),
            (0.25, 0.2),
            (0.75, 0.7),
            (2.0, 1.0),
        ] {
            assert!((curve.at(x) - y).abs() < 1e-12, "{x}");
        }
        let sizes = Curve::new(vec![[1.0, 1.0], [4.0, 2.0]]).expect("rises");
        assert!((sizes.at_log(2.0) - 1.5).abs() < 1e-12);
    }

    #[test]
    fn refuses_what_is_no_curve() {
        assert_eq!(Curve::new(vec![]), Err(CurveError::Empty));
        assert!(matches!(
            Curve::new(vec![[1.0, 1.0], [1.0, 2.0]]),
            Err(CurveError::Order { index: 1, .. })
        ));
        assert!(matches!(
            Curve::new(vec![[0.0, f64::NAN]]),
            Err(CurveError::Number { index: 0, .. })
        ));
    }

    #[test]
    fn notices_a_total_that_falls() {
        // 10 ct at 1.0 and 11 ct at 0.5: 10 against 5.5.
        let falls = Curve::new(vec![[1.0, 0.8], [10.0, 1.0], [11.0, 0.5]]).expect("points");
        assert_eq!(falls.first_total_fall(), Some(2));
        let slow = Curve::new(vec![[1.0, 0.8], [10.0, 1.0], [100.0, 0.5]]).expect("points");
        assert_eq!(slow.first_total_fall(), None);
    }
}
