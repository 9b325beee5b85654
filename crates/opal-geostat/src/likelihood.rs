//! Maximum likelihood of one field without priors: for checks against published
//! fits, and for those who ask for the statistics.

use crate::fields::{Datum, FieldModel, FieldSet};
use crate::kernel::Kernel;
use crate::kriging::{KrigingError, system_of};
use crate::mode::climb;
use crate::model::CovarianceModel;
use crate::trend::Trend;

/// How the trend's coefficients are treated.
#[derive(Clone, Copy, Debug, Eq, Hash, PartialEq)]
pub enum Likelihood {
    /// Set to their best values (maximum likelihood).
    Full,
    /// Integrated out (REML; Patterson & Thompson 1971, Biometrika 58).
    Restricted,
}

/// A maximum-likelihood fit.
#[derive(Clone, Debug, PartialEq)]
pub struct MaximumLikelihood {
    /// Sill, range and nugget.
    pub covariance: CovarianceModel,
    /// Trend coefficients.
    pub trend: Vec<f64>,
    /// Log likelihood at the maximum.
    pub log_likelihood: f64,
}

/// Fits sill, range, nugget and trend to data of one field; the data's own errors
/// are taken as part of the nugget.
///
/// # Method
/// Trend and sill are profiled out in closed form (Diggle & Ribeiro 2007,
/// *Model-based Geostatistics*, §5.4); the range and the ratio of nugget to sill are
/// searched in logarithms from several starts, the ratio 0 apart.
/// # Errors
/// The data do not determine the trend, or are not finite.
pub fn maximum_likelihood(
    kernel: Kernel,
    trend: Trend,
    likelihood: Likelihood,
    data: &[Datum],
) -> Result<MaximumLikelihood, KrigingError> {
    let bare: Vec<Datum> = data
        .iter()
        .map(|datum| Datum { sd: 0.0, ..*datum })
        .collect();
    for (index, datum) in bare.iter().enumerate() {
        if !(datum.value.is_finite() && datum.reading.at.iter().all(|x| x.is_finite())) {
            return Err(KrigingError::Datum { index });
        }
    }
    let values: Vec<f64> = bare.iter().map(|datum| datum.value).collect();
    let n = values.len() as f64;
    let solve = |log_range: f64, ratio: f64| {
        let covariance =
            CovarianceModel::isotropic(kernel, 1.0, log_range.exp()).with_nugget(ratio);
        let model = FieldSet::one(FieldModel::flat(covariance, trend));
        let system = system_of(&model, &bare)?;
        let (quadratic, log_determinant, solution) = system.profile(&values);
        let (divisor, rest) = match likelihood {
            Likelihood::Full => (n, log_determinant),
            Likelihood::Restricted => (
                n - trend.terms() as f64,
                log_determinant + system.trend_log_determinant(),
            ),
        };
        let sill = quadratic / divisor;
        let turn = 2.0 * std::f64::consts::PI;
        let log_likelihood = -0.5 * (divisor * ((turn * sill).ln() + 1.0) + rest);
        Ok::<_, KrigingError>((log_likelihood, sill, solution.beta))
    };
    let width = spread(&bare).max(f64::MIN_POSITIVE);
    // The trend must be determined at an ordinary range before anything is searched.
    solve((0.2 * width).ln(), 0.1)?;
    let value = |log_range: f64, ratio: f64| {
        solve(log_range, ratio).map_or(f64::NEG_INFINITY, |(value, ..)| value)
    };
    let with_nugget = |x: &[f64]| value(x[0], x[1].exp());
    let without = |x: &[f64]| value(x[0], 0.0);
    let mut best: Option<(f64, f64, f64)> = None;
    for share in [0.05, 0.15, 0.4] {
        let log_range = (share * width).ln();
        let (x, top) = climb(&without, &[log_range]);
        let mut tops = vec![(top, x[0], 0.0)];
        for ratio in [0.01_f64, 0.1] {
            let (x, top) = climb(&with_nugget, &[log_range, ratio.ln()]);
            tops.push((top, x[0], x[1].exp()));
        }
        for candidate in tops {
            if best.is_none_or(|(top, ..)| candidate.0 > top) {
                best = Some(candidate);
            }
        }
    }
    let (_, log_range, ratio) = best.expect("three starts were tried");
    let (log_likelihood, sill, beta) = solve(log_range, ratio)?;
    Ok(MaximumLikelihood {
        covariance: CovarianceModel::isotropic(kernel, sill, log_range.exp())
            .with_nugget(ratio * sill),
        trend: beta,
        log_likelihood,
    })
}

/// Diagonal of the box around the data.
fn spread(data: &[Datum]) -> f64 {
    let side = |axis: usize| {
        let along = data.iter().map(|datum| datum.reading.at[axis]);
        let (low, high) = along.fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), x| {
            (l.min(x), h.max(x))
        });
        (high - low).max(0.0)
    };
    side(0).hypot(side(1))
}
