//! From a photo's pixels to millimetres on a plane.

use crate::homography::Homography;
use crate::lens::RadialLens;
use faer::Mat;
use faer::linalg::solvers::Solve;
use opal_units::Length;

/// What ties a photo's pixels to millimetres on the plane that was photographed,
/// y up, and how sure the tie is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PhotoScale {
    lens: RadialLens,
    plane_from_straight: Homography,
    straight_from_plane: Homography,
    /// One standard deviation of lengths on the plane, as a share of them.
    pub relative_sigma: f64,
    /// Root mean square distance of the corners from where the scale puts them, a
    /// coordinate, pixels; 0 where four points or fewer pin it down.
    pub rms_px: f64,
}

/// How much more likely a bent lens must be, in twice the logarithm (Kass & Raftery
/// 1995: above 10 is "very strong").
const PAYS: f64 = 10.0;
/// The terms among which it is looked for; below, a lens would fold the picture.
const BENT: (f64, f64) = (-0.25, 0.5);
/// How surely a person puts a point, pixels.
const POINTED_PX: f64 = 1.0;
/// What two points cannot tell of the camera's tilt, as a share of a length.
/// Chosen: a camera held by eye is within some eight degrees of square; cos 8° = 0.99.
const TILT_UNKNOWN: f64 = 0.01;

impl PhotoScale {
    /// From points seen in a photo of that size and where they lie on the plane.
    /// `None` when they do not pin the map down.
    ///
    /// # Method
    /// Normalised direct linear transform; one radial term of the lens where it pays
    /// by the Bayes information criterion (Schwarz 1978); the spread of the scale in
    /// the points' middle from the covariance of the eight numbers.
    #[must_use]
    pub fn through(
        [width, height]: [usize; 2],
        pairs: &[(
            /* seen, px */ [f64; 2],
            /* on the plane, mm */ [f64; 2],
        )],
    ) -> Option<Self> {
        let straight = Fit::with(RadialLens::straight(width, height), pairs)?;
        let n = 2.0 * pairs.len() as f64;
        let best = if pairs.len() > 12 {
            let bent = bent_fit(&straight, pairs)?;
            let gain = n * (straight.sum_of_squares / bent.sum_of_squares).ln() - n.ln();
            if gain > PAYS { bent } else { straight }
        } else {
            straight
        };
        let unknowns = 8.0 + f64::from(u8::from(best.lens.k != 0.0));
        let free = n - unknowns;
        let sigma_px = if free > 0.0 {
            (best.sum_of_squares / free).sqrt()
        } else {
            POINTED_PX
        };
        Some(Self {
            lens: best.lens,
            plane_from_straight: best.straight_from_plane.inverse()?,
            straight_from_plane: best.straight_from_plane,
            relative_sigma: scale_sigma(&best.straight_from_plane, pairs, sigma_px)?,
            rms_px: (best.sum_of_squares / n).sqrt(),
        })
    }

    /// From two points that are a known distance apart, the camera held square. The
    /// first becomes the origin; the photo's up stays up. `None` when they are one.
    #[must_use]
    pub fn from_two_points(
        [width, height]: [usize; 2],
        [from, to]: [[f64; 2]; 2],
        apart: Length,
    ) -> Option<Self> {
        let px = (to[0] - from[0]).hypot(to[1] - from[1]);
        let mm = apart.mm() / px;
        if !(mm.is_finite() && mm > 0.0) {
            return None;
        }
        let [x, y] = from;
        let plane_from_straight = Homography([mm, 0.0, -mm * x, 0.0, -mm, mm * y, 0.0, 0.0, 1.0]);
        Some(Self {
            lens: RadialLens::straight(width, height),
            plane_from_straight,
            straight_from_plane: plane_from_straight.inverse()?,
            relative_sigma: (std::f64::consts::SQRT_2 * POINTED_PX / px).hypot(TILT_UNKNOWN),
            rms_px: 0.0,
        })
    }

    /// The same where all lengths on the plane are so many times longer, which is
    /// itself known to a share of `sigma`, one standard deviation.
    #[must_use]
    pub fn stretched(&self, factor: f64, sigma: f64) -> Self {
        let grow = Homography([factor, 0.0, 0.0, 0.0, factor, 0.0, 0.0, 0.0, 1.0]);
        let shrink = Homography([
            1.0 / factor,
            0.0,
            0.0,
            0.0,
            1.0 / factor,
            0.0,
            0.0,
            0.0,
            1.0,
        ]);
        Self {
            plane_from_straight: grow
                .after(&self.plane_from_straight)
                .unwrap_or(self.plane_from_straight),
            straight_from_plane: self
                .straight_from_plane
                .after(&shrink)
                .unwrap_or(self.straight_from_plane),
            relative_sigma: self.relative_sigma.hypot(sigma),
            ..*self
        }
    }

    /// From a map that is known already: photo (straightened) to plane. `None` when it
    /// cannot be undone.
    #[must_use]
    pub fn of(
        lens: RadialLens,
        plane_from_straight: Homography,
        relative_sigma: f64,
        rms_px: f64,
    ) -> Option<Self> {
        Some(Self {
            lens,
            plane_from_straight,
            straight_from_plane: plane_from_straight.inverse()?,
            relative_sigma,
            rms_px,
        })
    }

    /// From the straightened photo to the plane.
    #[must_use]
    pub fn plane_from_straight(&self) -> Homography {
        self.plane_from_straight
    }

    /// What the lens does.
    #[must_use]
    pub fn lens(&self) -> RadialLens {
        self.lens
    }

    /// Where a point of the photo lies on the plane, mm.
    #[must_use]
    pub fn to_mm(&self, px: [f64; 2]) -> [f64; 2] {
        self.plane_from_straight.apply(self.lens.straightened(px))
    }

    /// Where a point of the plane is seen, pixels.
    #[must_use]
    pub fn to_px(&self, mm: [f64; 2]) -> [f64; 2] {
        self.lens.seen(self.straight_from_plane.apply(mm))
    }

    /// Side of a pixel there: the root of its area on the plane, mm.
    #[must_use]
    pub fn mm_per_px(&self, at_px: [f64; 2]) -> f64 {
        let slope = self.plane_from_straight.slope_at(at_px);
        (slope[0][0] * slope[1][1] - slope[0][1] * slope[1][0])
            .abs()
            .sqrt()
    }

    /// How far the camera leans from square over a place on the plane, radians.
    ///
    /// A plane seen at an angle is shortened one way by its cosine; what perspective
    /// adds is left out, so that this is near, not exact, for a camera close by.
    #[must_use]
    pub fn tilt(&self, at_mm: [f64; 2]) -> f64 {
        let [[a, b], [c, d]] = self.straight_from_plane.slope_at(at_mm);
        // Singular values of a 2 × 2 matrix.
        let (sum, difference) = ((a + d).hypot(c - b), (a - d).hypot(c + b));
        let (large, small) = (sum + difference, (sum - difference).abs());
        (small / large).clamp(0.0, 1.0).acos()
    }
}

struct Fit {
    lens: RadialLens,
    straight_from_plane: Homography,
    sum_of_squares: f64,
}

impl Fit {
    /// The best map behind a given lens; misses are counted in the photo itself.
    fn with(lens: RadialLens, pairs: &[([f64; 2], [f64; 2])]) -> Option<Self> {
        let straight: Vec<_> = pairs
            .iter()
            .map(|(seen, mm)| (*mm, lens.straightened(*seen)))
            .collect();
        let straight_from_plane = Homography::through(&straight)?;
        let sum_of_squares = pairs
            .iter()
            .map(|(seen, mm)| {
                let at = lens.seen(straight_from_plane.apply(*mm));
                (at[0] - seen[0]).powi(2) + (at[1] - seen[1]).powi(2)
            })
            .sum();
        Some(Self {
            lens,
            straight_from_plane,
            sum_of_squares,
        })
    }
}

/// The best bent lens, by golden section on its one term.
fn bent_fit(straight: &Fit, pairs: &[([f64; 2], [f64; 2])]) -> Option<Fit> {
    const GOLDEN: f64 = 0.618_033_988_749_894_9;
    let fit = |k: f64| Fit::with(RadialLens { k, ..straight.lens }, pairs);
    let (mut low, mut high) = BENT;
    for _ in 0..40 {
        let (a, b) = (high - GOLDEN * (high - low), low + GOLDEN * (high - low));
        if fit(a)?.sum_of_squares < fit(b)?.sum_of_squares {
            high = b;
        } else {
            low = a;
        }
    }
    fit(0.5 * (low + high))
}

/// One standard deviation of the scale in the points' middle, as a share.
fn scale_sigma(map: &Homography, pairs: &[([f64; 2], [f64; 2])], sigma_px: f64) -> Option<f64> {
    let n = pairs.len() as f64;
    let middle = [0, 1].map(|d| pairs.iter().map(|p| p.1[d]).sum::<f64>() / n);
    let scale = |m: &Homography| {
        let [[a, b], [c, d]] = m.slope_at(middle);
        (a * d - b * c).abs().sqrt()
    };
    // Numbers of the map differ by powers of ten: each is moved by a share of what it
    // moves the picture, so that differences stay well above rounding.
    let span = pairs
        .iter()
        .map(|p| (p.1[0] - middle[0]).hypot(p.1[1] - middle[1]))
        .fold(1e-9, f64::max);
    let px = scale(map);
    let moved = |k: usize| {
        let step = 1e-3
            * match k {
                0 | 1 | 3 | 4 => px,
                2 | 5 => px * span,
                _ => 1.0 / span,
            };
        let mut up = *map;
        let mut down = *map;
        up.0[k] += step;
        down.0[k] -= step;
        (up, down)
    };
    let mut normal = Mat::<f64>::zeros(8, 8);
    let mut slopes = vec![[[0.0; 2]; 8]; pairs.len()];
    let mut gradient = Mat::<f64>::zeros(8, 1);
    for k in 0..8 {
        let (up, down) = moved(k);
        for (slope, (_, mm)) in slopes.iter_mut().zip(pairs) {
            let (p, q) = (up.apply(*mm), down.apply(*mm));
            // In units of the step, so that all columns are of one size.
            slope[k] = [0, 1].map(|d| 0.5 * (p[d] - q[d]));
        }
        gradient[(k, 0)] = 0.5 * (scale(&up) - scale(&down));
    }
    for slope in &slopes {
        for r in 0..8 {
            for c in 0..8 {
                normal[(r, c)] += slope[r][0] * slope[c][0] + slope[r][1] * slope[c][1];
            }
        }
    }
    let solved = normal.llt(faer::Side::Lower).ok()?.solve(&gradient);
    let variance: f64 = (0..8).map(|k| gradient[(k, 0)] * solved[(k, 0)]).sum();
    Some(sigma_px * variance.sqrt() / px)
}
