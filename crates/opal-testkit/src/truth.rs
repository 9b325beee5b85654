//! A bar that is known everywhere.

use crate::{MeasuredSurface, WaveSurface, Waves};
use opal_units::Seed;
use rand::RngExt as _;

/// What the true bar is drawn from.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BarLaw {
    /// Mean height of the top, mm.
    pub height_mm: f64,
    /// Slope along x and y.
    pub slope: [f64; 2],
    /// Where the plane is at `height_mm`.
    pub centre_mm: [f64; 2],
    /// Standard deviation of the top about its plane, mm.
    pub relief_mm: f64,
    /// Its range, mm.
    pub relief_range_mm: f64,
    /// Mean of the thickness before clipping at 0, mm.
    pub thickness_mm: f64,
    /// Its standard deviation, mm.
    pub thickness_sd_mm: f64,
    /// Its range, mm.
    pub thickness_range_mm: f64,
    /// What the top bends: coefficients of x², xy and y² from the centre, in its
    /// standard deviations, a mm².
    pub relief_bend: [f64; 3],
    /// The same of the thickness.
    pub thickness_bend: [f64; 3],
    /// What the thickness grows along x and y, in its standard deviations, a mm.
    pub thickness_wedge: [f64; 2],
    /// Size of the piece, mm: what measured surfaces are stretched over.
    pub size_mm: f64,
}

/// How the truth departs from the law that forecasts assume.
#[derive(Clone, Copy, Debug, Eq, Hash, PartialEq)]
pub enum Departing {
    /// Not at all: a bend and a Gaussian, Matérn 3/2; thickness clipped at 0.
    Not,
    /// Bulges and thin places are rarer and larger than a Gaussian has them.
    HeavyTailed,
    /// A step of two standard deviations across a line somewhere in the piece.
    Stepped,
    /// The relief of a real surface, which has bends of its own; where there are no shared
    /// data, rough waves.
    Measured,
    /// Thickness log-normal: never absent.
    NeverAbsent,
}

impl Departing {
    /// All of them.
    pub const ALL: [Self; 5] = [
        Self::Not,
        Self::HeavyTailed,
        Self::Stepped,
        Self::Measured,
        Self::NeverAbsent,
    ];

    /// In a word or two.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Not => "assumed law",
            Self::HeavyTailed => "heavy tails",
            Self::Stepped => "stepped",
            Self::Measured => "real surfaces",
            Self::NeverAbsent => "log-normal thickness",
        }
    }
}

/// One true bar.
#[derive(Clone, Debug)]
pub struct TrueBar {
    law: BarLaw,
    departing: Departing,
    relief: Shape,
    thickness: Shape,
    /// A point of the step's line, its normal, its throw in standard deviations.
    step: ([f64; 2], [f64; 2], f64),
}

#[derive(Clone, Debug)]
enum Shape {
    Waves(WaveSurface),
    Measured(MeasuredSurface),
}

impl TrueBar {
    /// Draws a bar. `surfaces` serve [`Departing::Measured`].
    #[must_use]
    pub fn draw(
        law: BarLaw,
        departing: Departing,
        surfaces: &[MeasuredSurface],
        seed: Seed,
    ) -> Self {
        let mut rng = seed.stream("true-bar", 0);
        let waves = |range_mm: f64, purpose: &str, smoothness: f64| {
            Shape::Waves(WaveSurface::draw(
                Waves {
                    smoothness,
                    range_mm,
                },
                seed.child(purpose, 0),
            ))
        };
        let mut relief = waves(law.relief_range_mm, "relief", 1.5);
        let mut thickness = waves(law.thickness_range_mm, "thickness", 1.5);
        if departing == Departing::Measured {
            relief = waves(law.relief_range_mm, "relief", 0.5);
            if !surfaces.is_empty() {
                let surface = &surfaces[rng.random_range(0..surfaces.len())];
                let (nx, ny) = surface.size();
                let mut cut = || {
                    let side = rng.random_range(40..nx.min(ny).min(140));
                    surface.window(
                        rng.random_range(0..=nx - side),
                        rng.random_range(0..=ny - side),
                        side,
                        side,
                    )
                };
                if let (Some(a), Some(b)) = (cut(), cut()) {
                    // A bar has no side that is up: what dips in the middle of the few
                    // surfaces there are is not to teach that bars do.
                    let mut turned = |s: MeasuredSurface| {
                        Shape::Measured(s.mirrored(rng.random(), rng.random(), rng.random()))
                    };
                    relief = turned(a);
                    thickness = turned(b);
                }
            }
        }
        let turn = rng.random::<f64>() * std::f64::consts::TAU;
        let away = (rng.random::<f64>() - 0.5) * 0.5 * law.size_mm;
        let normal = [turn.cos(), turn.sin()];
        let step = (
            [
                law.centre_mm[0] + away * normal[0],
                law.centre_mm[1] + away * normal[1],
            ],
            normal,
            2.0,
        );
        Self {
            law,
            departing,
            relief,
            thickness,
            step,
        }
    }

    /// Height of the top at a place, mm.
    #[must_use]
    pub fn top_mm(&self, p: [f64; 2]) -> f64 {
        let (law, c) = (&self.law, self.law.centre_mm);
        let mut z = self.value(&self.relief, p);
        if self.departing == Departing::HeavyTailed {
            z = heavy(z);
        }
        z += self.trend(law.relief_bend, [0.0; 2], p);
        if self.departing == Departing::Stepped {
            let (through, normal, throw) = self.step;
            let side = (p[0] - through[0]) * normal[0] + (p[1] - through[1]) * normal[1];
            z += if side > 0.0 {
                0.5 * throw
            } else {
                -0.5 * throw
            };
        }
        law.height_mm
            + law.slope[0] * (p[0] - c[0])
            + law.slope[1] * (p[1] - c[1])
            + law.relief_mm * z
    }

    /// Thickness at a place, mm; 0 where the bar is absent.
    #[must_use]
    pub fn thickness_mm(&self, p: [f64; 2]) -> f64 {
        let law = &self.law;
        let mut z = self.value(&self.thickness, p);
        if self.departing == Departing::HeavyTailed {
            z = heavy(z);
        }
        z += self.trend(law.thickness_bend, law.thickness_wedge, p);
        match self.departing {
            Departing::NeverAbsent => {
                let s2 = (1.0 + (law.thickness_sd_mm / law.thickness_mm).powi(2)).ln();
                law.thickness_mm * (s2.sqrt() * z - 0.5 * s2).exp()
            }
            _ => (law.thickness_mm + law.thickness_sd_mm * z).max(0.0),
        }
    }

    /// Bend and wedge at a place, in standard deviations.
    fn trend(&self, [xx, xy, yy]: [f64; 3], [wx, wy]: [f64; 2], p: [f64; 2]) -> f64 {
        if self.departing == Departing::Measured {
            return 0.0;
        }
        let [x, y] = [0, 1].map(|a: usize| p[a] - self.law.centre_mm[a]);
        wx * x + wy * y + xx * x * x + xy * x * y + yy * y * y
    }

    fn value(&self, shape: &Shape, p: [f64; 2]) -> f64 {
        match shape {
            Shape::Waves(waves) => waves.at(p),
            Shape::Measured(surface) => {
                let c = self.law.centre_mm;
                let unit = |k: usize| (p[k] - c[k]) / self.law.size_mm + 0.5;
                surface.at(unit(0), unit(1))
            }
        }
    }
}

/// A normal score stretched to heavy tails with unit variance: z·|z|^0.5, whose
/// kurtosis is 6.6 in place of 3.
fn heavy(z: f64) -> f64 {
    // E|z|³ = 2√(2/π) = 1.5957691.
    z * z.abs().sqrt() / 1.595_769_1_f64.sqrt()
}
