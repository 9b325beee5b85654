//! The model of a regression, and what makes it sound.

use thiserror::Error;

/// What was believed of a coefficient before.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Belief {
    /// Nothing.
    Nothing,
    /// About `mean`, give or take `sd`.
    About {
        /// The likeliest value.
        mean: f64,
        /// One standard deviation.
        sd: f64,
    },
}

/// A way in which rows fall into groups.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Grouping {
    /// How many groups are known.
    pub groups: usize,
    /// How far groups are believed to differ: scale of a half-normal law for the
    /// standard deviation between groups (Gelman 2006, Bayesian Analysis 1), in
    /// the unit of y.
    pub spread: f64,
}

/// What was believed of the noise of one row.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Noise {
    /// Its scale, in the unit of y. Beliefs are measured against it.
    pub sd: f64,
    /// How many rows that belief is worth; 0 for none.
    pub worth: f64,
}

/// How often a row is far off.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Tails {
    /// Normal: every row counts in full.
    Normal,
    /// Student's t with that many degrees of freedom: far rows count less.
    Student(f64),
}

/// The model.
#[derive(Clone, Debug, PartialEq)]
pub struct Spec {
    /// What was believed of each fixed coefficient.
    pub fixed: Vec<Belief>,
    /// The groupings; their effects are pooled.
    pub groupings: Vec<Grouping>,
    /// The noise.
    pub noise: Noise,
    /// Its tails.
    pub tails: Tails,
    /// How many rows it takes until each counts half ([`cautious`]); 0 where they count in
    /// full from the first.
    pub caution: f64,
}

/// One outcome.
#[derive(Clone, Debug, PartialEq)]
pub struct Row {
    /// Its covariates, one for each fixed coefficient.
    pub fixed: Vec<f64>,
    /// Its group in each grouping; `None` where it is not known or is new.
    pub groups: Vec<Option<usize>>,
    /// What came out.
    pub y: f64,
}

/// What share of a full outcome each of `n` counts, where it takes `caution` outcomes
/// until each counts half: n / (n + caution).
///
/// One outcome cannot show what it shares with no other, a friend's price or a slip of
/// the pen; several that agree can. As a power of the likelihood: Bissiri, Holmes &
/// Walker 2016, JRSS B 78:1103; the power itself is chosen.
#[must_use]
pub fn cautious(n: usize, caution: f64) -> f64 {
    let n = n.max(1) as f64;
    n / (n + caution)
}

/// Why nothing could be fitted.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum FitError {
    /// A number of the model is outside its range.
    #[error("{what} is {value}; it must be {limit}")]
    Range {
        /// Which.
        what: &'static str,
        /// What it was.
        value: f64,
        /// What is allowed.
        limit: &'static str,
    },
    /// A row does not fit the model.
    #[error("row {row}: {what}")]
    Row {
        /// Which, from 0.
        row: usize,
        /// What is wrong.
        what: &'static str,
    },
    /// Nothing tells a coefficient apart.
    #[error(
        "coefficient {column} cannot be told from those before it, and nothing was believed of it"
    )]
    Dependent {
        /// Which, from 0.
        column: usize,
    },
    /// Too little is known.
    #[error("{rows} rows are too few: nothing is left to tell the noise from")]
    TooFew {
        /// How many there were.
        rows: usize,
    },
}

impl Spec {
    pub(crate) fn check(&self, rows: &[Row]) -> Result<(), FitError> {
        let range = |what, value: f64, holds, limit| {
            if holds {
                Ok(())
            } else {
                Err(FitError::Range { what, value, limit })
            }
        };
        let above_0 = |x: f64| x.is_finite() && x > 0.0;
        let Noise { sd, worth } = self.noise;
        range("the noise", sd, above_0(sd), "finite and above 0")?;
        range(
            "the worth of the noise",
            worth,
            worth.is_finite() && worth >= 0.0,
            "finite and not below 0",
        )?;
        range(
            "the caution",
            self.caution,
            self.caution.is_finite() && self.caution >= 0.0,
            "finite and not below 0",
        )?;
        if let Tails::Student(freedom) = self.tails {
            range(
                "the degrees of freedom",
                freedom,
                freedom.is_finite() && freedom > 2.0,
                "finite and above 2",
            )?;
        }
        for belief in &self.fixed {
            if let Belief::About { mean, sd } = *belief {
                range("a belief", mean, mean.is_finite(), "finite")?;
                range("a belief's spread", sd, above_0(sd), "finite and above 0")?;
            }
        }
        for grouping in &self.groupings {
            range(
                "a grouping's spread",
                grouping.spread,
                above_0(grouping.spread),
                "finite and above 0",
            )?;
        }
        for (k, row) in rows.iter().enumerate() {
            let what = if row.fixed.len() != self.fixed.len() {
                "it must have one covariate for each coefficient"
            } else if row.groups.len() != self.groupings.len() {
                "it must name its group in each grouping"
            } else if !row.y.is_finite() || row.fixed.iter().any(|x| !x.is_finite()) {
                "its numbers must be finite"
            } else if row
                .groups
                .iter()
                .zip(&self.groupings)
                .any(|(group, grouping)| group.is_some_and(|k| k >= grouping.groups))
            {
                "its group is not among those of the grouping"
            } else {
                continue;
            };
            return Err(FitError::Row { row: k, what });
        }
        Ok(())
    }

    pub(crate) fn width(&self) -> usize {
        self.fixed.len() + self.groupings.iter().map(|g| g.groups).sum::<usize>()
    }

    /// A row over all columns: covariates, then a 1 for each of its groups.
    pub(crate) fn columns(&self, row: &Row) -> Vec<f64> {
        let mut x = row.fixed.clone();
        x.resize(self.width(), 0.0);
        let mut first = self.fixed.len();
        for (group, grouping) in row.groups.iter().zip(&self.groupings) {
            if let Some(k) = group {
                x[first + k] = 1.0;
            }
            first += grouping.groups;
        }
        x
    }

    /// What share of a normal row's information a row carries.
    pub(crate) fn information(&self, rows: usize) -> f64 {
        let tails = match self.tails {
            Tails::Normal => 1.0,
            Tails::Student(freedom) => (freedom + 1.0) / (freedom + 3.0),
        };
        tails * cautious(rows, self.caution)
    }
}
