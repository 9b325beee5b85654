//! Forecast money, rounded to what its spread supports.

/// Low, middle and high, rounded to the largest of 1, 5, 10, 50, 100, … that is
/// no more than a thirtieth of the range between low and high.
///
/// Chosen: because a forecast's ends wobble by a few hundredths of its range
/// from the number of insides drawn alone, so that finer figures mean nothing.
pub(super) fn rounded(quantiles: [f64; 3]) -> [f64; 3] {
    let [low, _, high] = quantiles;
    let most = (high - low).abs() / 30.0;
    let mut step = 1.0;
    let mut by_five = true;
    while step * (if by_five { 5.0 } else { 2.0 }) <= most {
        step *= if by_five { 5.0 } else { 2.0 };
        by_five = !by_five;
    }
    quantiles.map(|value| (value / step).round() * step)
}

#[cfg(test)]
mod tests {
    use super::rounded;

    /// By hand: a range of 2,177 allows steps of 50, one of 96 steps of 1, one
    /// of 29,000 steps of 500.
    #[test]
    fn by_hand() {
        assert_eq!(rounded([140.0, 1162.0, 2317.0]), [150.0, 1150.0, 2300.0]);
        assert_eq!(rounded([-3.4, 21.6, 92.4]), [-3.0, 22.0, 92.0]);
        assert_eq!(
            rounded([1_210.0, 9_876.0, 30_210.0]),
            [1_000.0, 10_000.0, 30_000.0]
        );
        assert_eq!(rounded([7.3, 7.3, 7.3]), [7.0, 7.0, 7.0]);
    }

    #[test]
    fn nothing_moves_by_more_than_a_thirtieth_of_the_range() {
        for k in 0..200 {
            let high = 1.13_f64.powi(k) + 30.0;
            let before = [0.1 * high, 0.4 * high, high];
            for (now, then) in rounded(before).into_iter().zip(before) {
                assert!((now - then).abs() <= (0.9 * high / 60.0).max(0.5) + 1e-9);
            }
        }
    }
}
