//! Correlation functions.

/// How correlation falls with distance.
///
/// # Method
/// Matérn forms: Rasmussen & Williams 2006, *Gaussian Processes for Machine
/// Learning*, eq. 4.16–4.17, with s = √(2ν)·h/ℓ. Spherical: Journel &
/// Huijbregts 1978, *Mining Geostatistics*, §III.B.
#[derive(Clone, Copy, Debug, Eq, Hash, PartialEq)]
pub enum Kernel {
    /// Matérn, smoothness ½: exp(−h/ℓ), the exponential model. Rough.
    Matern12,
    /// Matérn, smoothness 3/2: (1 + s)·e^(−s). Once differentiable.
    Matern32,
    /// Matérn, smoothness 5/2: (1 + s + s²/3)·e^(−s). Twice differentiable.
    Matern52,
    /// exp(−h²/2ℓ²). Infinitely smooth: over-confident and badly conditioned
    /// (Stein 1999, *Interpolation of Spatial Data*); kept for comparison.
    SquaredExponential,
    /// 1 − 1.5 h/ℓ + 0.5 (h/ℓ)³ within the range ℓ, exactly 0 beyond it.
    Spherical,
}

impl Kernel {
    /// Correlation at a distance of `u` ranges.
    #[must_use]
    pub fn correlation(self, u: f64) -> f64 {
        match self {
            Self::Matern12 => (-u).exp(),
            Self::Matern32 => {
                let s = 3.0_f64.sqrt() * u;
                (1.0 + s) * (-s).exp()
            }
            Self::Matern52 => {
                let s = 5.0_f64.sqrt() * u;
                (1.0 + s + s * s / 3.0) * (-s).exp()
            }
            Self::SquaredExponential => (-0.5 * u * u).exp(),
            Self::Spherical => {
                if u >= 1.0 {
                    0.0
                } else {
                    1.0 - 1.5 * u + 0.5 * u * u * u
                }
            }
        }
    }

    /// Distance, in ranges, at which the correlation has fallen to 0.05: the
    /// 'effective range' of the textbooks is this many times [`CovarianceModel::range`].
    ///
    /// [`CovarianceModel::range`]: crate::CovarianceModel::range
    #[must_use]
    pub fn effective_ranges(self) -> f64 {
        match self {
            Self::Matern12 => 2.995_732_273_553_991,
            Self::Matern32 => 2.738_871_456_691_915,
            Self::Matern52 => 2.646_900_454_666_855,
            Self::SquaredExponential => 2.447_746_830_680_816,
            Self::Spherical => 0.811_401_351_899_508,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const ALL: [Kernel; 5] = [
        Kernel::Matern12,
        Kernel::Matern32,
        Kernel::Matern52,
        Kernel::SquaredExponential,
        Kernel::Spherical,
    ];

    /// Rasmussen & Williams 2006, eq. 4.17 at h = ℓ: (1 + √3)e^(−√3) and
    /// (1 + √5 + 5/3)e^(−√5), which scikit-learn 1.9 gives too.
    #[test]
    fn matern_at_one_range() {
        assert!((Kernel::Matern12.correlation(1.0) - 0.367_879_4).abs() < 1e-7);
        assert!((Kernel::Matern32.correlation(1.0) - 0.483_357_7).abs() < 1e-7);
        assert!((Kernel::Matern52.correlation(1.0) - 0.523_994_1).abs() < 1e-7);
    }

    #[test]
    fn starts_at_one_and_falls() {
        for kernel in ALL {
            assert_eq!(kernel.correlation(0.0), 1.0);
            let mut last = 1.0;
            for step in 1..200 {
                let next = kernel.correlation(f64::from(step) * 0.05);
                assert!(next <= last && next >= 0.0, "{kernel:?}");
                last = next;
            }
        }
    }

    /// The stated effective ranges against their definition.
    #[test]
    fn effective_range_is_where_a_twentieth_is_left() {
        for kernel in ALL {
            let left = kernel.correlation(kernel.effective_ranges());
            assert!((left - 0.05).abs() < 1e-9, "{kernel:?}: {left}");
        }
    }
}
