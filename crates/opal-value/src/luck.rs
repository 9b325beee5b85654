//! What may turn out one way or the other about prices and work, as explicit
//! inputs, so that plans are compared on equal luck.

use opal_units::Seed;
use rand_distr::{Distribution, StandardNormal};

/// One turn of luck: standard normal numbers, 0 for the middle of the road.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct LuckDraw {
    /// The market: good or bad for every stone alike.
    pub market: f64,
    /// This stone: how buyers take to it.
    pub own: f64,
    /// The bench: quick or slow work.
    pub work: f64,
}

impl LuckDraw {
    /// The middle of the road: every price and time at its median.
    pub const MIDDLE: Self = Self {
        market: 0.0,
        own: 0.0,
        work: 0.0,
    };

    /// The luck of stone `stone` in interior `interior`.
    ///
    /// The market and the bench are the same for all stones of an interior; the
    /// stone's own luck hangs on its number only, not on the plan, so that two
    /// plans for one piece meet the same luck.
    #[must_use]
    pub fn draw(seed: Seed, interior: u64, stone: u64) -> Self {
        let mut shared = seed.stream("price-market", interior);
        let mut own = seed.child("price-own", interior).stream("stone", stone);
        Self {
            market: StandardNormal.sample(&mut shared),
            work: StandardNormal.sample(&mut shared),
            own: StandardNormal.sample(&mut own),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn stones_share_the_market_and_not_their_own_luck() {
        let (a, b) = (LuckDraw::draw(Seed(7), 3, 0), LuckDraw::draw(Seed(7), 3, 1));
        assert_eq!((a.market, a.work), (b.market, b.work));
        assert_ne!(a.own, b.own);
        assert_eq!(a, LuckDraw::draw(Seed(7), 3, 0));
        assert_ne!(a.market, LuckDraw::draw(Seed(7), 4, 0).market);
    }

    #[test]
    fn luck_is_standard_normal() {
        let n = 4000;
        let (sum, squares) = (0..n)
            .map(|i| LuckDraw::draw(Seed(1), i, 0).own)
            .fold((0.0, 0.0), |(s, q), x| (s + x, q + x * x));
        // Four standard errors of a mean and of a variance over 4,000 draws.
        assert!((sum / n as f64).abs() < 0.064);
        assert!((squares / n as f64 - 1.0).abs() < 0.09);
    }
}
