//! One field, or two that vary together, and what is read off them.

use crate::model::{CovarianceModel, ModelError};
use crate::trend::{CoefficientPrior, Trend};

/// One field: trend plus Gaussian process.
#[derive(Clone, Debug, PartialEq)]
pub struct FieldModel {
    /// The random part.
    pub covariance: CovarianceModel,
    /// The trend.
    pub trend: Trend,
    /// One prior for each of the trend's terms, in their order.
    pub coefficients: Vec<CoefficientPrior>,
}

impl FieldModel {
    /// A field with a trend of which nothing is known.
    #[must_use]
    pub fn flat(covariance: CovarianceModel, trend: Trend) -> Self {
        Self {
            covariance,
            trend,
            coefficients: vec![CoefficientPrior::Flat; trend.terms()],
        }
    }
}

/// One field, or two with a linear coregionalisation.
///
/// # Method
/// F₁ = σ₁U₁ and F₂ = σ₂(ρU₁ + √(1−ρ²)U₂) with independent U₁, U₂ of unit
/// variance and the correlation functions of the two models (Journel &
/// Huijbregts 1978, §III.B.3; Wackernagel 2003, *Multivariate Geostatistics*,
/// ch. 26). So F₂ varies over both ranges when ρ is not 0.
#[derive(Clone, Debug, PartialEq)]
pub struct FieldSet {
    /// One or two fields.
    pub fields: Vec<FieldModel>,
    /// Correlation ρ of the two at one place; 0 where there is one.
    pub correlation: f64,
}

impl FieldSet {
    /// One field.
    #[must_use]
    pub fn one(field: FieldModel) -> Self {
        Self {
            fields: vec![field],
            correlation: 0.0,
        }
    }

    /// Two fields with a correlation at one place.
    #[must_use]
    pub fn pair(first: FieldModel, second: FieldModel, correlation: f64) -> Self {
        Self {
            fields: vec![first, second],
            correlation,
        }
    }

    /// Refuses parameters outside their domain.
    ///
    /// # Errors
    /// Names the parameter, its value and the limit.
    pub fn check(&self) -> Result<(), ModelError> {
        if !matches!(self.fields.len(), 1 | 2) {
            return Err(ModelError::Parameter {
                name: "number of fields",
                value: self.fields.len() as f64,
                limit: "1 or 2",
            });
        }
        if !(-1.0..=1.0).contains(&self.correlation) {
            return Err(ModelError::Parameter {
                name: "correlation of the two fields",
                value: self.correlation,
                limit: "from -1 to 1",
            });
        }
        for field in &self.fields {
            field.covariance.check()?;
            if field.coefficients.len() != field.trend.terms() {
                return Err(ModelError::Parameter {
                    name: "number of trend coefficients",
                    value: field.coefficients.len() as f64,
                    limit: "the number of the trend's terms",
                });
            }
            for prior in &field.coefficients {
                if let CoefficientPrior::Normal { sd, .. } = *prior
                    && !(sd > 0.0 && sd.is_finite())
                {
                    return Err(ModelError::Parameter {
                        name: "sd of a trend coefficient",
                        value: sd,
                        limit: "above 0",
                    });
                }
            }
        }
        Ok(())
    }

    /// Weight of each independent component U in a reading.
    pub(crate) fn loads(&self, on: [f64; 2]) -> [f64; 2] {
        let sd = |k: usize| {
            self.fields
                .get(k)
                .map_or(0.0, |field| field.covariance.sill.sqrt())
        };
        if self.fields.len() < 2 {
            return [on[0] * sd(0), 0.0];
        }
        let rho = self.correlation;
        [
            on[0] * sd(0) + on[1] * sd(1) * rho,
            on[1] * sd(1) * (1.0 - rho * rho).max(0.0).sqrt(),
        ]
    }

    /// Covariance of two readings, without nugget, error and trend.
    #[must_use]
    pub fn covariance(&self, a: &Reading, b: &Reading) -> f64 {
        let (left, right) = (self.loads(a.on), self.loads(b.on));
        let [first, second] = self.correlations(a.at, b.at);
        left[0] * right[0] * first + left[1] * right[1] * second
    }

    /// Correlation of each independent component between two places; 0 for one that is
    /// not there.
    pub(crate) fn correlations(&self, a: [f64; 2], b: [f64; 2]) -> [f64; 2] {
        let lag = [b[0] - a[0], b[1] - a[1]];
        [0, 1].map(|k| {
            self.fields.get(k).map_or(0.0, |field| {
                let model = &field.covariance;
                model.correlation_at_lag(lag) * model.break_factor(a, b)
            })
        })
    }

    /// Variance that the nuggets add to one reading.
    #[must_use]
    pub fn nugget(&self, on: [f64; 2]) -> f64 {
        self.fields
            .iter()
            .zip(on)
            .map(|(field, weight)| weight * weight * field.covariance.nugget)
            .sum()
    }

    /// Basis functions of all trends, as they enter a reading.
    #[must_use]
    pub fn basis(&self, reading: &Reading) -> Vec<f64> {
        self.fields
            .iter()
            .zip(reading.on)
            .flat_map(|(field, weight)| {
                let terms = field.trend.basis(reading.at);
                terms.into_iter().map(move |term| weight * term)
            })
            .collect()
    }

    /// Priors of all trend coefficients, in the order of [`FieldSet::basis`].
    #[must_use]
    pub fn coefficients(&self) -> Vec<CoefficientPrior> {
        self.fields
            .iter()
            .flat_map(|field| field.coefficients.iter().copied())
            .collect()
    }
}

/// What is read at one place: `on[0]` times the first field plus `on[1]` times
/// the second.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Reading {
    /// Where.
    pub at: [f64; 2],
    /// Weights of the fields; `[1, -1]` reads the first less the second.
    pub on: [f64; 2],
}

impl Reading {
    /// Of the first field.
    #[must_use]
    pub const fn first(at: [f64; 2]) -> Self {
        Self { at, on: [1.0, 0.0] }
    }

    /// Of the second field.
    #[must_use]
    pub const fn second(at: [f64; 2]) -> Self {
        Self { at, on: [0.0, 1.0] }
    }

    /// Of the first less the second.
    #[must_use]
    pub const fn difference(at: [f64; 2]) -> Self {
        Self {
            at,
            on: [1.0, -1.0],
        }
    }
}

/// A reading with its value and error.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Datum {
    /// What was read.
    pub reading: Reading,
    /// The value.
    pub value: f64,
    /// Standard deviation of its error, 0 for none.
    pub sd: f64,
}

/// A reading known only to lie between two limits.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bound {
    /// What was read.
    pub reading: Reading,
    /// At least this; −∞ for no lower limit.
    pub lower: f64,
    /// At most this; +∞ for no upper limit.
    pub upper: f64,
    /// Standard deviation of the reading's error: the limits hold for the
    /// reading, error included.
    pub sd: f64,
}

impl Bound {
    /// At least `lower`.
    #[must_use]
    pub const fn at_least(reading: Reading, lower: f64, sd: f64) -> Self {
        Self {
            reading,
            lower,
            upper: f64::INFINITY,
            sd,
        }
    }

    /// At most `upper`.
    #[must_use]
    pub const fn at_most(reading: Reading, upper: f64, sd: f64) -> Self {
        Self {
            reading,
            lower: f64::NEG_INFINITY,
            upper,
            sd,
        }
    }
}

/// A possible model with its weight: one of the parameter draws.
#[derive(Clone, Debug, PartialEq)]
pub struct WeightedModel {
    /// Weight; only the proportions count.
    pub weight: f64,
    /// The model.
    pub model: FieldSet,
}
