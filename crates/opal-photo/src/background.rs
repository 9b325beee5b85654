//! A plain ground, and how far each place is from its colour.

use crate::colour::{lab_of, linear};
use crate::picture::Picture;
use faer::Mat;
use faer::linalg::solvers::Solve;

/// Most places at which colour is looked at; a larger picture is averaged down.
const MOST_PLACES: usize = 1_500_000;

/// Colours in CIE L*a*b* (D65), averaged over squares of `cell` pixels.
pub(crate) struct Colours {
    pub(crate) width: usize,
    pub(crate) height: usize,
    /// Upper left pixel and pixels in a side.
    pub(crate) from: [usize; 2],
    pub(crate) cell: usize,
    pub(crate) lab: Vec<[f32; 3]>,
}

impl Colours {
    /// The colours in a box of the picture: left, top, right and bottom, pixels.
    pub(crate) fn of(picture: &Picture, [left, top, right, bottom]: [usize; 4]) -> Self {
        let (w, h) = (right - left, bottom - top);
        let mut cell = 1;
        while (w / cell) * (h / cell) > MOST_PLACES {
            cell += 1;
        }
        let (width, height) = ((w / cell).max(1), (h / cell).max(1));
        let linear: Vec<f32> = (0..=255_u16)
            .map(|v| linear(f32::from(v) / 255.0))
            .collect();
        let mut lab = Vec::with_capacity(width * height);
        for j in 0..height {
            for i in 0..width {
                let mut sum = [0.0_f32; 3];
                for y in 0..cell {
                    for x in 0..cell {
                        let rgb = picture.at(
                            (left + i * cell + x).min(picture.width() - 1),
                            (top + j * cell + y).min(picture.height() - 1),
                        );
                        for (s, v) in sum.iter_mut().zip(rgb) {
                            *s += linear[usize::from(v)];
                        }
                    }
                }
                lab.push(lab_of(sum.map(|v| v / (cell * cell) as f32)));
            }
        }
        Self {
            width,
            height,
            from: [left, top],
            cell,
            lab,
        }
    }

    /// Middle of a place in the picture, pixels.
    pub(crate) fn to_px(&self, at: [f64; 2]) -> [f64; 2] {
        let cell = self.cell as f64;
        [0, 1].map(|d| self.from[d] as f64 + cell * at[d] + 0.5 * (cell - 1.0))
    }
}

/// Shares of a darkening that count, the usual one first: shade darkens the ground, a
/// stone does more. Chosen: at six tenths the shade of a lamp and a grey stone on white
/// paper do not pass for each other; the others are for deep shade, round which a stone's
/// own hue tells more.
pub(crate) const DARKER_COUNTS: [f32; 3] = [0.6, 0.25, 0.1];

/// How a place differs from the ground there.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Difference {
    /// Lighter, in units of L*; darker where negative.
    lightness: f32,
    /// Distance in a* and b* from the ground in the same shade, the same units.
    hue: f32,
}

impl Difference {
    /// The whole difference when so much of a darkening counts, in units of L*.
    pub(crate) fn when(self, darker_counts: f32) -> f32 {
        let lightness = if self.lightness < 0.0 {
            darker_counts * self.lightness
        } else {
            self.lightness
        };
        lightness.hypot(self.hue)
    }
}

/// How each place differs from the ground.
///
/// # Method
/// The ground is a quadratic surface through each of L*, a* and b* at the places that are
/// given, fitted twice, the second time without the tenth that fits worst; so an uneven
/// light and a stray mark at the rim do no harm. In shade all of linear R, G and B are less
/// by one factor, so that L* + 16, a* and b* are by its cube root (CIE 15, away from black).
pub(crate) fn from_ground(colours: &Colours, ground: &[usize]) -> Option<Vec<Difference>> {
    let first = Surface::through(colours, ground)?;
    let mut sorted: Vec<usize> = ground.to_vec();
    let miss = |k: usize| first.difference(colours, k).when(DARKER_COUNTS[0]);
    sorted.sort_by(|p, q| miss(*p).total_cmp(&miss(*q)));
    sorted.truncate((0.9 * ground.len() as f64).ceil() as usize);
    let surface = Surface::through(colours, &sorted)?;
    Some(
        (0..colours.lab.len())
            .map(|k| surface.difference(colours, k))
            .collect(),
    )
}

/// Terms of a quadratic in x and y.
const TERMS: usize = 6;

/// Coefficients of each of L*, a* and b*.
struct Surface([[f32; TERMS]; 3]);

impl Surface {
    fn through(colours: &Colours, places: &[usize]) -> Option<Self> {
        if places.len() < 4 * TERMS {
            return None;
        }
        let mut normal = Mat::<f64>::zeros(TERMS, TERMS);
        let mut right = Mat::<f64>::zeros(TERMS, 3);
        for &k in places {
            let row = Self::row(colours, k).map(f64::from);
            for r in 0..TERMS {
                for c in 0..TERMS {
                    normal[(r, c)] += row[r] * row[c];
                }
                for c in 0..3 {
                    right[(r, c)] += row[r] * f64::from(colours.lab[k][c]);
                }
            }
        }
        let solved = normal.llt(faer::Side::Lower).ok()?.solve(&right);
        Some(Self(std::array::from_fn(|c| {
            std::array::from_fn(|r| solved[(r, c)] as f32)
        })))
    }

    fn row(colours: &Colours, k: usize) -> [f32; TERMS] {
        let span = colours.width.max(colours.height) as f32;
        let x = (k % colours.width) as f32 / span - 0.5;
        let y = (k / colours.width) as f32 / span - 0.5;
        [1.0, x, y, x * x, x * y, y * y]
    }

    fn difference(&self, colours: &Colours, k: usize) -> Difference {
        let row = Self::row(colours, k);
        let [l, a, b] =
            std::array::from_fn(|c| -> f32 { (0..TERMS).map(|r| row[r] * self.0[c][r]).sum() });
        let [here, red, yellow] = colours.lab[k];
        let shade = ((here + 16.0) / (l + 16.0).max(1.0)).clamp(0.0, 1.0);
        Difference {
            lightness: here - l,
            hue: (red - shade * a).hypot(yellow - shade * b),
        }
    }
}
