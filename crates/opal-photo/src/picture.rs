//! Pictures as plain numbers.

/// A colour picture: sRGB, 8 bits each, row by row.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct Picture {
    width: usize,
    height: usize,
    rgb: Vec<u8>,
}

impl Picture {
    /// `rgb` holds three bytes for each pixel. `None` when it holds another number
    /// of them, or when there is no pixel.
    #[must_use]
    pub fn new(width: usize, height: usize, rgb: Vec<u8>) -> Option<Self> {
        let whole = width > 0 && height > 0 && rgb.len() == 3 * width * height;
        whole.then_some(Self { width, height, rgb })
    }

    /// Pixels across.
    #[must_use]
    pub fn width(&self) -> usize {
        self.width
    }

    /// Pixels down.
    #[must_use]
    pub fn height(&self) -> usize {
        self.height
    }

    /// Red, green and blue of a pixel.
    #[must_use]
    pub fn at(&self, x: usize, y: usize) -> [u8; 3] {
        let k = 3 * (y * self.width + x);
        [self.rgb[k], self.rgb[k + 1], self.rgb[k + 2]]
    }

    /// Luma by the weights of ITU-R BT.601, 0 to 255.
    #[must_use]
    pub fn grey(&self) -> Grey {
        let luma =
            |p: &[u8]| 0.299 * f32::from(p[0]) + 0.587 * f32::from(p[1]) + 0.114 * f32::from(p[2]);
        Grey {
            width: self.width,
            height: self.height,
            values: self.rgb.chunks_exact(3).map(luma).collect(),
        }
    }
}

/// One number for each pixel, row by row.
#[derive(Clone, Debug, PartialEq)]
pub struct Grey {
    /// Pixels across.
    pub width: usize,
    /// Pixels down.
    pub height: usize,
    /// Row by row.
    pub values: Vec<f32>,
}

impl Grey {
    /// Value of a pixel; beyond the rim the rim's goes on.
    #[must_use]
    pub fn at(&self, x: i64, y: i64) -> f32 {
        let x = x.clamp(0, self.width as i64 - 1) as usize;
        let y = y.clamp(0, self.height as i64 - 1) as usize;
        self.values[y * self.width + x]
    }

    /// Value between pixels, bilinear.
    #[must_use]
    pub fn between(&self, at: [f64; 2]) -> f64 {
        let (x, y) = (at[0].floor(), at[1].floor());
        let (u, v) = (at[0] - x, at[1] - y);
        let (x, y) = (x as i64, y as i64);
        let value = |i: i64, j: i64| f64::from(self.at(i, j));
        (1.0 - v) * ((1.0 - u) * value(x, y) + u * value(x + 1, y))
            + v * ((1.0 - u) * value(x, y + 1) + u * value(x + 1, y + 1))
    }

    /// Smoothed by a Gaussian of that standard deviation in pixels.
    #[must_use]
    pub fn blurred(&self, sigma: f64) -> Self {
        let reach = (3.0 * sigma).ceil() as i64;
        let weights: Vec<f32> = (-reach..=reach)
            .map(|k| (-0.5 * (k as f64 / sigma).powi(2)).exp() as f32)
            .collect();
        let sum: f32 = weights.iter().sum();
        let pass = |from: &Self, dx: i64, dy: i64| {
            let mut values = Vec::with_capacity(from.values.len());
            for y in 0..from.height as i64 {
                for x in 0..from.width as i64 {
                    let mixed: f32 = (-reach..=reach)
                        .zip(&weights)
                        .map(|(k, w)| w * from.at(x + k * dx, y + k * dy))
                        .sum();
                    values.push(mixed / sum);
                }
            }
            Self {
                width: from.width,
                height: from.height,
                values,
            }
        };
        pass(&pass(self, 1, 0), 0, 1)
    }

    /// Half as wide and high: means of four. Pixel x of it lies at 2x + ½.
    #[must_use]
    pub fn halved(&self) -> Self {
        let (width, height) = ((self.width / 2).max(1), (self.height / 2).max(1));
        let mut values = Vec::with_capacity(width * height);
        for y in 0..height as i64 {
            for x in 0..width as i64 {
                let four = [(0, 0), (1, 0), (0, 1), (1, 1)];
                let sum: f32 = four
                    .iter()
                    .map(|(i, j)| self.at(2 * x + i, 2 * y + j))
                    .sum();
                values.push(0.25 * sum);
            }
        }
        Self {
            width,
            height,
            values,
        }
    }

    /// Central differences, a pixel.
    #[must_use]
    pub(crate) fn slope(&self, x: i64, y: i64) -> [f32; 2] {
        [
            0.5 * (self.at(x + 1, y) - self.at(x - 1, y)),
            0.5 * (self.at(x, y + 1) - self.at(x, y - 1)),
        ]
    }
}
