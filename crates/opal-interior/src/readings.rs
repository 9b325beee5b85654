//! What the sightings of a bar say of its two fields.

use crate::InteriorError;
use opal_evidence::{BarEvidence, Seen, Sighting};
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
        Self::of(&bar.name, &bar.sightings, 0, grid)
    }

    /// The same for sightings that come after `before` others.
    pub(crate) fn of(
        bar: &str,
        sightings: &[Sighting],
        before: usize,
        grid: &Grid,
    ) -> Result<Self, InteriorError> {
        let high = grid.at(grid.nx - 1, grid.ny - 1);
        let low = grid.origin_mm;
        let mut looks = Vec::with_capacity(sightings.len());
        for (k, sighting) in sightings.iter().enumerate() {
            let at = sighting.at_mm;
            let slack = 1.5 * grid.cell_mm;
            let near = (0..2).all(|a| low[a] - slack <= at[a] && at[a] <= high[a] + slack);
            if !near {
                return Err(InteriorError::Outside {
                    bar: bar.to_owned(),
                    sighting: before + k + 1,
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

    /// Thicknesses that were read, or follow from top and bottom, with their errors, mm.
    pub(crate) fn thicknesses(&self) -> Vec<(f64, f64)> {
        self.0.iter().filter_map(thickness_read).collect()
    }

    pub(crate) fn any_absent(&self) -> bool {
        self.0.iter().any(|l| l.limit == Limit::Absent)
    }

    /// What is known of (top, thickness field) under a law.
    ///
    /// # Method
    /// A bottom is top less thickness. Where the thickness is an exponential it is
    /// taken to first order about the thickness that was read there (or `typical_mm`).
    pub(crate) fn conditions(&self, law: ThicknessLaw, typical_mm: f64) -> Conditions {
        let mut known = Conditions::default();
        for (k, l) in self.0.iter().enumerate() {
            let at = l.at_mm;
            let mut push = |what: What, reading: Reading, value: f64, sd: f64| {
                known.data.push(Datum { reading, value, sd });
                known.from.push((k, what));
            };
            if let Some((value, sd)) = l.top {
                push(What::Top, Reading::first(at), value, sd);
            }
            let about = thickness_read(l)
                .map_or(typical_mm, |(t, _)| t)
                .max(LEAST_SEEN_MM);
            match (l.bottom, law) {
                (None, _) => {}
                (Some((value, sd)), ThicknessLaw::Clipped) => {
                    push(What::Bottom, Reading::difference(at), value, sd);
                }
                (Some((value, sd)), ThicknessLaw::LogNormal) => {
                    let on = [1.0, -about];
                    let value = value + about * (1.0 - about.ln());
                    push(What::Bottom, Reading { at, on }, value, sd);
                }
            }
            match (l.thickness, law) {
                (None, _) => {}
                (Some((value, sd)), ThicknessLaw::Clipped) => {
                    push(What::Thickness, Reading::second(at), value, sd);
                }
                (Some((value, sd)), ThicknessLaw::LogNormal) => {
                    let log = value.max(LEAST_SEEN_MM).ln();
                    known.log_scale += log;
                    push(
                        What::Thickness,
                        Reading::second(at),
                        log,
                        (sd / about).min(1.0),
                    );
                }
            }
            let measured = l.thickness.is_some() || l.bottom.is_some();
            let second = Reading::second(at);
            match (l.limit, law) {
                (Limit::Absent, _) => known.bound(k, Bound::at_most(second, 0.0, 0.0)),
                (Limit::AtLeast(t), ThicknessLaw::Clipped) if !measured => {
                    known.bound(k, Bound::at_least(second, t, 0.0));
                }
                (Limit::AtLeast(t), ThicknessLaw::LogNormal) if !measured && t > LEAST_SEEN_MM => {
                    known.bound(k, Bound::at_least(second, t.ln(), 0.0));
                }
                _ => {}
            }
        }
        known
    }
}

impl Looks {
    /// Thicknesses as data of a field of their own, each with its sighting; errors are
    /// those of the conditions, which may have grown since the sighting.
    pub(crate) fn thickness_data(
        &self,
        known: &Conditions,
        law: ThicknessLaw,
    ) -> Vec<(usize, Datum)> {
        self.0
            .iter()
            .enumerate()
            .filter_map(|(k, look)| {
                let (value, _) = thickness_read(look)?;
                let error = |wanted: What| {
                    let found = known.from.iter().position(|f| *f == (k, wanted))?;
                    Some(known.data[found].sd)
                };
                let about = value.max(LEAST_SEEN_MM);
                let (value, scale) = match law {
                    ThicknessLaw::Clipped => (value, 1.0),
                    ThicknessLaw::LogNormal => (about.ln(), about.recip()),
                };
                let sd = match error(What::Thickness) {
                    Some(sd) => sd,
                    None => scale * error(What::Top)?.hypot(error(What::Bottom)?),
                };
                let reading = Reading::first(look.at_mm);
                Some((k, Datum { reading, value, sd }))
            })
            .collect()
    }
}

/// What a datum was read as.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub(crate) enum What {
    Top,
    Bottom,
    Thickness,
}

impl What {
    pub(crate) fn words(self) -> &'static str {
        match self {
            Self::Top => "top",
            Self::Bottom => "bottom",
            Self::Thickness => "thickness",
        }
    }
}

/// Data and bounds on the two fields, and which sighting each datum is from.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Conditions {
    pub(crate) data: Vec<Datum>,
    pub(crate) from: Vec<(usize, What)>,
    pub(crate) bounds: Vec<Bound>,
    /// Which sighting each bound is from.
    pub(crate) bound_from: Vec<usize>,
    /// Sum of the logarithms of what was read as a thickness: turns the density of
    /// the logarithms into one of millimetres.
    pub(crate) log_scale: f64,
}

impl Conditions {
    fn bound(&mut self, sighting: usize, bound: Bound) {
        self.bounds.push(bound);
        self.bound_from.push(sighting);
    }

    /// The sighting of a datum or, counted on, of a bound.
    pub(crate) fn sighting(&self, index: usize) -> usize {
        match self.from.get(index) {
            Some((sighting, _)) => *sighting,
            None => self.bound_from[index - self.from.len()],
        }
    }

    /// The tops, each with its sighting.
    pub(crate) fn tops(&self) -> Vec<(usize, Datum)> {
        self.data
            .iter()
            .zip(&self.from)
            .filter(|(_, (_, what))| *what == What::Top)
            .map(|(datum, (sighting, _))| (*sighting, *datum))
            .collect()
    }
}

/// The thickness at a sighting, read or from top and bottom, mm.
fn thickness_read(l: &Look) -> Option<(f64, f64)> {
    l.thickness.or_else(|| {
        let ((t, st), (b, sb)) = (l.top?, l.bottom?);
        Some((t - b, st.hypot(sb)))
    })
}
