//! An amount of money in parts that sum to it exactly.

use crate::money::{Money, MoneyError};

impl Money {
    /// The amount in one part for each weight, in proportion to the weights, summing
    /// to it exactly.
    ///
    /// Largest remainder (the method of Hamilton; Balinski & Young 2001, *Fair
    /// Representation*): each part gets the whole minor units of its quota, and the
    /// units left over go one each to the largest remainders, ties to the earlier
    /// part. So no part is a whole minor unit away from its quota. A negative amount
    /// is parted as the positive one is.
    ///
    /// # Errors
    /// [`MoneyError::NoShares`] where every weight is 0 or there is none.
    pub fn share_out(self, weights: &[u64]) -> Result<Vec<Self>, MoneyError> {
        let total: u128 = weights.iter().copied().map(u128::from).sum();
        if total == 0 {
            return Err(MoneyError::NoShares);
        }
        let size = u128::from(self.minor().unsigned_abs());
        // Below 2^64 each, so that the product fits.
        let quota = |weight: u64| size * u128::from(weight);
        let mut parts: Vec<u128> = weights.iter().map(|&w| quota(w) / total).collect();
        let left_over = size - parts.iter().sum::<u128>();
        let mut order: Vec<usize> = (0..weights.len()).collect();
        order.sort_by_key(|&k| std::cmp::Reverse(quota(weights[k]) % total));
        // Fewer are left over than there are remainders above 0.
        for &k in order.iter().take(usize::try_from(left_over).unwrap_or(0)) {
            parts[k] += 1;
        }
        parts
            .into_iter()
            .map(|part| {
                let part = i128::try_from(part).map_err(|_| MoneyError::TooLarge)?;
                let signed = if self.minor() < 0 { -part } else { part };
                let minor = i64::try_from(signed).map_err(|_| MoneyError::TooLarge)?;
                Ok(Self::from_minor(minor, self.currency()))
            })
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Currency;
    use proptest::prelude::*;

    fn shared(minor: i64, weights: &[u64]) -> Vec<i64> {
        let aud = Currency::new("AUD").expect("a code");
        let parts = Money::from_minor(minor, aud).share_out(weights);
        let parts = parts.expect("weights above 0");
        parts.into_iter().map(Money::minor).collect()
    }

    /// Hamilton's bill of 1792: 120 seats by the census of 1790 (Balinski & Young
    /// 2001, table of the first apportionment; from memory).
    #[test]
    fn parts_as_the_first_apportionment_bill_did() {
        let people = [
            630_560, 475_327, 353_523, 432_879, 278_514, 331_589, 236_841, 206_236, 179_570,
            141_822, 85_533, 70_835, 68_705, 68_446, 55_540,
        ];
        let seats = [21, 16, 12, 14, 9, 11, 8, 7, 6, 5, 3, 2, 2, 2, 2];
        assert_eq!(shared(120, &people), seats);
    }

    #[test]
    fn left_over_units_go_to_the_largest_remainders_then_to_the_first() {
        assert_eq!(shared(100, &[1, 1, 1]), [34, 33, 33]);
        assert_eq!(shared(5, &[3, 0, 3]), [3, 0, 2]);
        assert_eq!(shared(-100, &[1, 1, 1]), [-34, -33, -33]);
        assert_eq!(shared(i64::MIN, &[7]), [i64::MIN]);
    }

    #[test]
    fn refuses_where_there_is_nothing_to_share_by() {
        let aud = Currency::new("AUD").expect("a code");
        for weights in [&[][..], &[0, 0][..]] {
            let refused = Money::from_minor(100, aud).share_out(weights);
            assert_eq!(refused, Err(MoneyError::NoShares));
        }
    }

    proptest! {
        #[test]
        fn parts_sum_to_the_whole_and_stay_within_a_unit_of_their_quota(
            minor in any::<i64>(),
            weights in proptest::collection::vec(any::<u64>(), 1..20)
                .prop_filter("a weight above 0", |w| w.iter().any(|&w| w > 0)),
        ) {
            let parts = shared(minor, &weights);
            prop_assert_eq!(parts.iter().map(|&p| i128::from(p)).sum::<i128>(), i128::from(minor));
            let total: i128 = weights.iter().map(|&w| i128::from(w)).sum();
            for (&part, &weight) in parts.iter().zip(&weights) {
                let floor = (i128::from(minor).abs() * i128::from(weight)) / total;
                let size = i128::from(part).abs();
                prop_assert!(size == floor || size == floor + 1);
                prop_assert!(weight > 0 || part == 0);
            }
        }
    }
}
