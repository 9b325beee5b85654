//! Sightings that do not fit the others.

use crate::cholesky::{Cholesky, dot};
use crate::parameters::{FieldPrior, FieldReading, KERNEL, Node};
use opal_geostat::Trend;

/// Standard deviations beyond which a sighting surprises. chosen: one in two
/// thousand does so by chance.
pub(crate) const SURPRISING: f64 = 3.5;

/// How far each reading lies from what the others say, and how far it might,
/// mm (leave-one-out residual and its standard deviation); empty when the readings
/// are too few to say.
///
/// # Method
/// From the inverse K⁻¹ of the full covariance, trend integrated out: residual
/// (K⁻¹r)ᵢ/(K⁻¹)ᵢᵢ, variance 1/(K⁻¹)ᵢᵢ (Dubrule 1983, Math. Geology 15;
/// Rasmussen & Williams 2006, eq. 5.12).
pub(crate) fn leave_one_out(
    prior: &FieldPrior,
    node: Node,
    readings: &[FieldReading],
) -> Vec<(f64, f64)> {
    let n = readings.len();
    // With fewer the trend takes everything up.
    if n < 5 {
        return Vec::new();
    }
    let trend = Trend::about(prior.drift, prior.centre_mm);
    let basis: Vec<Vec<f64>> = readings.iter().map(|r| trend.basis(r.at_mm)).collect();
    let Some(factor) = Cholesky::new(n, |i, j| {
        let (a, b) = (readings[i], readings[j]);
        let h = (a.at_mm[0] - b.at_mm[0]).hypot(a.at_mm[1] - b.at_mm[1]);
        let shared: f64 = basis[i]
            .iter()
            .zip(&basis[j])
            .zip(&prior.coefficients)
            .map(|((p, q), c)| p * q * c.1 * c.1)
            .sum();
        let noise = if i == j { a.sd * a.sd } else { 0.0 };
        node.sd * node.sd * KERNEL.correlation(h / node.range_mm) + shared + noise
    }) else {
        return Vec::new();
    };
    let mut solved: Vec<f64> = readings
        .iter()
        .zip(&basis)
        .map(|(r, b)| {
            r.value
                - b.iter()
                    .zip(&prior.coefficients)
                    .map(|(b, c)| b * c.0)
                    .sum::<f64>()
        })
        .collect();
    factor.forward(&mut solved);
    factor.backward(&mut solved);
    (0..n)
        .map(|i| {
            let mut unit = vec![0.0; n];
            unit[i] = 1.0;
            factor.forward(&mut unit);
            let inverse = dot(&unit, &unit);
            (solved[i] / inverse, inverse.sqrt().recip())
        })
        .collect()
}

/// The most surprising reading: its place in the list, its residual, and by how
/// many standard deviations.
pub(crate) fn worst(residuals: &[(f64, f64)]) -> Option<(usize, f64, f64)> {
    residuals
        .iter()
        .enumerate()
        .map(|(k, &(residual, sd))| (k, residual, residual.abs() / sd))
        .filter(|&(_, _, apart)| apart > SURPRISING)
        .max_by(|a, b| a.2.total_cmp(&b.2))
}
