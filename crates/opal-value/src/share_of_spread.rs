//! What the spread of a value comes from.

use opal_units::Draws;

/// The share of the spread of `value` that goes with `cause`, 0..=1.
///
/// # Method
/// Correlation ratio (Pearson 1905): the variance between the means of
/// equally filled classes of the cause over the whole variance, less what as
/// many classes of pure chance would give.
///
/// # Validity
/// A rough guide; 0 below 40 draws. Shares of causes that go together overlap.
#[must_use]
pub fn share_of_spread(value: &Draws, cause: &Draws) -> f64 {
    let n = value.len();
    if n != cause.len() || n < 40 {
        return 0.0;
    }
    let classes = (n / 20).clamp(2, 50);
    let mut order: Vec<usize> = (0..n).collect();
    order.sort_by(|&a, &b| {
        cause.values()[a]
            .total_cmp(&cause.values()[b])
            .then(a.cmp(&b))
    });
    let (mean, mut between, mut whole) = (value.mean(), 0.0, 0.0);
    for class in 0..classes {
        let members = &order[class * n / classes..(class + 1) * n / classes];
        let class_mean =
            members.iter().map(|&i| value.values()[i]).sum::<f64>() / members.len() as f64;
        between += members.len() as f64 * (class_mean - mean) * (class_mean - mean);
        whole += members
            .iter()
            .map(|&i| (value.values()[i] - mean) * (value.values()[i] - mean))
            .sum::<f64>();
    }
    if whole <= 0.0 {
        return 0.0;
    }
    // Adjusted as R² is for its parameters.
    let unexplained = (1.0 - between / whole) * (n as f64 - 1.0) / (n as f64 - classes as f64);
    (1.0 - unexplained).clamp(0.0, 1.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::LuckDraw;
    use opal_units::Seed;

    fn draws(f: impl Fn(LuckDraw) -> f64) -> Draws {
        Draws::new(
            (0..2000)
                .map(|i| f(LuckDraw::draw(Seed(5), i, 0)))
                .collect(),
        )
        .expect("finite")
    }

    /// Value = 3 a + b + c of independent unit normals: a explains 9/11.
    #[test]
    fn shares_of_a_sum_are_shares_of_variance() {
        let value = draws(|l| 3.0 * l.market + l.own + l.work);
        let a = share_of_spread(&value, &draws(|l| l.market));
        let b = share_of_spread(&value, &draws(|l| l.own));
        assert!((a - 9.0 / 11.0).abs() < 0.03, "{a}");
        assert!((b - 1.0 / 11.0).abs() < 0.04, "{b}");
        let curved = draws(|l| l.market * l.market);
        let squared = share_of_spread(&curved, &draws(|l| l.market));
        assert!(squared > 0.85, "{squared}");
        assert!(share_of_spread(&value, &draws(|l| (l.own * 1e4).fract())) < 0.05);
    }
}
