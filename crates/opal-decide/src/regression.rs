//! Least squares with a small ridge, on standardised features.

use faer::linalg::solvers::Solve;
use faer::{Mat, Side};
use thiserror::Error;

/// Why there is no fit.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum FitError {
    /// The rows do not come out even.
    #[error("{values} values for {rows} rows of {features} features")]
    Shape {
        /// Values to fit.
        values: usize,
        /// Rows of features.
        rows: usize,
        /// Features a row.
        features: usize,
    },
    /// Nothing to fit on.
    #[error("no rows to fit on")]
    Empty,
    /// A number is infinite or not a number.
    #[error("row {0} holds a number that is not finite")]
    NotFinite(usize),
}

/// A fitted linear rule.
#[derive(Clone, Debug, PartialEq)]
pub struct Fit {
    intercept: f64,
    slopes: Vec<f64>,
}

impl Fit {
    /// Fits `values` on rows of `n_features` features, a constant included.
    ///
    /// `ridge` is the penalty on a standardised slope, as a share of the number
    /// of rows: 0 for plain least squares, 1e-3 steadies nearly equal features
    /// and moves nothing else. A feature that never changes gets slope 0.
    ///
    /// # Method
    /// Ridge regression (Hoerl & Kennard 1970, Technometrics 12) by the normal
    /// equations of centred, scaled features, solved by Cholesky.
    /// # Errors
    /// Shapes that do not agree, no rows, or a number that is not finite.
    pub fn new(
        features: &[f64],
        n_features: usize,
        values: &[f64],
        ridge: f64,
    ) -> Result<Self, FitError> {
        let rows = values.len();
        if features.len() != rows * n_features {
            let given = features.len().checked_div(n_features).unwrap_or(0);
            return Err(FitError::Shape {
                values: rows,
                rows: given,
                features: n_features,
            });
        }
        if rows == 0 {
            return Err(FitError::Empty);
        }
        let row = |i: usize| &features[i * n_features..(i + 1) * n_features];
        if let Some(bad) =
            (0..rows).find(|&i| !(values[i].is_finite() && row(i).iter().all(|x| x.is_finite())))
        {
            return Err(FitError::NotFinite(bad));
        }
        let n = rows as f64;
        let mean_value = values.iter().sum::<f64>() / n;
        let mut means = vec![0.0; n_features];
        for i in 0..rows {
            for (mean, x) in means.iter_mut().zip(row(i)) {
                *mean += x / n;
            }
        }
        let mut scales = vec![0.0; n_features];
        for i in 0..rows {
            for k in 0..n_features {
                let d = row(i)[k] - means[k];
                scales[k] += d * d / n;
            }
        }
        let used: Vec<usize> = (0..n_features)
            .filter(|&k| scales[k].sqrt() > 1e-12 * (1.0 + means[k].abs()))
            .collect();
        let mut slopes = vec![0.0; n_features];
        if !used.is_empty() {
            let p = used.len();
            let mut gram = Mat::<f64>::zeros(p, p);
            let mut moment = Mat::<f64>::zeros(p, 1);
            let mut scaled = vec![0.0; p];
            for (i, value) in values.iter().enumerate() {
                for (s, &k) in scaled.iter_mut().zip(&used) {
                    *s = (row(i)[k] - means[k]) / scales[k].sqrt();
                }
                for a in 0..p {
                    moment[(a, 0)] += scaled[a] * (value - mean_value);
                    for b in 0..=a {
                        gram[(a, b)] += scaled[a] * scaled[b];
                    }
                }
            }
            for a in 0..p {
                // The floor keeps two equal features from making the matrix singular.
                gram[(a, a)] += n * ridge.max(1e-10);
                for b in 0..a {
                    gram[(b, a)] = gram[(a, b)];
                }
            }
            if let Ok(cholesky) = gram.llt(Side::Lower) {
                let solution = cholesky.solve(&moment);
                for (a, &k) in used.iter().enumerate() {
                    slopes[k] = solution[(a, 0)] / scales[k].sqrt();
                }
            }
        }
        let intercept = mean_value
            - slopes
                .iter()
                .zip(&means)
                .map(|(slope, mean)| slope * mean)
                .sum::<f64>();
        Ok(Self { intercept, slopes })
    }

    /// What the rule says for one row of features.
    #[must_use]
    pub fn at(&self, features: &[f64]) -> f64 {
        self.slopes
            .iter()
            .zip(features)
            .fold(self.intercept, |sum, (slope, x)| sum + slope * x)
    }

    /// The constant.
    #[must_use]
    pub fn intercept(&self) -> f64 {
        self.intercept
    }

    /// One slope a feature.
    #[must_use]
    pub fn slopes(&self) -> &[f64] {
        &self.slopes
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Stack-loss data (Brownlee 1965, Statistical Theory and Methodology, 2nd
    /// ed., p. 454); the least-squares coefficients −39.9197, 0.7156, 1.2953,
    /// −0.1521 are printed in every text that uses it.
    #[test]
    fn stack_loss() {
        let x = [
            80., 27., 89., 80., 27., 88., 75., 25., 90., 62., 24., 87., 62., 22., 87., 62., 23.,
            87., 62., 24., 93., 62., 24., 93., 58., 23., 87., 58., 18., 80., 58., 18., 89., 58.,
            17., 88., 58., 18., 82., 58., 19., 93., 50., 18., 89., 50., 18., 86., 50., 19., 72.,
            50., 19., 79., 50., 20., 80., 56., 20., 82., 70., 20., 91.,
        ];
        let y = [
            42., 37., 37., 28., 18., 18., 19., 20., 15., 14., 14., 13., 11., 12., 8., 7., 8., 8.,
            9., 15., 15.,
        ];
        let fit = Fit::new(&x, 3, &y, 0.0).expect("fits");
        assert!(
            (fit.intercept() + 39.9197).abs() < 1e-3,
            "{}",
            fit.intercept()
        );
        for (slope, book) in fit.slopes().iter().zip([0.7156, 1.2953, -0.1521]) {
            assert!((slope - book).abs() < 1e-4, "{slope} {book}");
        }
    }

    #[test]
    fn constant_and_equal_features_do_no_harm() {
        let x = [1.0, 2.0, 2.0, 1.0, 3.0, 3.0, 1.0, 5.0, 5.0];
        let fit = Fit::new(&x, 3, &[4.0, 6.0, 10.0], 1e-6).expect("fits");
        assert_eq!(fit.slopes()[0], 0.0);
        assert!((fit.at(&[1.0, 4.0, 4.0]) - 8.0).abs() < 1e-3);
    }

    #[test]
    fn faults_are_named() {
        assert_eq!(Fit::new(&[], 0, &[], 0.0), Err(FitError::Empty));
        assert_eq!(
            Fit::new(&[1.0, f64::NAN], 1, &[1.0, 2.0], 0.0),
            Err(FitError::NotFinite(1))
        );
        assert!(matches!(
            Fit::new(&[1.0], 1, &[1.0, 2.0], 0.0),
            Err(FitError::Shape { .. })
        ));
    }
}
