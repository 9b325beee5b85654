//! Covariance models: kernel, sill, range, direction, nugget, break line.

use crate::kernel::Kernel;
use thiserror::Error;

/// A straight line across which a field loses its memory: a fault or a step.
///
/// Covariance between two places on different sides is multiplied by
/// `correlation_across`. Valid for any value in 0..=1: the field is then the sum of
/// √c times a field common to both sides and √(1 − c) times one of its own for
/// each side.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BreakLine {
    /// A point on the line.
    pub through: [f64; 2],
    /// Its direction, radians counter-clockwise from x.
    pub direction_rad: f64,
    /// What is left of the covariance across it, 0 (nothing) to 1 (no break).
    pub correlation_across: f64,
}

impl BreakLine {
    /// Which side a place is on: true to the left of the line's direction
    /// (on the line counts as left).
    #[must_use]
    pub fn is_left(&self, at: [f64; 2]) -> bool {
        let (sin, cos) = self.direction_rad.sin_cos();
        cos * (at[1] - self.through[1]) - sin * (at[0] - self.through[0]) >= 0.0
    }
}

/// A stationary covariance, with geometric anisotropy and an optional break.
///
/// # Units
/// `range` is in the unit of the places; `sill` and `nugget` are in the field's
/// unit squared. `range` is the ℓ of the [`Kernel`]'s formula along the long
/// direction; see [`Kernel::effective_ranges`] for the 5 % distance.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CovarianceModel {
    /// Correlation function.
    pub kernel: Kernel,
    /// Variance of the field without the nugget ('partial sill').
    pub sill: f64,
    /// Range ℓ along the long direction.
    pub range: f64,
    /// Range across the long direction over the range along it; 1 is isotropic.
    pub anisotropy_ratio: f64,
    /// The long direction, radians counter-clockwise from x.
    pub anisotropy_rad: f64,
    /// Variance that two readings at one place do not share. In the drawn
    /// fields it counts as error of the reading, not as roughness of the field.
    pub nugget: f64,
    /// A line across which the field decorrelates.
    pub break_line: Option<BreakLine>,
}

/// Why a covariance model was refused.
#[derive(Clone, Copy, Debug, Error, PartialEq)]
pub enum ModelError {
    /// A parameter is outside its domain.
    #[error("{name} is {value}, it must be {limit}")]
    Parameter {
        /// Which.
        name: &'static str,
        /// What stood there.
        value: f64,
        /// What is allowed.
        limit: &'static str,
    },
}

impl CovarianceModel {
    /// An isotropic model without nugget and without break.
    #[must_use]
    pub const fn isotropic(kernel: Kernel, sill: f64, range: f64) -> Self {
        Self {
            kernel,
            sill,
            range,
            anisotropy_ratio: 1.0,
            anisotropy_rad: 0.0,
            nugget: 0.0,
            break_line: None,
        }
    }

    /// The same with a nugget.
    #[must_use]
    pub const fn with_nugget(self, nugget: f64) -> Self {
        Self { nugget, ..self }
    }

    /// The same with the range across `direction_rad` multiplied by `ratio`.
    #[must_use]
    pub const fn with_anisotropy(self, ratio: f64, direction_rad: f64) -> Self {
        Self {
            anisotropy_ratio: ratio,
            anisotropy_rad: direction_rad,
            ..self
        }
    }

    /// The same with a break line.
    #[must_use]
    pub const fn with_break(self, line: BreakLine) -> Self {
        Self {
            break_line: Some(line),
            ..self
        }
    }

    /// Refuses parameters outside their domain.
    ///
    /// # Errors
    /// Names the first parameter that is out of its domain, and the limit.
    pub fn check(&self) -> Result<(), ModelError> {
        let parameters = [
            ("sill", self.sill, self.sill >= 0.0, "0 or more"),
            ("range", self.range, self.range > 0.0, "above 0"),
            (
                "anisotropy ratio",
                self.anisotropy_ratio,
                self.anisotropy_ratio > 0.0,
                "above 0",
            ),
            (
                "anisotropy direction",
                self.anisotropy_rad,
                self.anisotropy_rad.is_finite(),
                "finite",
            ),
            ("nugget", self.nugget, self.nugget >= 0.0, "0 or more"),
        ];
        for (name, value, holds, limit) in parameters {
            if !(holds && value.is_finite()) {
                return Err(ModelError::Parameter { name, value, limit });
            }
        }
        match self.break_line {
            Some(line) if !(0.0..=1.0).contains(&line.correlation_across) => {
                Err(ModelError::Parameter {
                    name: "correlation across the break",
                    value: line.correlation_across,
                    limit: "from 0 to 1",
                })
            }
            _ => Ok(()),
        }
    }

    /// Correlation at a lag, without nugget and without break.
    #[must_use]
    pub fn correlation_at_lag(&self, lag: [f64; 2]) -> f64 {
        let (along, across) = if self.anisotropy_ratio == 1.0 {
            (lag[0], lag[1])
        } else {
            let (sin, cos) = self.anisotropy_rad.sin_cos();
            (
                cos * lag[0] + sin * lag[1],
                (cos * lag[1] - sin * lag[0]) / self.anisotropy_ratio,
            )
        };
        self.kernel
            .correlation((along * along + across * across).sqrt() / self.range)
    }

    /// Factor by which the break lessens the covariance of two places.
    #[must_use]
    pub fn break_factor(&self, a: [f64; 2], b: [f64; 2]) -> f64 {
        match self.break_line {
            Some(line) if line.is_left(a) != line.is_left(b) => line.correlation_across,
            _ => 1.0,
        }
    }

    /// Covariance of the field between two places, without the nugget.
    #[must_use]
    pub fn covariance(&self, a: [f64; 2], b: [f64; 2]) -> f64 {
        self.sill * self.correlation_at_lag([b[0] - a[0], b[1] - a[1]]) * self.break_factor(a, b)
    }

    /// Semivariance at a lag above 0, with the nugget, on one side of any break.
    #[must_use]
    pub fn semivariance(&self, lag: [f64; 2]) -> f64 {
        self.nugget + self.sill * (1.0 - self.correlation_at_lag(lag))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_long_direction_is_the_long_one() {
        let model = CovarianceModel::isotropic(Kernel::Matern32, 2.0, 10.0)
            .with_anisotropy(0.25, std::f64::consts::FRAC_PI_4);
        let along = model.covariance([0.0, 0.0], [5.0, 5.0]);
        let across = model.covariance([0.0, 0.0], [5.0, -5.0]);
        let isotropic = CovarianceModel::isotropic(Kernel::Matern32, 2.0, 10.0);
        assert!((along - isotropic.covariance([0.0, 0.0], [50.0_f64.sqrt(), 0.0])).abs() < 1e-12);
        assert!(
            (across - isotropic.covariance([0.0, 0.0], [4.0 * 50.0_f64.sqrt(), 0.0])).abs() < 1e-12
        );
    }

    #[test]
    fn a_break_lessens_covariance_across_it_only() {
        let line = BreakLine {
            through: [1.0, 0.0],
            direction_rad: std::f64::consts::FRAC_PI_2,
            correlation_across: 0.3,
        };
        let plain = CovarianceModel::isotropic(Kernel::Matern52, 1.0, 4.0);
        let broken = plain.with_break(line);
        let (a, b, c) = ([0.0, 0.0], [0.5, 3.0], [2.0, 0.0]);
        assert_eq!(plain.covariance(a, b), broken.covariance(a, b));
        assert!((0.3 * plain.covariance(a, c) - broken.covariance(a, c)).abs() < 1e-15);
    }

    #[test]
    fn refuses_by_name_and_limit() {
        let bad = CovarianceModel::isotropic(Kernel::Spherical, 1.0, -2.0);
        assert_eq!(
            bad.check().expect_err("refused").to_string(),
            "range is -2, it must be above 0"
        );
        let nan = CovarianceModel::isotropic(Kernel::Spherical, f64::NAN, 2.0);
        assert!(nan.check().is_err());
    }
}
