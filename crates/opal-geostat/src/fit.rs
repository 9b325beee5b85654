//! Parameters from data: the posterior mode, and a few weighted draws that carry
//! how little is known.

use crate::factor::{Factor, dot};
use crate::fields::{Bound, Datum, FieldSet, WeightedModel};
use crate::kriging::system_of;
use crate::mode::{climb, curvature};
use crate::model::ModelError;
use crate::prior::ParameterPrior;
use crate::system::SystemError;
use crate::truncated::TruncatedNormal;
use opal_units::Seed;
use rand::RngExt;
use rayon::prelude::*;
use statrs::function::erf::erfc_inv;
use thiserror::Error;

/// Priors of one field's parameters; what is fixed is not inferred.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FieldPriors {
    /// Range ℓ.
    pub range: ParameterPrior,
    /// Standard deviation of the field (root of the sill).
    pub sd: ParameterPrior,
    /// Standard deviation of the nugget; `Fixed(0.0)` for none.
    pub nugget_sd: ParameterPrior,
    /// Standard deviation of the log anisotropy along any direction; 0 keeps the
    /// template's anisotropy.
    ///
    /// The logarithm of the ratio and twice the direction are the polar form of a
    /// centred normal vector, so that isotropy is its smooth middle.
    pub anisotropy_log_sd: f64,
}

/// What is known of the correlation of two fields.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum CorrelationPrior {
    /// Known.
    Fixed(f64),
    /// atanh ρ is normal (Fisher 1921).
    Fisher {
        /// Mean of atanh ρ.
        mean: f64,
        /// Standard deviation of atanh ρ.
        sd: f64,
    },
}

/// What to fit.
#[derive(Clone, Debug, PartialEq)]
pub struct FitSpec {
    /// Kernels, trends, breaks and whatever is not inferred.
    pub template: FieldSet,
    /// Priors, one for each field.
    pub priors: Vec<FieldPriors>,
    /// Prior of the correlation; used where there are two fields.
    pub correlation: CorrelationPrior,
    /// How many weighted models to return at most.
    pub draws: usize,
    /// Data and bounds used at most for the parameters, whole places taken evenly from
    /// the list (the fields honour all of them). The cost grows with the cube.
    pub readings_most: usize,
}

impl FitSpec {
    /// With 12 draws from at most 160 readings.
    #[must_use]
    pub fn new(
        template: FieldSet,
        priors: Vec<FieldPriors>,
        correlation: CorrelationPrior,
    ) -> Self {
        Self {
            template,
            priors,
            correlation,
            draws: 12,
            readings_most: 160,
        }
    }
}

/// What the data say of the parameters.
#[derive(Clone, Debug, PartialEq)]
pub struct Fit {
    /// The most plausible model.
    pub mode: FieldSet,
    /// Equally drawn models with their weights, which sum to 1.
    pub draws: Vec<WeightedModel>,
    /// Log posterior density at the mode, up to a constant.
    pub log_posterior: f64,
    /// How many independent draws the weighted sample behind `draws` is worth.
    pub effective_sample: f64,
}

/// Why a fit was refused.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum FitError {
    /// The template is not a valid model.
    #[error(transparent)]
    Model(#[from] ModelError),
    /// A prior is not valid.
    #[error("{what} of the prior of field {field} is {value}, it must be {limit}")]
    Prior {
        /// Which field.
        field: usize,
        /// What of it.
        what: &'static str,
        /// What stood there.
        value: f64,
        /// What is allowed.
        limit: &'static str,
    },
    /// A prior for each field is needed.
    #[error("{priors} priors were given for {fields} fields")]
    Count {
        /// Priors.
        priors: usize,
        /// Fields.
        fields: usize,
    },
    /// The data cannot be solved even at the middle of the priors.
    #[error(transparent)]
    System(#[from] SystemError),
}

/// Draws from the proposal in each of two rounds.
const PROPOSALS: usize = 160;
/// The same where there are many readings and each costs more.
const PROPOSALS_MANY: usize = 48;
/// Readings from which on fewer are drawn.
const MANY: usize = 80;
/// Degrees of freedom of the proposal. Chosen: tails heavier than the posterior's.
const FREEDOM: f64 = 6.0;
/// Sequential draws behind the chance of the bounds.
const BOX_DRAWS: u32 = 48;

/// Fits the parameters by penalised marginal likelihood and draws from their
/// posterior.
///
/// # Method
/// Trend coefficients are integrated out (REML where flat; Harville 1974). The
/// mode is found in logarithms of the parameters; draws come from a Student
/// proposal at the mode with the posterior's curvature, importance-weighted, once
/// refitted to the weighted moments (Geweke 1989, Econometrica 57; Cappé et al.
/// 2004), and thinned by systematic resampling along the range. Bounds enter by
/// the chance of their box given the data (Genz 1992).
///
/// # Validity
/// From 0 readings (the draws are then the prior's) to `readings_most` and beyond.
/// # Errors
/// Names the parameter or prior outside its domain, or why the data cannot be solved.
pub fn fit(spec: &FitSpec, data: &[Datum], bounds: &[Bound], seed: Seed) -> Result<Fit, FitError> {
    check(spec)?;
    let data = thinned(data, spec.readings_most, |d| d.reading.at);
    let bounds = thinned(bounds, (spec.readings_most / 4).max(1), |b| b.reading.at);
    let space = Space::of(spec);
    let start = space.middle(spec);
    // A fault that no choice of parameters mends is reported, not searched over.
    system_of(&space.model(spec, &start), &data)?;
    let density = |x: &[f64]| log_posterior(spec, &space, x, &data, &bounds);
    let best_start = starts(&space, &start)
        .into_par_iter()
        .map(|x| (density(&x), x))
        .collect::<Vec<_>>()
        .into_iter()
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map_or(start, |(_, x)| x);
    let (mode, log_posterior) = climb(&density, &best_start);
    let count = if data.len() + bounds.len() > MANY {
        PROPOSALS_MANY
    } else {
        PROPOSALS
    };
    let d = mode.len();
    let model_at = |x: &[f64]| space.model(spec, x);
    if d == 0 || spec.draws <= 1 {
        let model = model_at(&mode);
        return Ok(Fit {
            draws: vec![WeightedModel {
                weight: 1.0,
                model: model.clone(),
            }],
            mode: model,
            log_posterior,
            effective_sample: 1.0,
        });
    }
    let covariance = inverse_of_curvature(&curvature(&density, &mode), d);
    let first = proposal(&density, &mode, &covariance, count, seed.child("round", 1));
    let (mean, spread) = moments(&first, d);
    let second = proposal(&density, &mean, &spread, count, seed.child("round", 2));
    let kept = if second.effective() > first.effective() {
        second
    } else {
        first
    };
    let draws = thin(&kept, spec.draws, seed)
        .into_iter()
        .map(|(weight, x)| WeightedModel {
            weight,
            model: model_at(&x),
        })
        .collect();
    Ok(Fit {
        mode: model_at(&mode),
        draws,
        log_posterior,
        effective_sample: kept.effective(),
    })
}

fn check(spec: &FitSpec) -> Result<(), FitError> {
    if spec.priors.len() != spec.template.fields.len() {
        return Err(FitError::Count {
            priors: spec.priors.len(),
            fields: spec.template.fields.len(),
        });
    }
    for (field, priors) in spec.priors.iter().enumerate() {
        for prior in [priors.range, priors.sd, priors.nugget_sd] {
            if let Some((what, value, limit)) = prior.fault() {
                return Err(FitError::Prior {
                    field,
                    what,
                    value,
                    limit,
                });
            }
        }
        if !(priors.anisotropy_log_sd >= 0.0 && priors.anisotropy_log_sd.is_finite()) {
            return Err(FitError::Prior {
                field,
                what: "log anisotropy sd",
                value: priors.anisotropy_log_sd,
                limit: "0 or more",
            });
        }
    }
    if let CorrelationPrior::Fisher { sd, .. } = spec.correlation
        && !(sd > 0.0 && sd.is_finite())
    {
        return Err(FitError::Prior {
            field: 0,
            what: "sd of the correlation",
            value: sd,
            limit: "above 0",
        });
    }
    let space = Space::of(spec);
    space.model(spec, &space.middle(spec)).check()?;
    Ok(())
}

/// At most `most` of the readings, those of one place kept together.
///
/// # Method
/// Places are taken in the order of the golden-ratio sequence (Weyl 1916): evenly
/// from the list, and in step with no pattern of it.
fn thinned<T: Copy>(list: &[T], most: usize, at: impl Fn(&T) -> [f64; 2]) -> Vec<T> {
    if list.len() <= most {
        return list.to_vec();
    }
    const GOLDEN: f64 = 0.618_033_988_749_894_9;
    let mut places: Vec<&[T]> = list.chunk_by(|a, b| at(a) == at(b)).collect();
    let turn = |k: usize| ((k + 1) as f64 * GOLDEN).fract();
    let mut order: Vec<usize> = (0..places.len()).collect();
    order.sort_by(|&a, &b| turn(a).total_cmp(&turn(b)));
    let mut left = most;
    for &k in &order {
        if places[k].len() <= left {
            left -= places[k].len();
        } else {
            places[k] = &[];
        }
    }
    places.concat()
}

/// One coordinate of the search.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Axis {
    Range(usize),
    Sd(usize),
    Nugget(usize),
    /// The two components of the log anisotropy.
    Stretch(usize, usize),
    Correlation,
}

struct Space {
    axes: Vec<Axis>,
}

impl Space {
    fn of(spec: &FitSpec) -> Self {
        let mut axes = Vec::new();
        for (k, priors) in spec.priors.iter().enumerate() {
            if !priors.range.is_fixed() {
                axes.push(Axis::Range(k));
            }
            if !priors.sd.is_fixed() {
                axes.push(Axis::Sd(k));
            }
            if !priors.nugget_sd.is_fixed() {
                axes.push(Axis::Nugget(k));
            }
            if priors.anisotropy_log_sd > 0.0 {
                axes.extend([Axis::Stretch(k, 0), Axis::Stretch(k, 1)]);
            }
        }
        let two = spec.template.fields.len() == 2;
        if two && matches!(spec.correlation, CorrelationPrior::Fisher { .. }) {
            axes.push(Axis::Correlation);
        }
        Self { axes }
    }

    fn prior(spec: &FitSpec, axis: Axis) -> Option<ParameterPrior> {
        match axis {
            Axis::Range(k) => Some(spec.priors[k].range),
            Axis::Sd(k) => Some(spec.priors[k].sd),
            Axis::Nugget(k) => Some(spec.priors[k].nugget_sd),
            Axis::Stretch(..) | Axis::Correlation => None,
        }
    }

    fn middle(&self, spec: &FitSpec) -> Vec<f64> {
        self.axes
            .iter()
            .map(|&axis| match (Self::prior(spec, axis), spec.correlation) {
                (Some(prior), _) => prior.middle().ln(),
                (None, CorrelationPrior::Fisher { mean, .. }) if axis == Axis::Correlation => mean,
                _ => 0.0,
            })
            .collect()
    }

    fn model(&self, spec: &FitSpec, x: &[f64]) -> FieldSet {
        let mut model = spec.template.clone();
        for (field, priors) in model.fields.iter_mut().zip(&spec.priors) {
            let covariance = &mut field.covariance;
            if let ParameterPrior::Fixed(range) = priors.range {
                covariance.range = range;
            }
            if let ParameterPrior::Fixed(sd) = priors.sd {
                covariance.sill = sd * sd;
            }
            if let ParameterPrior::Fixed(sd) = priors.nugget_sd {
                covariance.nugget = sd * sd;
            }
        }
        if let CorrelationPrior::Fixed(rho) = spec.correlation
            && model.fields.len() == 2
        {
            model.correlation = rho;
        }
        let mut stretch = vec![[0.0; 2]; model.fields.len()];
        for (&axis, &value) in self.axes.iter().zip(x) {
            match axis {
                Axis::Range(k) => model.fields[k].covariance.range = value.exp(),
                Axis::Sd(k) => model.fields[k].covariance.sill = (2.0 * value).exp(),
                Axis::Nugget(k) => model.fields[k].covariance.nugget = (2.0 * value).exp(),
                Axis::Stretch(k, part) => stretch[k][part] = value,
                Axis::Correlation => model.correlation = value.tanh(),
            }
        }
        for ((field, priors), vector) in model.fields.iter_mut().zip(&spec.priors).zip(stretch) {
            if priors.anisotropy_log_sd > 0.0 {
                field.covariance.anisotropy_ratio = (-vector[0].hypot(vector[1])).exp();
                field.covariance.anisotropy_rad = 0.5 * vector[1].atan2(vector[0]);
            }
        }
        model
    }

    fn log_prior(&self, spec: &FitSpec, x: &[f64]) -> f64 {
        self.axes
            .iter()
            .zip(x)
            .map(|(&axis, &value)| match axis {
                Axis::Stretch(k, _) => -0.5 * (value / spec.priors[k].anisotropy_log_sd).powi(2),
                Axis::Correlation => match spec.correlation {
                    CorrelationPrior::Fisher { mean, sd } => -0.5 * ((value - mean) / sd).powi(2),
                    CorrelationPrior::Fixed(_) => 0.0,
                },
                _ => Self::prior(spec, axis)
                    .map_or(0.0, |prior| prior.log_density_of_log(value.exp())),
            })
            .sum()
    }
}

fn log_posterior(
    spec: &FitSpec,
    space: &Space,
    x: &[f64],
    data: &[Datum],
    bounds: &[Bound],
) -> f64 {
    // Beyond e^±30 nothing is learnt and numbers overflow.
    if !x.iter().all(|v| v.abs() < 30.0) {
        return f64::NEG_INFINITY;
    }
    let model = space.model(spec, x);
    let Ok(system) = system_of(&model, data) else {
        return f64::NEG_INFINITY;
    };
    let values: Vec<f64> = data.iter().map(|datum| datum.value).collect();
    let likelihood = system.log_density(&values);
    let total =
        likelihood + box_chance(&model, &system, data, &values, bounds) + space.log_prior(spec, x);
    if total.is_nan() {
        f64::NEG_INFINITY
    } else {
        total
    }
}

/// Log chance of the bounds given the data.
fn box_chance(
    model: &FieldSet,
    system: &crate::system::System,
    data: &[Datum],
    values: &[f64],
    bounds: &[Bound],
) -> f64 {
    if bounds.is_empty() {
        return 0.0;
    }
    let solution = system.solve(values);
    let targets: Vec<(Vec<f64>, Vec<f64>)> = bounds
        .iter()
        .map(|bound| {
            let cross = data
                .iter()
                .map(|datum| model.covariance(&datum.reading, &bound.reading))
                .collect();
            (cross, model.basis(&bound.reading))
        })
        .collect();
    let mean: Vec<f64> = targets
        .iter()
        .map(|(cross, terms)| dot(cross, &solution.alpha) + dot(terms, &solution.beta))
        .collect();
    let mut covariance = Vec::with_capacity(bounds.len() * bounds.len());
    for (i, a) in bounds.iter().enumerate() {
        for (j, b) in bounds.iter().enumerate() {
            let mut prior = model.covariance(&a.reading, &b.reading);
            if i == j {
                prior = prior * (1.0 + 1e-10) + a.sd * a.sd + model.nugget(a.reading.on);
            }
            covariance.push(system.posterior_covariance(
                prior,
                (&targets[i].0, &targets[i].1),
                (&targets[j].0, &targets[j].1),
            ));
        }
    }
    let lower: Vec<f64> = bounds.iter().map(|bound| bound.lower).collect();
    let upper: Vec<f64> = bounds.iter().map(|bound| bound.upper).collect();
    // The same stream for every parameter keeps the density smooth.
    TruncatedNormal::new(&mean, &covariance, &lower, &upper).map_or(f64::NEG_INFINITY, |law| {
        law.log_probability(Seed(0), BOX_DRAWS)
    })
}

/// The middle, and the middle with ranges and standard deviations doubled or halved.
fn starts(space: &Space, middle: &[f64]) -> Vec<Vec<f64>> {
    let shifts = [-1.2, -0.4, 0.4, 1.2];
    let mut list = vec![middle.to_vec()];
    for range in shifts {
        for sd in shifts {
            let start = space
                .axes
                .iter()
                .zip(middle)
                .map(|(axis, value)| match axis {
                    Axis::Range(_) => value + range,
                    Axis::Sd(_) => value + sd,
                    _ => *value,
                })
                .collect();
            list.push(start);
        }
    }
    list
}

/// Inverse of the curvature, made positive definite by adding to its diagonal.
fn inverse_of_curvature(curvature: &[f64], d: usize) -> Vec<f64> {
    let size = (0..d).fold(1e-3_f64, |m, i| m.max(curvature[i * d + i].abs()));
    // 0.1 is an sd of 3 in logarithms: no proposal needs to be wider.
    let mut ridge = 0.1;
    loop {
        let entry = |i: usize, j: usize| curvature[i * d + j] + if i == j { ridge } else { 0.0 };
        if let Ok(factor) = Factor::new(d, entry) {
            let mut inverse = vec![0.0; d * d];
            for (j, row) in inverse.chunks_exact_mut(d).enumerate() {
                row[j] = 1.0;
                factor.solve(row);
            }
            return inverse;
        }
        ridge = (ridge * 4.0).min(1e6 * size);
        if ridge >= 1e6 * size {
            let mut inverse = vec![0.0; d * d];
            for i in 0..d {
                inverse[i * d + i] = 1.0;
            }
            return inverse;
        }
    }
}

/// Weighted points.
struct Weighted {
    points: Vec<Vec<f64>>,
    weights: Vec<f64>,
}

impl Weighted {
    /// (Σw)²/Σw² (Kong 1992).
    fn effective(&self) -> f64 {
        let squares: f64 = self.weights.iter().map(|w| w * w).sum();
        1.0 / squares
    }
}

/// Importance sample from a Student law, spread evenly by a rotated Halton sequence.
fn proposal(
    density: &(impl Fn(&[f64]) -> f64 + Sync),
    centre: &[f64],
    covariance: &[f64],
    count: usize,
    seed: Seed,
) -> Weighted {
    const PRIMES: [u32; 16] = [2, 3, 5, 7, 11, 13, 17, 19, 23, 29, 31, 37, 41, 43, 47, 53];
    let d = centre.len();
    let Ok(factor) = Factor::new(d, |i, j| covariance[i * d + j]) else {
        return Weighted {
            points: vec![centre.to_vec()],
            weights: vec![1.0],
        };
    };
    let mut rng = seed.stream("proposal", 0);
    let rotation: Vec<f64> = (0..=d).map(|_| rng.random()).collect();
    let drawn: Vec<(Vec<f64>, f64)> = (0..count)
        .into_par_iter()
        .map(|k| {
            let uniform = |dim: usize| {
                let prime = PRIMES[dim.min(PRIMES.len() - 1)];
                ((halton(k as u32 + 1, prime) + rotation[dim]).fract()).clamp(1e-9, 1.0 - 1e-9)
            };
            let white: Vec<f64> = (0..d).map(|i| normal_quantile(uniform(i + 1))).collect();
            // The Student mixing variable from one uniform: Wilson & Hilferty 1931.
            let z = normal_quantile(uniform(0));
            let chi = 1.0 - 2.0 / (9.0 * FREEDOM) + z * (2.0 / (9.0 * FREEDOM)).sqrt();
            let stretch = 1.0 / chi.max(0.15).powi(3).sqrt();
            let x: Vec<f64> = (0..d)
                .map(|i| {
                    let shift: f64 = (0..=i).map(|j| factor.lower(i, j) * white[j]).sum();
                    centre[i] + stretch * shift
                })
                .collect();
            let distance: f64 = white.iter().map(|w| w * w).sum::<f64>() * stretch * stretch;
            let log_proposal = -0.5 * (FREEDOM + d as f64) * (distance / FREEDOM).ln_1p();
            let log_weight = density(&x) - log_proposal;
            (x, log_weight)
        })
        .collect();
    let most = drawn
        .iter()
        .map(|(_, w)| *w)
        .fold(f64::NEG_INFINITY, f64::max);
    if !most.is_finite() {
        return Weighted {
            points: vec![centre.to_vec()],
            weights: vec![1.0],
        };
    }
    let (points, mut weights): (Vec<_>, Vec<_>) = drawn
        .into_iter()
        .map(|(x, w)| (x, (w - most).exp()))
        .unzip();
    // No point may carry more than the root of the count allows (Ionides 2008).
    let mean = weights.iter().sum::<f64>() / count as f64;
    let cap = mean * (count as f64).sqrt();
    for weight in &mut weights {
        *weight = weight.min(cap);
    }
    let total: f64 = weights.iter().sum();
    for weight in &mut weights {
        *weight /= total;
    }
    Weighted { points, weights }
}

/// Mean and covariance of weighted points, widened a little.
fn moments(sample: &Weighted, d: usize) -> (Vec<f64>, Vec<f64>) {
    let mut mean = vec![0.0; d];
    for (x, w) in sample.points.iter().zip(&sample.weights) {
        for (m, v) in mean.iter_mut().zip(x) {
            *m += w * v;
        }
    }
    let mut covariance = vec![0.0; d * d];
    for (x, w) in sample.points.iter().zip(&sample.weights) {
        for i in 0..d {
            for j in 0..d {
                covariance[i * d + j] += w * (x[i] - mean[i]) * (x[j] - mean[j]);
            }
        }
    }
    for i in 0..d {
        // Chosen: never narrower than 2 % in a parameter.
        covariance[i * d + i] = covariance[i * d + i] * 1.05 + 4e-4;
    }
    (mean, covariance)
}

/// At most `draws` points with weights, by systematic resampling along the first
/// coordinate (a range where one is inferred): an even picture of the posterior.
fn thin(sample: &Weighted, draws: usize, seed: Seed) -> Vec<(f64, Vec<f64>)> {
    let mut order: Vec<usize> = (0..sample.points.len()).collect();
    order.sort_by(|&a, &b| sample.points[a][0].total_cmp(&sample.points[b][0]));
    let offset: f64 = seed.stream("thinning", 0).random();
    let mut kept: Vec<(f64, Vec<f64>)> = Vec::new();
    let mut last = usize::MAX;
    let mut position = 0;
    let mut reached = sample.weights[order[0]];
    for k in 0..draws {
        let at = (k as f64 + offset) / draws as f64;
        while at > reached && position + 1 < order.len() {
            position += 1;
            reached += sample.weights[order[position]];
        }
        let share = 1.0 / draws as f64;
        match kept.last_mut() {
            Some((weight, _)) if last == position => *weight += share,
            _ => kept.push((share, sample.points[order[position]].clone())),
        }
        last = position;
    }
    kept
}

/// Radical inverse (Halton 1960).
fn halton(mut k: u32, base: u32) -> f64 {
    let (mut share, mut sum) = (1.0, 0.0);
    while k > 0 {
        share /= f64::from(base);
        sum += share * f64::from(k % base);
        k /= base;
    }
    sum
}

fn normal_quantile(u: f64) -> f64 {
    -std::f64::consts::SQRT_2 * erfc_inv(2.0 * u)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fields::Reading;

    /// Two readings a place: a stride over the list would keep tops alone.
    #[test]
    fn thinning_keeps_the_readings_of_a_place_together() {
        let data: Vec<Datum> = (0..320)
            .map(|k| {
                let at = [f64::from(k / 2), 0.0];
                let reading = if k % 2 == 0 {
                    Reading::first(at)
                } else {
                    Reading::difference(at)
                };
                Datum {
                    reading,
                    value: 0.0,
                    sd: 0.1,
                }
            })
            .collect();
        let kept = thinned(&data, 101, |d| d.reading.at);
        assert_eq!(kept.len(), 100);
        for pair in kept.chunks_exact(2) {
            assert_eq!(pair[0].reading.at, pair[1].reading.at);
        }
        // Evenly: every stretch of 16 places gives about its share of 5.
        for from in (0..160).step_by(16) {
            let from = f64::from(from);
            let held = kept
                .iter()
                .filter(|d| (from..from + 16.0).contains(&d.reading.at[0]));
            assert!((4..=16).contains(&held.count()), "{from}");
        }
    }
}
