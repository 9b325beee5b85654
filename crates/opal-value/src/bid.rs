//! The most to pay.

use opal_units::{Currency, Draws, Money, MoneyError, SpreadError};
use thiserror::Error;

/// What the cutter asks of a purchase.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BidLimits {
    /// Wanted margin: expected gain over what is paid in all (price and
    /// buyer's fee), 0.3 for 30 %.
    pub margin: f64,
    /// Largest chance of losing money that is accepted.
    pub chance_of_loss: f64,
    /// Which worst share the shortfall looks at, 0.1 for the worst tenth.
    pub worst_share: f64,
    /// Largest mean loss over that worst share, major units.
    pub worst_mean_loss: Option<f64>,
    /// What the cutter has to work with, major units. `None`: no stake check.
    pub capital: Option<f64>,
    /// Buyer's fee as a share of the price.
    pub fee: f64,
}

impl Default for BidLimits {
    /// A careful start, for the cutter to change.
    ///
    /// Chosen: a margin of 30 % on the purchase, a loss no likelier than one
    /// time in four, the worst tenth looked at but not limited; common practice
    /// gives no agreed figures.
    fn default() -> Self {
        Self {
            margin: 0.3,
            chance_of_loss: 0.25,
            worst_share: 0.1,
            worst_mean_loss: None,
            capital: None,
            fee: 0.0,
        }
    }
}

/// The limit that set the price.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum Binding {
    /// The wanted margin.
    Margin,
    /// The chance of loss.
    ChanceOfLoss,
    /// The mean of the worst cases.
    WorstMean,
    /// The stake against the capital.
    Stake,
    /// Nothing is worth paying.
    NotWorthBuying,
}

/// The most to pay, and what happens at that price.
#[derive(Clone, Debug, PartialEq)]
pub struct Bid {
    /// The price.
    pub price: Money,
    /// The limit that set it.
    pub binding: Binding,
    /// What each limit alone would allow, major units, in the order of
    /// margin, chance of loss, worst mean, stake. `None`: it limits nothing.
    /// Below 0: not even for nothing.
    pub by_limit: [(Binding, Option<f64>); 4],
    /// Chance of losing money at that price.
    pub chance_of_loss: f64,
    /// Mean gain over the worst share at that price, major units.
    pub worst_mean: f64,
    /// Mean gain at that price, major units.
    pub expected_gain: f64,
    /// The standard error of that mean that comes from the number of draws.
    pub expected_gain_error: f64,
    /// Net gain at that price, a draw for each interior.
    pub gain: Draws,
}

/// Why there is no bid.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum BidError {
    /// A limit is outside its range.
    #[error("{field} is {value}; it must be {limit}")]
    Limit {
        /// Which.
        field: &'static str,
        /// What it was.
        value: f64,
        /// What is allowed.
        limit: &'static str,
    },
    /// The price cannot be kept as money.
    #[error(transparent)]
    Money(#[from] MoneyError),
    /// The gains are not finite.
    #[error(transparent)]
    Draws(#[from] SpreadError),
}

/// The highest price at which every limit holds.
///
/// `value` is what the piece brings, net of work and selling costs, one draw
/// for each interior; it does not depend on the price.
///
/// # Method
/// With o = price · (1 + fee), each limit gives its own highest o, and the
/// least of them counts:
/// margin: o ≤ E\[V\] / (1 + margin);
/// chance of loss: P(V < o) ≤ α, so o is the order statistic ⌊αN⌋ + 1;
/// worst cases: o ≤ mean of the worst share of V + largest mean loss
/// (Rockafellar & Uryasev 2002, J. Banking & Finance 26: the draw at the edge
/// is split);
/// stake: o is the root of E log(W − o + V) = log W, the price at which a
/// cutter with capital W and logarithmic utility is indifferent (Bernoulli
/// 1738; Kelly 1956), by bisection.
/// The price is rounded down to the minor unit, so that the limits hold.
///
/// # Validity
/// As good as the draws: [`Bid::expected_gain_error`] says how far their number
/// carries.
///
/// # Errors
/// A limit outside its range; money too large to keep.
pub fn bid(value: &Draws, limits: &BidLimits, currency: Currency) -> Result<Bid, BidError> {
    limits.check()?;
    let per_outlay = 1.0 / (1.0 + limits.fee);
    let by_limit = [
        (Binding::Margin, Some(value.mean() / (1.0 + limits.margin))),
        (
            Binding::ChanceOfLoss,
            highest_within_chance(value, limits.chance_of_loss),
        ),
        (
            Binding::WorstMean,
            limits
                .worst_mean_loss
                .map(|loss| value.worst_mean(limits.worst_share) + loss),
        ),
        (
            Binding::Stake,
            limits.capital.map(|capital| indifference(value, capital)),
        ),
    ]
    .map(|(limit, outlay)| (limit, outlay.map(|o| o * per_outlay)));
    let (set_by, highest) = by_limit
        .iter()
        .filter_map(|&(limit, price)| price.map(|p| (limit, p)))
        .min_by(|a, b| a.1.total_cmp(&b.1))
        .expect("the margin always gives a price");
    let price = rounded_down(highest.max(0.0), currency)?;
    let outlay = price.major() * (1.0 + limits.fee);
    let gain = value.map(|v| v - outlay)?;
    Ok(Bid {
        price,
        binding: if price.minor() > 0 {
            set_by
        } else {
            Binding::NotWorthBuying
        },
        by_limit,
        chance_of_loss: gain.share_below(0.0),
        worst_mean: gain.worst_mean(limits.worst_share),
        expected_gain: gain.mean(),
        expected_gain_error: gain.mean_error(),
        gain,
    })
}

/// What happens at a price that somebody asks: the same figures as a bid's.
///
/// # Errors
/// As [`bid`].
pub fn at_price(value: &Draws, limits: &BidLimits, asked: Money) -> Result<Bid, BidError> {
    let mut answer = bid(value, limits, asked.currency())?;
    let outlay = asked.major() * (1.0 + limits.fee);
    let gain = value.map(|v| v - outlay)?;
    answer.price = asked;
    answer.chance_of_loss = gain.share_below(0.0);
    answer.worst_mean = gain.worst_mean(limits.worst_share);
    answer.expected_gain = gain.mean();
    answer.expected_gain_error = gain.mean_error();
    answer.gain = gain;
    Ok(answer)
}

impl BidLimits {
    /// Looks the limits over.
    ///
    /// # Errors
    /// The first that is outside its range.
    pub fn check(&self) -> Result<(), BidError> {
        let above_0 = |x: f64| x.is_finite() && x > 0.0;
        for (field, value, holds, limit) in [
            (
                "margin",
                self.margin,
                (0.0..=100.0).contains(&self.margin),
                "between 0 and 100",
            ),
            (
                "chance_of_loss",
                self.chance_of_loss,
                (0.0..=1.0).contains(&self.chance_of_loss),
                "between 0 and 1",
            ),
            (
                "worst_share",
                self.worst_share,
                above_0(self.worst_share) && self.worst_share <= 1.0,
                "above 0 and at most 1",
            ),
            (
                "worst_mean_loss",
                self.worst_mean_loss.unwrap_or(0.0),
                self.worst_mean_loss
                    .is_none_or(|x| x.is_finite() && x >= 0.0),
                "a finite amount not below 0",
            ),
            (
                "capital",
                self.capital.unwrap_or(1.0),
                self.capital.is_none_or(above_0),
                "a finite amount above 0",
            ),
            (
                "fee",
                self.fee,
                (0.0..=1.0).contains(&self.fee),
                "between 0 and 1",
            ),
        ] {
            if !holds {
                return Err(BidError::Limit {
                    field,
                    value,
                    limit,
                });
            }
        }
        Ok(())
    }
}

/// The largest outlay with at most that chance of a loss; `None` when any is.
fn highest_within_chance(value: &Draws, chance: f64) -> Option<f64> {
    // A hair more than α·N, so that 0.3 · 10 counts as 3.
    let allowed = (chance * value.len() as f64 * (1.0 + 1e-12)).floor() as usize;
    value.sorted().get(allowed).copied()
}

/// The outlay at which E log(capital − outlay + V) = log capital.
fn indifference(value: &Draws, capital: f64) -> f64 {
    let worst = value.sorted()[0];
    let growth = |outlay: f64| {
        value
            .sorted()
            .iter()
            .map(|v| ((capital - outlay + v) / capital).ln())
            .sum::<f64>()
    };
    // Paying the worst case never costs anything; paying all capital on top of
    // it may end at nothing, where the logarithm has no floor.
    let (mut low, mut high) = (worst, worst + capital);
    for _ in 0..200 {
        let middle = 0.5 * (low + high);
        if middle <= low || middle >= high {
            break;
        }
        // NaN (a bound beyond the domain by rounding) counts as too much.
        if growth(middle) >= 0.0 {
            low = middle;
        } else {
            high = middle;
        }
    }
    low
}

fn rounded_down(major: f64, currency: Currency) -> Result<Money, MoneyError> {
    let nearest = Money::from_major_rounded(major, currency)?;
    if nearest.major() > major {
        Ok(Money::from_minor(nearest.minor() - 1, currency))
    } else {
        Ok(nearest)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn aud() -> Currency {
        Currency::new("AUD").expect("a code")
    }

    fn stone() -> Draws {
        // Pays 0, 1,000 or 6,000 with chances .5, .35, .15.
        let values = [(0.0, 10), (1000.0, 7), (6000.0, 3)]
            .iter()
            .flat_map(|&(v, n)| std::iter::repeat_n(v, n))
            .collect();
        Draws::new(values).expect("finite")
    }

    fn only(limits: BidLimits) -> Bid {
        bid(&stone(), &limits, aud()).expect("limits hold")
    }

    fn open() -> BidLimits {
        BidLimits {
            margin: 0.0,
            chance_of_loss: 1.0,
            worst_share: 0.1,
            worst_mean_loss: None,
            capital: None,
            fee: 0.0,
        }
    }

    /// Roots of E log(W − b + V) = log W by scipy's `brentq` (1.16): 1080.6094
    /// for W = 10,000 and 748.9591 for W = 2,000.
    #[test]
    fn stake_follows_log_utility() {
        for (capital, price) in [(10_000.0, 1080.6094), (2_000.0, 748.9591)] {
            assert!((indifference(&stone(), capital) - price).abs() < 1e-3);
        }
        let answer = only(BidLimits {
            capital: Some(2_000.0),
            ..open()
        });
        assert_eq!(answer.binding, Binding::Stake);
        assert_eq!(answer.price.amount_text(), "748.95");
    }

    /// Kelly 1956: with chance p at even odds the growth is greatest at the
    /// share 2p − 1; for p = .6 it is .2 and grows by .0201355 a turn. Log
    /// utility, on which the stake limit rests, must agree.
    #[test]
    fn log_utility_gives_kelly_share_and_growth() {
        let growth = |share: f64| 0.6 * (1.0 + share).ln() + 0.4 * (1.0 - share).ln();
        let best = (0..=1000)
            .map(|k| k as f64 / 1000.0)
            .filter(|s| *s < 1.0)
            .max_by(|a, b| growth(*a).total_cmp(&growth(*b)))
            .expect("some share");
        assert!((best - 0.2).abs() < 1e-9);
        assert!((growth(0.2) - 0.020_135_5).abs() < 1e-7);
        // At that share the chance to lose the stake s for a prize of 2 s is
        // worth more than s; the indifference price lies between s and 2 s p.
        let prize = Draws::new(vec![0.0, 0.0, 40.0, 40.0, 40.0]).expect("finite");
        let price = indifference(&prize, 100.0);
        assert!(price > 20.0 && price < 24.0, "{price}");
    }

    /// Discrete loss {−300, −100, 0, 50, 200} with chances .1 .3 .3 .2 .1 has a
    /// conditional value at risk of 110, 125, 200 at .75, .8, .9 (by hand, from
    /// Rockafellar & Uryasev 2002 for laws with atoms).
    #[test]
    fn worst_cases_split_the_atom() {
        let values = [(-200.0, 1), (-50.0, 2), (0.0, 3), (100.0, 3), (300.0, 1)]
            .iter()
            .flat_map(|&(v, n)| std::iter::repeat_n(v, n))
            .collect();
        let draws = Draws::new(values).expect("finite");
        for (share, mean_loss) in [(0.25, 110.0), (0.2, 125.0), (0.1, 200.0)] {
            let limits = BidLimits {
                worst_share: share,
                worst_mean_loss: Some(mean_loss + 7.0),
                ..open()
            };
            let answer = bid(&draws, &limits, aud()).expect("limits hold");
            assert_eq!(answer.price.amount_text(), "7.00", "{share}");
            assert_eq!(answer.binding, Binding::WorstMean);
        }
        // Of the stone above at 800 the worst six in ten lose 633.33 on average
        // (by hand: (10 · 800 − 2 · 200) / 12).
        let limits = BidLimits {
            worst_share: 0.6,
            ..open()
        };
        let at_800 = at_price(&stone(), &limits, Money::from_minor(80_000, aud())).expect("holds");
        assert!((at_800.worst_mean + 633.333_333).abs() < 1e-5);
    }

    /// The three-instrument portfolio of Rockafellar & Uryasev 2000 (J. Risk 2,
    /// tables 2 to 4): mean and covariance as printed; at the minimum-variance
    /// weights for a mean of .011 the conditional value at risk is .096975,
    /// .115908, .152977 at .90, .95, .99. Here: 20,000 evenly likely quantiles of
    /// that normal law.
    #[test]
    fn worst_cases_of_the_published_portfolio() {
        use statrs::distribution::{ContinuousCDF, Normal};
        let weights = [0.452_013, 0.115_573, 0.432_414];
        let mean = [0.010_111_0, 0.004_353_2, 0.013_705_8];
        let covariance = [
            [324.625e-5, 22.983e-5, 420.395e-5],
            [22.983e-5, 49.937e-5, 19.247e-5],
            [420.395e-5, 19.247e-5, 764.097e-5],
        ];
        let mu: f64 = (0..3).map(|i| weights[i] * mean[i]).sum();
        let variance: f64 = (0..9)
            .map(|k| weights[k / 3] * covariance[k / 3][k % 3] * weights[k % 3])
            .sum();
        let law = Normal::new(mu, variance.sqrt()).expect("a law");
        let n = 20_000;
        let value = Draws::new(
            (0..n)
                .map(|k| law.inverse_cdf((k as f64 + 0.5) / n as f64))
                .collect(),
        )
        .expect("finite");
        for (share, cvar) in [(0.10, 0.096_975), (0.05, 0.115_908), (0.01, 0.152_977)] {
            assert!((value.worst_mean(share) + cvar).abs() < 3e-5, "{share}");
        }
    }

    #[test]
    fn margin_and_chance_by_hand() {
        let margin = only(BidLimits {
            margin: 0.25,
            ..open()
        });
        assert_eq!(margin.price.amount_text(), "1000.00"); // 1250 / 1.25
        assert_eq!(margin.binding, Binding::Margin);
        // Half the draws are 0: any price loses half the time.
        let half = only(BidLimits {
            chance_of_loss: 0.5,
            ..open()
        });
        assert_eq!(half.price.amount_text(), "1000.00");
        assert!((half.chance_of_loss - 0.5).abs() < 1e-12);
        let third = only(BidLimits {
            chance_of_loss: 0.3,
            ..open()
        });
        assert_eq!(third.binding, Binding::NotWorthBuying);
        assert_eq!(third.price.minor(), 0);
        // The buyer's fee comes out of the price.
        let fee = only(BidLimits {
            margin: 0.25,
            fee: 0.25,
            ..open()
        });
        assert_eq!(fee.price.amount_text(), "800.00");
        assert!((fee.expected_gain - 250.0).abs() < 1e-9);
    }

    #[test]
    fn refuses_limits_out_of_range() {
        for limits in [
            BidLimits {
                margin: f64::NAN,
                ..open()
            },
            BidLimits {
                chance_of_loss: 1.1,
                ..open()
            },
            BidLimits {
                worst_share: 0.0,
                ..open()
            },
            BidLimits {
                capital: Some(0.0),
                ..open()
            },
        ] {
            assert!(matches!(
                bid(&stone(), &limits, aud()),
                Err(BidError::Limit { .. })
            ));
        }
    }

    prop_compose! {
        fn some_limits()(
            margin in 0.0..1.0_f64,
            chance_of_loss in 0.0..1.0_f64,
            worst_share in 0.01..1.0_f64,
            worst_mean_loss in proptest::option::of(0.0..2000.0_f64),
            capital in proptest::option::of(1.0..20_000.0_f64),
            fee in 0.0..0.5_f64,
        ) -> BidLimits {
            BidLimits { margin, chance_of_loss, worst_share, worst_mean_loss, capital, fee }
        }
    }

    /// Which limits a price breaks, looked at one by one and without the closed forms.
    fn broken(value: &Draws, limits: &BidLimits, price: f64) -> bool {
        let outlay = price * (1.0 + limits.fee);
        let gain = value.map(|v| v - outlay).expect("finite");
        let slack = 1e-7;
        gain.mean() < limits.margin * outlay - slack
            || gain.share_below(-slack) > limits.chance_of_loss + 1e-9
            || limits
                .worst_mean_loss
                .is_some_and(|loss| gain.worst_mean(limits.worst_share) < -loss - slack)
            || limits.capital.is_some_and(|capital| {
                let mean_log = gain
                    .values()
                    .iter()
                    .map(|g| ((capital + g) / capital).ln())
                    .sum::<f64>()
                    / gain.len() as f64;
                mean_log.is_nan() || mean_log < -1e-9
            })
    }

    proptest! {
        #[test]
        fn every_limit_holds_at_the_price_and_none_above_it(
            values in prop::collection::vec(-500.0..5000.0_f64, 1..60),
            limits in some_limits(),
        ) {
            let value = Draws::new(values).expect("finite");
            let answer = bid(&value, &limits, aud()).expect("limits hold");
            if answer.price.minor() > 0 {
                prop_assert!(!broken(&value, &limits, answer.price.major()));
            }
            // Two cents more breaks something (the chance is a step, the rest slopes).
            prop_assert!(broken(&value, &limits, answer.price.major() + 0.02));
        }

        #[test]
        fn stricter_limits_never_raise_the_price(
            values in prop::collection::vec(-500.0..5000.0_f64, 1..60),
            limits in some_limits(),
            less in 0.1..1.0_f64,
        ) {
            let value = Draws::new(values).expect("finite");
            let price = |l: &BidLimits| bid(&value, l, aud()).expect("limits hold").price.minor();
            let first = price(&limits);
            // A cent of slack where a root is found by bisection.
            for (stricter, slack) in [
                (BidLimits { margin: limits.margin + less, ..limits }, 0),
                (BidLimits { chance_of_loss: limits.chance_of_loss * less, ..limits }, 0),
                (
                    BidLimits { worst_mean_loss: limits.worst_mean_loss.map(|x| x * less), ..limits },
                    0,
                ),
                (BidLimits { capital: limits.capital.map(|x| x * less), ..limits }, 1),
                (BidLimits { worst_share: limits.worst_share * less, ..limits }, 1),
            ] {
                let second = price(&stricter);
                prop_assert!(second <= first + slack, "{:?}", stricter);
            }
        }

        #[test]
        fn a_better_piece_is_never_worth_less(
            values in prop::collection::vec(-500.0..5000.0_f64, 1..60),
            limits in some_limits(),
            more in 0.0..500.0_f64,
        ) {
            let value = Draws::new(values).expect("finite");
            let better = value.map(|v| v + more).expect("finite");
            let price = |d: &Draws| bid(d, &limits, aud()).expect("limits hold").price.minor();
            prop_assert!(price(&better) >= price(&value));
        }
    }
}
