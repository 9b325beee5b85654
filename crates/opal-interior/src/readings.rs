//! What the sightings of a bar say of its two fields.

use crate::InteriorError;
use crate::parameters::{FieldBound, FieldReading};
use opal_evidence::{BarEvidence, Seen};
use opal_geom::Grid;
use opal_geostat::{Bound, Datum, Reading};

/// The least error that a reading is believed to have, mm.
/// chosen: a loupe and a scale do not read closer.
const LEAST_SD_MM: f64 = 0.02;
/// A bar that is 'here, nothing measured' is at least this thick, mm.
const LEAST_SEEN_MM: f64 = 0.05;

/// How thickness follows from its field.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub(crate) enum ThicknessLaw {
    /// The field itself, and absent where it is below 0.
    Clipped,
    /// Its exponential: never absent.
    LogNormal,
}

impl ThicknessLaw {
    pub(crate) fn thickness(self, field: f32) -> f32 {
        match self {
            Self::Clipped => field.max(0.0),
            Self::LogNormal => field.exp(),
        }
    }
}

/// One sighting, in mm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Look {
    pub(crate) at_mm: [f64; 2],
    /// Values with one standard deviation.
    pub(crate) top: Option<(f64, f64)>,
    pub(crate) bottom: Option<(f64, f64)>,
    pub(crate) thickness: Option<(f64, f64)>,
    pub(crate) limit: Limit,
}

/// What a sighting says of the thickness beside its readings.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Limit {
    None,
    AtLeast(f64),
    Absent,
}

/// All sightings of one bar.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Looks(pub(crate) Vec<Look>);

impl Looks {
    /// Takes the sightings over, places drawn onto the grid where they lie less
    /// than a cell beyond it.
    pub(crate) fn gather(bar: &BarEvidence, grid: &Grid) -> Result<Self, InteriorError> {
        let high = grid.at(grid.nx - 1, grid.ny - 1);
        let low = grid.origin_mm;
        let mut looks = Vec::with_capacity(bar.sightings.len());
        for (k, sighting) in bar.sightings.iter().enumerate() {
            let at = sighting.at_mm;
            let slack = 1.5 * grid.cell_mm;
            let near = (0..2).all(|a| low[a] - slack <= at[a] && at[a] <= high[a] + slack);
            if !near {
                return Err(InteriorError::Outside {
                    bar: bar.name.clone(),
                    sighting: k + 1,
                    at_mm: at,
                    low_mm: low,
                    high_mm: high,
                });
            }
            let read = |r: opal_evidence::Reading| (r.value.mm(), r.sigma.mm().max(LEAST_SD_MM));
            let mut look = Look {
                at_mm: [0, 1].map(|a: usize| at[a].clamp(low[a], high[a])),
                top: None,
                bottom: None,
                thickness: None,
                limit: Limit::None,
            };
            match sighting.seen {
                Seen::Measured {
                    top,
                    bottom,
                    thickness,
                } => {
                    look.top = top.map(read);
                    look.bottom = bottom.map(read);
                    look.thickness = thickness.map(read);
                    // It was seen, so it is there.
                    look.limit = Limit::AtLeast(LEAST_SEEN_MM);
                }
                Seen::AtLeast { thickness, top } => {
                    look.top = top.map(read);
                    look.limit = Limit::AtLeast(thickness.mm().max(LEAST_SEEN_MM));
                }
                Seen::Absent => look.limit = Limit::Absent,
            }
            looks.push(look);
        }
        Ok(Self(looks))
    }

    /// Readings of the top.
    pub(crate) fn tops(&self) -> Vec<FieldReading> {
        self.0
            .iter()
            .filter_map(|l| {
                // A bottom with a thickness is a top.
                let (value, sd) = l.top.or_else(|| {
                    let ((b, sb), (t, st)) = (l.bottom?, l.thickness?);
                    Some((b + t, sb.hypot(st)))
                })?;
                Some(FieldReading {
                    at_mm: l.at_mm,
                    value,
                    sd,
                })
            })
            .collect()
    }

    /// Readings of the thickness, mm.
    pub(crate) fn thicknesses(&self) -> Vec<FieldReading> {
        self.0
            .iter()
            .filter_map(|l| {
                let (value, sd) = thickness_read(l)?;
                Some(FieldReading {
                    at_mm: l.at_mm,
                    value,
                    sd,
                })
            })
            .collect()
    }

    /// Limits of the thickness where no reading says more, mm.
    pub(crate) fn limits(&self) -> Vec<FieldBound> {
        self.0
            .iter()
            .filter(|l| thickness_read(l).is_none())
            .filter_map(|l| {
                let (lower, upper) = match l.limit {
                    Limit::None => return None,
                    Limit::AtLeast(t) => (t, f64::INFINITY),
                    Limit::Absent => (f64::NEG_INFINITY, 0.0),
                };
                Some(FieldBound {
                    at_mm: l.at_mm,
                    lower,
                    upper,
                })
            })
            .collect()
    }

    pub(crate) fn any_absent(&self) -> bool {
        self.0.iter().any(|l| l.limit == Limit::Absent)
    }

    /// Data and bounds on (top, thickness field) under a law.
    ///
    /// # Method
    /// A bottom is top less thickness. Where the thickness is an exponential it is
    /// taken to first order about the thickness that was read there (or `typical`).
    pub(crate) fn conditions(
        &self,
        law: ThicknessLaw,
        typical_mm: f64,
    ) -> (Vec<Datum>, Vec<Bound>) {
        let mut data = Vec::new();
        let mut bounds = Vec::new();
        for l in &self.0 {
            let at = l.at_mm;
            if let Some((value, sd)) = l.top {
                data.push(Datum {
                    reading: Reading::first(at),
                    value,
                    sd,
                });
            }
            let about = thickness_read(l)
                .map_or(typical_mm, |(t, _)| t)
                .max(LEAST_SEEN_MM);
            if let Some((value, sd)) = l.bottom {
                data.push(match law {
                    ThicknessLaw::Clipped => Datum {
                        reading: Reading::difference(at),
                        value,
                        sd,
                    },
                    ThicknessLaw::LogNormal => Datum {
                        reading: Reading {
                            at,
                            on: [1.0, -about],
                        },
                        value: value + about * (1.0 - about.ln()),
                        sd,
                    },
                });
            }
            if let Some((value, sd)) = l.thickness {
                data.push(match law {
                    ThicknessLaw::Clipped => Datum {
                        reading: Reading::second(at),
                        value,
                        sd,
                    },
                    ThicknessLaw::LogNormal => {
                        let (value, sd) = logarithm(value, sd);
                        Datum {
                            reading: Reading::second(at),
                            value,
                            sd,
                        }
                    }
                });
            }
            let measured = l.thickness.is_some() || l.bottom.is_some();
            match (l.limit, law) {
                (Limit::Absent, _) => bounds.push(Bound::at_most(Reading::second(at), 0.0, 0.0)),
                (Limit::AtLeast(t), ThicknessLaw::Clipped) if !measured => {
                    bounds.push(Bound::at_least(Reading::second(at), t, 0.0));
                }
                (Limit::AtLeast(t), ThicknessLaw::LogNormal) if !measured && t > LEAST_SEEN_MM => {
                    bounds.push(Bound::at_least(Reading::second(at), t.ln(), 0.0));
                }
                _ => {}
            }
        }
        (data, bounds)
    }
}

/// The thickness at a sighting, read or from top and bottom, mm.
fn thickness_read(l: &Look) -> Option<(f64, f64)> {
    l.thickness.or_else(|| {
        let ((t, st), (b, sb)) = (l.top?, l.bottom?);
        Some((t - b, st.hypot(sb)))
    })
}

/// A positive reading as its logarithm, to first order.
pub(crate) fn logarithm(value: f64, sd: f64) -> (f64, f64) {
    let about = value.max(LEAST_SEEN_MM);
    (about.ln(), (sd / about).min(1.0))
}

impl Looks {
    /// Gives the `k`-th of [`Self::tops`] a larger error.
    pub(crate) fn distrust_top(&mut self, k: usize, by_mm: f64) {
        let with_top =
            |l: &&mut Look| l.top.is_some() || (l.bottom.is_some() && l.thickness.is_some());
        if let Some(look) = self.0.iter_mut().filter(with_top).nth(k) {
            let more = |r: (f64, f64)| (r.0, r.1.hypot(by_mm));
            // Where the top was misread the bottom beside it is no better.
            look.top = look.top.map(more);
            look.bottom = look.bottom.map(more);
        }
    }

    /// Gives the `k`-th of [`Self::thicknesses`] a larger error.
    pub(crate) fn distrust_thickness(&mut self, k: usize, by_mm: f64) {
        let with_thickness = |l: &&mut Look| thickness_read(l).is_some();
        if let Some(look) = self.0.iter_mut().filter(with_thickness).nth(k) {
            let more = |r: (f64, f64)| (r.0, r.1.hypot(by_mm));
            match look.thickness {
                Some(read) => look.thickness = Some(more(read)),
                None => look.bottom = look.bottom.map(more),
            }
        }
    }
}
