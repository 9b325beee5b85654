//! Bidding against others: how far to stay below the most one would pay.

use statrs::distribution::{Continuous as _, ContinuousCDF as _, Normal};
use thiserror::Error;

/// A tender or an auction that is over.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PastTender {
    /// The most that the cutter would have paid for it then.
    pub most: f64,
    /// What the cutter bid.
    pub bid: f64,
    /// How it ended.
    pub ended: TenderEnd,
}

/// How a tender ended.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum TenderEnd {
    /// The cutter got it: the best of the others bid less.
    Won,
    /// Somebody else got it, at a price that was told.
    LostTo(f64),
    /// Somebody else got it: the best of the others bid more.
    Lost,
}

/// Why tenders were refused.
#[derive(Clone, Debug, Error, PartialEq)]
#[error("tender {tender}: {what} is {value}; it must be {limit}")]
pub struct TenderError {
    /// Which, from 0.
    pub tender: usize,
    /// Which number.
    pub what: &'static str,
    /// What it was.
    pub value: f64,
    /// What is allowed.
    pub limit: &'static str,
}

/// What is believed of the best bid of the others, as a share of the most that
/// the cutter would pay.
#[derive(Clone, Debug, PartialEq)]
pub struct Rivals {
    /// Mean, standard deviation of the logarithm, and how likely the pair is.
    nodes: Vec<[f64; 3]>,
    tenders: usize,
}

/// A bid against others.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Shaded {
    /// The bid, in the unit of the most.
    pub bid: f64,
    /// The chance to get it.
    pub chance: f64,
    /// Nine in ten of what that chance may be: few tenders leave it open.
    pub chance_between: (f64, f64),
    /// What is expected to be gained over the most, chance included.
    pub gain: f64,
}

/// What is believed before any tender, of the logarithm: the best of the others
/// bids near two thirds of what the cutter would pay, give or take a quarter, and
/// tenders scatter about that by 0.3, which may be 0.2 or 0.45 as well. Common
/// practice, no source.
const CENTRE: (f64, f64) = (-0.4, 0.25);
const SCATTER: (f64, f64) = (0.3, 0.4);
const N_SIDE: usize = 60;
/// Steps in which the best share is looked for.
const N_SHARES: usize = 400;

impl Rivals {
    /// Learns from past tenders.
    ///
    /// # Method
    /// ln(best other bid / own most) ~ N(m, s²); a win says 'below my bid', a loss
    /// 'above it' or names it. m and s on a grid, m normal and s log-normal
    /// before. The same road as for censored data in Gelman et al. (2013),
    /// *Bayesian Data Analysis*, §8.7.
    ///
    /// # Errors
    /// A number that is not above 0; a loss to a lower bid.
    pub fn learn(tenders: &[PastTender]) -> Result<Self, TenderError> {
        for (tender, past) in tenders.iter().enumerate() {
            let told = match past.ended {
                TenderEnd::LostTo(price) => price,
                TenderEnd::Won | TenderEnd::Lost => past.bid,
            };
            for (what, value) in [("the most", past.most), ("the bid", past.bid)] {
                if !(value.is_finite() && value > 0.0) {
                    let limit = "finite and above 0";
                    return Err(TenderError {
                        tender,
                        what,
                        value,
                        limit,
                    });
                }
            }
            if !(told.is_finite() && told >= past.bid) {
                return Err(TenderError {
                    tender,
                    what: "the price it went for",
                    value: told,
                    limit: "not below the bid that lost",
                });
            }
        }
        let normal = Normal::standard();
        let mut nodes = Vec::with_capacity(N_SIDE * N_SIDE);
        for k in 0..N_SIDE * N_SIDE {
            let at = |j: usize| (j as f64 + 0.5) / N_SIDE as f64;
            let m = CENTRE.0 + CENTRE.1 * normal.inverse_cdf(at(k % N_SIDE));
            let s = SCATTER.0 * (SCATTER.1 * normal.inverse_cdf(at(k / N_SIDE))).exp();
            let log: f64 = tenders
                .iter()
                .map(|past| {
                    let z = |amount: f64| ((amount / past.most).ln() - m) / s;
                    match past.ended {
                        TenderEnd::Won => normal.cdf(z(past.bid)).max(f64::MIN_POSITIVE).ln(),
                        TenderEnd::Lost => normal.sf(z(past.bid)).max(f64::MIN_POSITIVE).ln(),
                        TenderEnd::LostTo(price) => normal.ln_pdf(z(price)) - s.ln(),
                    }
                })
                .sum();
            nodes.push([m, s, log]);
        }
        let most = nodes.iter().map(|n| n[2]).fold(f64::NEG_INFINITY, f64::max);
        let total: f64 = nodes.iter().map(|n| (n[2] - most).exp()).sum();
        for node in &mut nodes {
            node[2] = (node[2] - most).exp() / total;
        }
        Ok(Self {
            nodes,
            tenders: tenders.len(),
        })
    }

    /// How many tenders it rests on.
    #[must_use]
    pub fn tenders(&self) -> usize {
        self.tenders
    }

    /// The chance to get it at that share of the most, and nine in ten of what
    /// that chance may be.
    #[must_use]
    pub fn chance(&self, share: f64) -> (f64, (f64, f64)) {
        let normal = Normal::standard();
        let mut chances: Vec<(f64, f64)> = self
            .nodes
            .iter()
            .map(|&[m, s, weight]| (normal.cdf((share.max(1e-9).ln() - m) / s), weight))
            .collect();
        let mean = chances.iter().map(|(chance, weight)| chance * weight).sum();
        chances.sort_by(|a, b| a.0.total_cmp(&b.0));
        let at = |level: f64| {
            let mut below = 0.0;
            chances
                .iter()
                .find(|(_, weight)| {
                    below += weight;
                    below >= level
                })
                .map_or(1.0, |(chance, _)| *chance)
        };
        (mean, (at(0.05), at(0.95)))
    }

    /// The bid at which chance times what is left below the most is largest.
    ///
    /// Never above `most`: that already keeps every limit, and winning above it
    /// is what the winner's curse is made of.
    #[must_use]
    pub fn shade(&self, most: f64) -> Shaded {
        let share = best_share(|share| self.chance(share).0);
        let (chance, chance_between) = self.chance(share);
        Shaded {
            bid: share * most,
            chance,
            chance_between,
            gain: chance * (1.0 - share) * most,
        }
    }
}

/// The share of one's value that earns most at a chance of winning.
fn best_share(chance: impl Fn(f64) -> f64) -> f64 {
    (1..N_SHARES)
        .map(|k| k as f64 / N_SHARES as f64)
        .max_by(|a, b| ((1.0 - a) * chance(*a)).total_cmp(&((1.0 - b) * chance(*b))))
        .unwrap_or(1.0)
}

/// By how many standard deviations of an estimate the highest of `bidders`
/// estimates lies above the truth on average: what winning a tender says of
/// one's own estimate (the winner's curse).
///
/// # Method
/// Mean of the largest of n standard normals, n ∫ z φ(z) Φ(z)^(n−1) dz by
/// Simpson's rule.
#[must_use]
pub fn winners_excess(bidders: u32) -> f64 {
    if bidders < 2 {
        return 0.0;
    }
    let normal = Normal::standard();
    let n = f64::from(bidders);
    let (steps, reach) = (4000, 9.0);
    let h = 2.0 * reach / f64::from(steps);
    let sum: f64 = (0..=steps)
        .map(|k| {
            let z = -reach + h * f64::from(k);
            let weight = match k {
                0 => 1.0,
                k if k == steps => 1.0,
                k if k % 2 == 1 => 4.0,
                _ => 2.0,
            };
            weight * z * normal.pdf(z) * normal.cdf(z).powf(n - 1.0)
        })
        .sum();
    n * sum * h / 3.0
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Means of the largest of 2, 3, 4, 5 and 10 standard normals (order
    /// statistics; Harter 1961, Biometrika 48, table 1).
    #[test]
    fn the_winner_is_cursed_by_the_tables() {
        for (bidders, excess) in [
            (1, 0.0),
            (2, 0.564_190),
            (3, 0.846_284),
            (4, 1.029_375),
            (5, 1.162_964),
            (10, 1.538_753),
        ] {
            assert!((winners_excess(bidders) - excess).abs() < 1e-5, "{bidders}");
        }
    }

    /// First price, values uniform: bid (n − 1)/n of one's value (Vickrey 1961, J.
    /// Finance 16). Rivals who do that are beaten with chance (n b/(n − 1))^(n−1).
    #[test]
    fn uniform_values_are_shaded_as_known() {
        for n in [2.0_f64, 3.0, 5.0] {
            let share = best_share(|b| (n * b / (n - 1.0)).min(1.0).powf(n - 1.0));
            assert!(
                (share - (n - 1.0) / n).abs() <= 1.0 / N_SHARES as f64,
                "{n}: {share}"
            );
        }
    }

    fn past(bid: f64, ended: TenderEnd) -> PastTender {
        PastTender {
            most: 100.0,
            bid,
            ended,
        }
    }

    /// Losing at a bid says that more is needed, winning that less would do; one
    /// tender moves little, twenty a good deal, and the open range narrows.
    #[test]
    fn few_tenders_teach_little() {
        let shade = |tenders: &[PastTender]| Rivals::learn(tenders).expect("good").shade(100.0);
        let before = shade(&[]);
        let one = shade(&[past(70.0, TenderEnd::Lost)]);
        let twenty = shade(&[past(70.0, TenderEnd::Lost); 20]);
        assert!(
            one.bid >= before.bid && one.bid < before.bid + 8.0,
            "{before:?} {one:?}"
        );
        assert!(twenty.bid > one.bid + 3.0, "{one:?} {twenty:?}");
        let won = shade(&[past(70.0, TenderEnd::Won); 20]);
        assert!(
            won.bid < before.bid && won.chance > before.chance,
            "{won:?}"
        );
        let width = |s: Shaded| s.chance_between.1 - s.chance_between.0;
        let told: Vec<PastTender> = (0..30)
            .map(|k| past(50.0, TenderEnd::LostTo(60.0 + f64::from(k))))
            .collect();
        assert!(width(shade(&told)) < 0.6 * width(before));
        assert!(before.bid < 100.0 && before.chance > 0.0);
    }

    #[test]
    fn refuses_what_cannot_be() {
        assert!(Rivals::learn(&[past(0.0, TenderEnd::Won)]).is_err());
        assert!(Rivals::learn(&[past(70.0, TenderEnd::LostTo(60.0))]).is_err());
    }
}
