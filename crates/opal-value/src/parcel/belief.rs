//! What is believed of one piece: does it pay, and what does it bring a carat.

use super::{BetaBinomial, LookedInto};
use opal_units::Rng;
use rand_distr::{Beta, Distribution as _, StandardNormal};

/// What the cutter says is usual for such pieces.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Usual {
    /// Share of pieces that pay to cut, 0 to 1.
    pub pays: f64,
    /// What a piece that pays brings a carat of rough on average, net, major units.
    pub per_carat: f64,
    /// The factor within which two in three of those that pay lie about their middle.
    pub factor: f64,
    /// How many pieces looked into this belief weighs as much as.
    pub counts_as: f64,
}

impl Usual {
    pub(super) fn limits(&self) -> [(&'static str, f64, bool, &'static str); 4] {
        let inside = |x: f64, low: f64, high: f64| low < x && x < high;
        [
            (
                "pays",
                self.pays,
                inside(self.pays, 0.0, 1.0),
                "between 0 and 1, neither of them",
            ),
            (
                "per_carat",
                self.per_carat,
                inside(self.per_carat, 0.0, f64::INFINITY),
                "above 0",
            ),
            (
                "factor",
                self.factor,
                (1.01..=10.0).contains(&self.factor),
                "from 1.01 to 10",
            ),
            (
                "counts_as",
                self.counts_as,
                (0.5..=1000.0).contains(&self.counts_as),
                "from 0.5 to 1000",
            ),
        ]
    }
}

/// Steps of the grid of spreads on each side of the middle one.
const STEPS: i32 = 6;
/// Reach of that grid in standard deviations.
const REACH: f64 = 2.0;
/// How sure the cutter's factor is, as a standard deviation of the logarithm of the
/// spread. Chosen: a spread half or twice as large is rare but known; the grid is
/// bounded, so that the mean worth is finite.
const SPREAD_LOG_SD: f64 = 0.3;

/// What is believed of a piece, after some were looked into.
///
/// # Method
/// The share that pays is Beta. The logarithm of what one brings a carat is normal; its
/// mean is normal given its spread, with the spread on a grid (normal-inverse-gamma in
/// form, Gelman et al. 2013, *Bayesian Data Analysis*, §3.3, but with a bounded spread:
/// the usual form has no mean worth).
#[derive(Clone, Debug, PartialEq)]
pub struct WorthBelief {
    alpha: f64,
    beta: f64,
    /// Centre of the mean of the logarithm, and the paying pieces it weighs as much as.
    centre: f64,
    weight: f64,
    /// Spread of the logarithm and its chance.
    spreads: Vec<(f64, f64)>,
}

impl WorthBelief {
    /// Before any piece was looked into: a paying piece brings `per_carat` on average.
    #[must_use]
    pub fn before(usual: &Usual) -> Self {
        let spreads = (-STEPS..=STEPS)
            .map(|k| {
                let z = REACH * f64::from(k) / f64::from(STEPS);
                (
                    usual.factor.ln() * (SPREAD_LOG_SD * z).exp(),
                    (-0.5 * z * z).exp(),
                )
            })
            .collect();
        let mut belief = Self {
            alpha: usual.pays * usual.counts_as,
            beta: (1.0 - usual.pays) * usual.counts_as,
            centre: 0.0,
            // Of the pieces that the belief is worth, those that pay tell of the worth;
            // at least half a piece, so that the mean is finite and not wild.
            weight: (usual.pays * usual.counts_as).max(0.5),
            spreads,
        };
        belief.normalise();
        belief.centre = usual.per_carat.ln() - belief.per_carat().ln();
        belief
    }

    /// The belief after these pieces too.
    #[must_use]
    pub fn after(&self, pieces: &[LookedInto]) -> Self {
        let rates: Vec<f64> = pieces.iter().filter_map(LookedInto::per_carat).collect();
        let paying = rates.len() as f64;
        self.updated(pieces.len() as f64 - paying, &rates)
    }

    /// The belief after `barren` pieces that do not pay and some that bring `rates` a carat.
    pub(super) fn updated(&self, barren: f64, rates: &[f64]) -> Self {
        let n = rates.len() as f64;
        let mut belief = Self {
            alpha: self.alpha + n,
            beta: self.beta + barren,
            ..self.clone()
        };
        if rates.is_empty() {
            return belief;
        }
        let mean = rates.iter().map(|r| r.ln()).sum::<f64>() / n;
        let squares: f64 = rates.iter().map(|r| (r.ln() - mean).powi(2)).sum();
        let between = self.weight * n / (self.weight + n) * (mean - self.centre).powi(2);
        let most = |s: f64| -n * s.ln() - 0.5 * (squares + between) / (s * s);
        let top = (self.spreads.iter())
            .map(|&(s, _)| most(s))
            .fold(f64::NEG_INFINITY, f64::max);
        for (s, chance) in &mut belief.spreads {
            *chance *= (most(*s) - top).exp();
        }
        belief.normalise();
        belief.centre = (self.weight * self.centre + n * mean) / (self.weight + n);
        belief.weight = self.weight + n;
        belief
    }

    fn normalise(&mut self) {
        let total: f64 = self.spreads.iter().map(|s| s.1).sum();
        for (_, chance) in &mut self.spreads {
            *chance /= total;
        }
    }

    /// How many of some unseen pieces pay.
    #[must_use]
    pub fn paying_of(&self, pieces: usize) -> BetaBinomial {
        BetaBinomial {
            trials: pieces,
            alpha: self.alpha,
            beta: self.beta,
        }
    }

    /// Mean share that pays.
    #[must_use]
    pub fn share_that_pays(&self) -> f64 {
        self.alpha / (self.alpha + self.beta)
    }

    /// What a paying piece brings a carat on average, major units.
    #[must_use]
    pub fn per_carat(&self) -> f64 {
        self.spreads
            .iter()
            .map(|&(s, chance)| {
                chance * (self.centre + 0.5 * s * s * (1.0 + self.weight.recip())).exp()
            })
            .sum()
    }

    /// One possible truth about the pieces: (share that pays, mean and spread of the
    /// logarithm of what one brings a carat).
    pub(super) fn draw(&self, rng: &mut Rng) -> (f64, f64, f64) {
        use rand::RngExt as _;
        let share = Beta::new(self.alpha, self.beta)
            .map_or_else(|_| self.share_that_pays(), |law| law.sample(rng));
        let mut at = rng.random::<f64>();
        let mut spread = self.spreads[0].0;
        for &(s, chance) in &self.spreads {
            spread = s;
            at -= chance;
            if at < 0.0 {
                break;
            }
        }
        let z: f64 = StandardNormal.sample(rng);
        (share, self.centre + spread / self.weight.sqrt() * z, spread)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use opal_units::Mass;

    fn usual() -> Usual {
        Usual {
            pays: 0.3,
            per_carat: 4.0,
            factor: 2.0,
            counts_as: 5.0,
        }
    }

    fn piece(worth: f64) -> LookedInto {
        LookedInto {
            weight: Mass::from_carats(10.0),
            worth,
            sigma: 0.0,
        }
    }

    #[test]
    fn before_looking_it_is_what_the_cutter_said() {
        let belief = WorthBelief::before(&usual());
        assert!((belief.per_carat() - 4.0).abs() < 1e-12);
        assert!((belief.share_that_pays() - 0.3).abs() < 1e-12);
    }

    /// Order and batches do not matter: one after another is all at once.
    #[test]
    fn learning_piece_by_piece_is_learning_at_once() {
        let pieces = [55.0, 0.0, 12.0, 140.0, 0.0].map(piece);
        let at_once = WorthBelief::before(&usual()).after(&pieces);
        let one_by_one = pieces
            .iter()
            .rev()
            .fold(WorthBelief::before(&usual()), |b, p| b.after(&[*p]));
        assert!((at_once.per_carat() - one_by_one.per_carat()).abs() < 1e-9);
        for (a, b) in at_once.spreads.iter().zip(&one_by_one.spreads) {
            assert!((a.1 - b.1).abs() < 1e-9);
        }
    }

    /// With the spread known, the mean's law is the textbook's (Gelman et al. 2013,
    /// eq. 2.11–2.12): precision-weighted centre, and weights add up.
    #[test]
    fn known_spread_is_the_textbook() {
        let mut belief = WorthBelief::before(&usual());
        belief.spreads = vec![(0.5, 1.0)];
        (belief.centre, belief.weight) = (1.0, 2.0);
        let after = belief.updated(0.0, &[1.0_f64.exp(), 4.0_f64.exp(), 2.5_f64.exp()]);
        // Prior N(1, .25/2), three readings of mean 2.5 with variance .25: (2·1 + 3·2.5)/5.
        assert!((after.centre - 1.9).abs() < 1e-12);
        assert!((after.weight - 5.0).abs() < 1e-12);
        // Mean of exp of N(1.9, .25 (1 + 1/5)): exp(1.9 + .15).
        assert!((after.per_carat() - 2.05_f64.exp()).abs() < 1e-9);
    }

    #[test]
    fn a_wider_find_widens_the_spread() {
        let close = WorthBelief::before(&usual()).after(&[40.0, 41.0, 39.0, 40.0].map(piece));
        let apart = WorthBelief::before(&usual()).after(&[4.0, 400.0, 12.0, 130.0].map(piece));
        let mean = |b: &WorthBelief| b.spreads.iter().map(|(s, c)| s * c).sum::<f64>();
        assert!(mean(&apart) > 1.5 * mean(&close));
    }
}
