//! Parting values in two.

/// The threshold that parts values best in two (Otsu 1979), over 256 classes up to
/// the largest; values are zero or more. What lies above it is the second part.
#[must_use]
pub fn otsu(values: &[f32]) -> f32 {
    let most = values.iter().copied().fold(0.0_f32, f32::max);
    if most <= 0.0 {
        return 0.0;
    }
    let mut counts = [0.0_f64; 256];
    for v in values {
        counts[((v / most * 255.0) as usize).min(255)] += 1.0;
    }
    let n: f64 = counts.iter().sum();
    let total: f64 = counts.iter().enumerate().map(|(k, c)| k as f64 * c).sum();
    let (mut below, mut sum_below) = (0.0, 0.0);
    let mut best = (0.0, 0);
    for (k, count) in counts.iter().enumerate() {
        below += count;
        sum_below += k as f64 * count;
        let above = n - below;
        if below == 0.0 || above == 0.0 {
            continue;
        }
        let apart = sum_below / below - (total - sum_below) / above;
        let between = below * above * apart * apart;
        if between > best.0 {
            best = (between, k);
        }
    }
    (best.1 as f32 + 1.0) / 255.0 * most
}
