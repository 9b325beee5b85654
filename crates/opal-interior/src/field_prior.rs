//! A bar's field before any sighting, as the geostatistics engine takes it.

use crate::forms::Around;
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
    /// Mean and standard deviation of every trend coefficient.
    pub(crate) coefficients: Vec<(f64, f64)>,
    pub(crate) sd: Around,
    pub(crate) range_mm: Around,
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
                .map(|&(mean, sd)| CoefficientPrior::Normal { mean, sd })
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
