//! Kriging at places, without a lattice: estimates, weights, variances,
//! leave-one-out errors, likelihood.

use crate::between::{Between, Places};
use crate::factor::dot;
use crate::fields::{Datum, FieldSet, Reading};
use crate::model::ModelError;
use crate::system::{Solution, System, SystemError};
use thiserror::Error;

/// Why kriging was refused.
#[derive(Clone, Copy, Debug, Error, PartialEq)]
pub enum KrigingError {
    /// A model's parameter is outside its domain.
    #[error(transparent)]
    Model(#[from] ModelError),
    /// The data cannot be solved.
    #[error(transparent)]
    System(#[from] SystemError),
    /// A datum that is not a number, or an error below 0.
    #[error("datum {index}: place, value and error must be finite, the error 0 or more")]
    Datum {
        /// Which, counted from 0.
        index: usize,
    },
}

/// An estimate with its kriging variance, in the field's unit and unit squared.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Estimate {
    /// Estimate.
    pub mean: f64,
    /// Variance of the field about it. Nugget and error of a further reading are
    /// not in it.
    pub variance: f64,
}

/// A datum predicted from all the others.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LeftOut {
    /// Value less prediction.
    pub residual: f64,
    /// Standard deviation of the residual: prediction, nugget and error together.
    pub sd: f64,
}

impl LeftOut {
    /// Residual in standard deviations: far beyond 2 or 3 speaks of a misread datum.
    #[must_use]
    pub fn surprise(&self) -> f64 {
        self.residual / self.sd
    }
}

/// Kriging from a set of data under one model.
///
/// The trend decides the kind: known coefficients (or none) give simple kriging,
/// a flat constant ordinary kriging, flat planes or quadratics universal kriging;
/// normal priors lie between.
///
/// # Method
/// Matheron 1963, Economic Geology 58; Isaaks & Srivastava 1989, ch. 12; Rasmussen
/// & Williams 2006, eq. 2.25–2.26 and 2.41–2.43. One Cholesky factor serves all
/// places; a place costs n for the mean and n² for the variance.
/// # Validity
/// Nugget and error stand on the data's diagonal only, so the estimate filters
/// them: at a datum it returns the datum only when both are 0.
#[derive(Clone, Debug)]
pub struct Kriging {
    model: FieldSet,
    data: Vec<Datum>,
    system: System,
    solution: Solution,
}

impl Kriging {
    /// Solves the data's system.
    ///
    /// # Errors
    /// Names the model's parameter or the datum that cannot be used.
    pub fn new(model: &FieldSet, data: &[Datum]) -> Result<Self, KrigingError> {
        model.check()?;
        for (index, datum) in data.iter().enumerate() {
            let finite = datum.value.is_finite() && datum.reading.at.iter().all(|x| x.is_finite());
            if !(finite && datum.sd >= 0.0 && datum.sd.is_finite()) {
                return Err(KrigingError::Datum { index });
            }
        }
        let system = system_of(model, data)?;
        let values: Vec<f64> = data.iter().map(|datum| datum.value).collect();
        let solution = system.solve(&values);
        Ok(Self {
            model: model.clone(),
            data: data.to_vec(),
            system,
            solution,
        })
    }

    /// Estimate of a reading, free of error.
    #[must_use]
    pub fn estimate(&self, reading: &Reading) -> Estimate {
        let (cross, terms) = self.terms(reading);
        let mean = dot(&cross, &self.solution.alpha) + dot(&terms, &self.solution.beta);
        let prior = self.model.covariance(reading, reading);
        let target = (cross.as_slice(), terms.as_slice());
        Estimate {
            mean,
            variance: self
                .system
                .posterior_covariance(prior, target, target)
                .max(0.0),
        }
    }

    /// Covariance of the errors of two estimates.
    #[must_use]
    pub fn covariance(&self, a: &Reading, b: &Reading) -> f64 {
        let (cross_a, terms_a) = self.terms(a);
        let (cross_b, terms_b) = self.terms(b);
        self.system.posterior_covariance(
            self.model.covariance(a, b),
            (&cross_a, &terms_a),
            (&cross_b, &terms_b),
        )
    }

    /// Weight of each datum in the estimate of a reading.
    #[must_use]
    pub fn weights(&self, reading: &Reading) -> Vec<f64> {
        let (cross, terms) = self.terms(reading);
        self.system.weights(&cross, &terms)
    }

    /// Lagrange multipliers of the trend's constraints, with the sign of
    /// K·w + F·μ = c (so that ordinary kriging's variance is
    /// C(0) − Σwᵢcᵢ − μ).
    #[must_use]
    pub fn multipliers(&self, reading: &Reading) -> Vec<f64> {
        let (cross, terms) = self.terms(reading);
        self.system.multipliers(&cross, &terms)
    }

    /// Estimated trend coefficients, in the order of [`FieldSet::basis`].
    #[must_use]
    pub fn trend(&self) -> &[f64] {
        &self.solution.beta
    }

    /// Each datum predicted from all the others, in closed form (Dubrule 1983,
    /// Math. Geology 15: 687–699).
    #[must_use]
    pub fn leave_one_out(&self) -> Vec<LeftOut> {
        self.system
            .leave_one_out(&self.values())
            .into_iter()
            .map(|(residual, variance)| LeftOut {
                residual,
                sd: variance.max(0.0).sqrt(),
            })
            .collect()
    }

    /// Log density of the data, trend coefficients integrated out: REML (up to a
    /// constant of the design) where they are flat.
    #[must_use]
    pub fn log_likelihood(&self) -> f64 {
        self.system.log_density(&self.values())
    }

    fn values(&self) -> Vec<f64> {
        self.data.iter().map(|datum| datum.value).collect()
    }

    fn terms(&self, reading: &Reading) -> (Vec<f64>, Vec<f64>) {
        let cross = self
            .data
            .iter()
            .map(|datum| self.model.covariance(&datum.reading, reading))
            .collect();
        (cross, self.model.basis(reading))
    }
}

/// The system of data under a model, errors and nuggets included.
pub(crate) fn system_of(model: &FieldSet, data: &[Datum]) -> Result<System, SystemError> {
    let basis: Vec<Vec<f64>> = data.iter().map(|d| model.basis(&d.reading)).collect();
    let loads: Vec<[f64; 2]> = data.iter().map(|d| model.loads(d.reading.on)).collect();
    let places = Places::of(data.iter().map(|d| d.reading.at));
    let between = Between::new(places.at.len(), |k, l| {
        model.correlations(places.at[k], places.at[l])
    });
    System::new(&basis, &model.coefficients(), |i, j| {
        let shared = between.covariance([places.of[i], places.of[j]], [loads[i], loads[j]]);
        if i == j {
            shared + data[i].sd * data[i].sd + model.nugget(data[i].reading.on)
        } else {
            shared
        }
    })
}
