//! What to ask, where to stop giving way, and how long it may take.

use opal_learn::Waiting;
use opal_units::Draws;

/// How a finished stone is offered.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Asking {
    /// What to ask, major units.
    pub ask: f64,
    /// Below it the stone is kept: what it cost, fee included. Major units.
    pub floor: f64,
    /// The chance that its price falls below the floor.
    pub below_floor: f64,
    /// Days until it sells: one in twenty sooner, half, nineteen in twenty.
    pub days: [f64; 3],
}

/// The share of forecast prices below which one asks. Chosen: a buyer in three
/// would pay more; whoever asks the middle gives half of them a present.
const ASK_AT: f64 = 0.65;

/// What was believed of the wait before any sale: two months, worth two sales.
/// Common practice, no source.
pub const WAIT_BELIEVED: (f64, f64) = (60.0, 2.0);

/// Ask, floor and days for a stone.
///
/// # Method
/// The ask is a quantile of the forecast, never below the floor; the floor is
/// cost / (1 − fee). Days follow [`Waiting`]: they are those of stones offered as
/// the cutter has offered them so far.
#[must_use]
pub fn asking(price: &Draws, cost: f64, selling_fee: f64, wait: &Waiting) -> Asking {
    let floor = cost.max(0.0) / (1.0 - selling_fee).max(0.01);
    Asking {
        ask: price.quantile(ASK_AT).max(floor),
        floor,
        below_floor: price.share_below(floor),
        days: [0.05, 0.5, 0.95].map(|share| wait.quantile(share)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Prices 1 to 100: two thirds of the way up; cost 45 and a tenth of fee make
    /// a floor of 50 (by hand).
    #[test]
    fn ask_floor_and_days_by_hand() {
        let price = Draws::new((1..=101).map(f64::from).collect()).expect("finite");
        let wait = Waiting::believed(60.0, 2.0).expect("good");
        let offered = asking(&price, 45.0, 0.1, &wait);
        assert!((offered.ask - 66.0).abs() < 1e-9);
        assert!((offered.floor - 50.0).abs() < 1e-9);
        assert!((offered.below_floor - 49.0 / 101.0).abs() < 1e-9);
        // Lomax(2, 120): 120 (√2 − 1) is its median.
        assert!((offered.days[1] - 120.0 * (2.0_f64.sqrt() - 1.0)).abs() < 1e-9);
        // A stone that cost more than it will fetch is asked at what it cost.
        let dear = asking(&price, 900.0, 0.1, &wait);
        assert_eq!((dear.ask, dear.below_floor), (1000.0, 1.0));
    }
}
