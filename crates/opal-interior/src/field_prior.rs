//! A bar's field before any sighting, as the geostatistics engine takes it.

use crate::forms::{Around, BEND};
use opal_geostat::{
    CoefficientPrior, CovarianceModel, Drift, FieldModel, FieldPriors, Kernel, ParameterPrior,
    Trend,
};

/// How smooth bars are taken to be where nothing tells. chosen: bends but does not
/// crease (once differentiable); smoother kernels are over-confident (Stein 1999,
/// *Interpolation of Spatial Data*).
pub(crate) const KERNEL: Kernel = Kernel::Matern32;
/// How smooth bars may turn out to be, with the belief before any sighting.
/// chosen: real surfaces are often rougher than they look between few readings;
/// without the second kernel the study's real surfaces are forecast too narrowly.
pub(crate) const KERNELS: [(Kernel, f64); 2] = [(KERNEL, 0.6), (Kernel::Matern12, 0.4)];

/// A field before any reading.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct FieldPrior {
    pub(crate) drift: Drift,
    /// Where the trend's x and y count from, mm.
    pub(crate) centre_mm: [f64; 2],
    /// Mean and standard deviation of every trend coefficient; known where that is 0.
    pub(crate) coefficients: Vec<(f64, f64)>,
    pub(crate) sd: Around,
    pub(crate) range_mm: Around,
}

/// Coefficients of a quadratic: level, slopes along x and y, and a bend of the form's
/// [`BEND`] standard deviations `sd` between the middle and `half_mm` from it.
pub(crate) fn bending(level: (f64, f64), slope_sd: f64, sd: f64, half_mm: f64) -> Vec<(f64, f64)> {
    let (slope, bend) = ((0.0, slope_sd), (0.0, BEND * sd / half_mm.powi(2)));
    vec![level, slope, slope, bend, bend, bend]
}

impl FieldPrior {
    /// The model with the parameters at these standard normal scores.
    pub(crate) fn model_at(&self, sd_score: f64, range_score: f64) -> FieldModel {
        let sd = self.sd.at(sd_score);
        FieldModel {
            covariance: CovarianceModel::isotropic(KERNEL, sd * sd, self.range_mm.at(range_score)),
            trend: Trend::about(self.drift, self.centre_mm),
            coefficients: self
                .coefficients
                .iter()
                .map(|&(mean, sd)| match sd {
                    0.0 => CoefficientPrior::Known(mean),
                    _ => CoefficientPrior::Normal { mean, sd },
                })
                .collect(),
        }
    }

    /// The priors of its parameters.
    pub(crate) fn priors(&self) -> FieldPriors {
        let log_normal = |a: Around| ParameterPrior::LogNormal {
            median: a.median,
            log_sd: a.log_sd,
        };
        FieldPriors {
            range: log_normal(self.range_mm),
            sd: log_normal(self.sd),
            nugget_sd: ParameterPrior::Fixed(0.0),
            anisotropy_log_sd: 0.0,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// At the edge along x a bend and a wedge are all there is, as many standard
    /// deviations as were asked for; along the diagonal x², xy and y² add up, and the
    /// variance is that of their sum.
    #[test]
    fn bends_by_so_many_standard_deviations_between_middle_and_edge() {
        let (half_mm, sd, slope_sd) = (12.0, 0.7, 0.03);
        let terms = bending((5.0, 0.0), slope_sd, sd, half_mm);
        let trend = Trend::about(Drift::Quadratic, [3.0, 4.0]);
        let sd_at = |x: f64, y: f64| {
            let basis = trend.basis([3.0 + x, 4.0 + y]);
            let each = basis
                .iter()
                .zip(&terms)
                .map(|(b, (_, sd))| (b * sd).powi(2));
            each.sum::<f64>().sqrt()
        };
        assert_eq!(sd_at(0.0, 0.0), 0.0);
        let wanted = (BEND * sd).hypot(slope_sd * half_mm);
        assert!((sd_at(half_mm, 0.0) - wanted).abs() < 1e-12);
        let wanted = (3.0_f64.sqrt() * BEND * sd).hypot(2.0_f64.sqrt() * slope_sd * half_mm);
        assert!((sd_at(half_mm, -half_mm) - wanted).abs() < 1e-12);
    }
}
