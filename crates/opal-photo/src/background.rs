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

/// How much of a darkening counts: shade darkens the ground, a stone does more.
/// Chosen: between the two shares at which the shade of a lamp and a grey stone
/// would pass for each other.
const DARKER_COUNTS: f32 = 0.6;

/// How far each place is from the ground's colour, in units of L*.
///
/// # Method
/// The ground is a plane through each of L*, a* and b* at the places that are
/// given, fitted twice, the second time without the tenth that fits worst; so an
/// uneven light and a stray mark at the rim do no harm.
pub(crate) fn away_from_ground(colours: &Colours, ground: &[usize]) -> Option<Vec<f32>> {
    let first = Plane::through(colours, ground)?;
    let mut sorted: Vec<usize> = ground.to_vec();
    let miss = |k: usize| first.away(colours, k);
    sorted.sort_by(|p, q| miss(*p).total_cmp(&miss(*q)));
    sorted.truncate((0.9 * ground.len() as f64).ceil() as usize);
    let plane = Plane::through(colours, &sorted)?;
    Some(
        (0..colours.lab.len())
            .map(|k| plane.away(colours, k))
            .collect(),
    )
}

/// Value, slope along x and slope along y of each of L*, a* and b*.
struct Plane([[f32; 3]; 3]);

impl Plane {
    fn through(colours: &Colours, places: &[usize]) -> Option<Self> {
        if places.len() < 12 {
            return None;
        }
        let mut normal = Mat::<f64>::zeros(3, 3);
        let mut right = Mat::<f64>::zeros(3, 3);
        for &k in places {
            let row = Self::row(colours, k).map(f64::from);
            for r in 0..3 {
                for c in 0..3 {
                    normal[(r, c)] += row[r] * row[c];
                    right[(r, c)] += row[r] * f64::from(colours.lab[k][c]);
                }
            }
        }
        let solved = normal.llt(faer::Side::Lower).ok()?.solve(&right);
        Some(Self(std::array::from_fn(|c| {
            std::array::from_fn(|r| solved[(r, c)] as f32)
        })))
    }

    fn row(colours: &Colours, k: usize) -> [f32; 3] {
        let span = colours.width.max(colours.height) as f32;
        [
            1.0,
            (k % colours.width) as f32 / span - 0.5,
            (k / colours.width) as f32 / span - 0.5,
        ]
    }

    fn away(&self, colours: &Colours, k: usize) -> f32 {
        let row = Self::row(colours, k);
        let [dl, da, db] = std::array::from_fn(|c| {
            let ground: f32 = (0..3).map(|r| row[r] * self.0[c][r]).sum();
            colours.lab[k][c] - ground
        });
        let dl: f32 = if dl < 0.0 { DARKER_COUNTS * dl } else { dl };
        let (da, db): (f32, f32) = (da, db);
        (dl * dl + da * da + db * db).sqrt()
    }
}
