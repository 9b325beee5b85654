//! Classical unfolding of section classes. Kept as a check of the likelihood
//! route only: with few counts it is ill-posed and goes negative.

/// Expected sections per class when one ball of class `ball` (0-based, diameter
/// (ball + 1)·Δ) is cut: element i is √(j² − i²) − √(j² − (i+1)²) in units of Δ,
/// with j = ball + 1.
#[must_use]
pub fn section_classes(ball: usize) -> Vec<f64> {
    let j = (ball + 1) as f64;
    (0..=ball)
        .map(|i| {
            let (low, high) = (i as f64, (i + 1) as f64);
            (j * j - low * low).sqrt() - (j * j - high * high).max(0.0).sqrt()
        })
        .collect()
}

/// Coefficients α with N_V(i) = (1/Δ) Σ_j α\[i\]\[j\]·N_A(j): the inverse of the
/// upper triangular matrix of [`section_classes`].
///
/// # Method
/// Schwartz (1934) and Saltykov (1958), as in DeHoff & Rhines (1968),
/// *Quantitative Microscopy*.
#[must_use]
pub fn schwartz_saltykov(classes: usize) -> Vec<Vec<f64>> {
    let columns: Vec<Vec<f64>> = (0..classes).map(section_classes).collect();
    let k = |i: usize, j: usize| columns[j][i];
    let mut alpha = vec![vec![0.0; classes]; classes];
    // From the last row up: each rests on the rows below it.
    for i in (0..classes).rev() {
        let mut row = vec![0.0; classes];
        for (j, value) in row.iter_mut().enumerate().skip(i) {
            let unit = if i == j { 1.0 } else { 0.0 };
            let sum: f64 = (i + 1..=j).map(|m| k(i, m) * alpha[m][j]).sum();
            *value = (unit - sum) / k(i, i);
        }
        alpha[i] = row;
    }
    alpha
}

/// Saltykov's coefficients for classes whose diameters fall by 10^−0.1: divided
/// by the ball's diameter they multiply N_A of its own class, the next larger,
/// and so on.
///
/// # Method
/// Saltykov (1958), *Stereometric Metallography*: area classes of ratio 10^−0.2.
#[must_use]
pub fn saltykov_log_coefficients(classes: usize) -> Vec<f64> {
    let ratio = 10.0_f64.powf(-0.1);
    // Sections of a ball of diameter 1 that fall m classes below its own.
    let seen: Vec<f64> = (0..classes)
        .map(|m| {
            let high = ratio.powi(m as i32);
            let low = ratio.powi(m as i32 + 1);
            (1.0 - low * low).sqrt() - (1.0 - high * high).max(0.0).sqrt()
        })
        .collect();
    // Diameters scale by `ratio` per class: N_A(i) = Σ_j D_j N_V(j) seen[i − j],
    // so D_i N_V(i) is the inverse of the lower Toeplitz series `seen`.
    let mut inverse: Vec<f64> = Vec::with_capacity(classes);
    for m in 0..classes {
        let unit = if m == 0 { 1.0 } else { 0.0 };
        let sum: f64 = (1..=m).map(|q| seen[q] * inverse[m - q]).sum();
        inverse.push((unit - sum) / seen[0]);
    }
    inverse
}

#[cfg(test)]
mod tests {
    use super::*;

    /// DeHoff & Rhines (1968), table of Schwartz–Saltykov coefficients.
    #[test]
    fn coefficients_of_dehoff_and_rhines() {
        let alpha = schwartz_saltykov(8);
        let rows: [&[f64]; 4] = [
            &[
                1.0, -0.1547, -0.0357, -0.0130, -0.0061, -0.0033, -0.0020, -0.0013,
            ],
            &[0.5774, -0.1529, -0.0419, -0.0172, -0.0087],
            &[0.4472, -0.1383, -0.0407, -0.0177],
            &[0.3780, -0.1260, -0.0386],
        ];
        for (i, row) in rows.iter().enumerate() {
            for (m, value) in row.iter().enumerate() {
                let got = alpha[i][i + m];
                assert!((got - value).abs() < 1e-4, "{i} {m}: {got}");
            }
        }
    }

    /// Saltykov (1958): 1.6461, −0.4561, −0.1162, −0.0415, −0.0173.
    #[test]
    fn coefficients_of_saltykov() {
        let got = saltykov_log_coefficients(5);
        for (got, value) in got.iter().zip([1.6461, -0.4561, -0.1162, -0.0415, -0.0173]) {
            assert!((got - value).abs() < 1e-4, "{got} for {value}");
        }
    }

    /// Ten classes of equal balls: the last holds 0.4358899, the next 0.1641101
    /// of the sections (closed form).
    #[test]
    fn classes_of_equal_balls() {
        let classes = section_classes(9);
        let all: f64 = classes.iter().sum();
        assert!((classes[9] / all - 0.435_889_9).abs() < 1e-7);
        assert!((classes[8] / all - 0.164_110_1).abs() < 1e-7);
    }
}
