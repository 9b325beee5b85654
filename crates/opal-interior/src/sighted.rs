//! One bar in every interior, from its sightings.

use crate::bar::{DrawnBar, Setting, lattice, learn, rough_words, typical_thickness};
use crate::readings::{Limit, Looks, ThicknessLaw};
use crate::{BarDraws, InteriorError};
use opal_evidence::{BarEvidence, Sighting};
use opal_geom::Grid;
use opal_geostat::{ConditionalFields, Draft, Ensemble, Refusal};
use rayon::prelude::*;

/// A bar whose fields are known as well as its sightings tell them.
pub(crate) struct Sighted {
    name: String,
    looks: Looks,
    law: ThicknessLaw,
    /// Where a bottom is linear about, where no thickness was read, mm.
    typical_mm: f64,
    rough: f64,
    fields: ConditionalFields,
    warnings: Vec<String>,
}

impl Sighted {
    pub(crate) fn learn(
        bar: &BarEvidence,
        setting: &Setting<'_>,
        progress: &(dyn Fn(f64) + Sync),
    ) -> Result<Self, InteriorError> {
        let looks = Looks::gather(bar, &setting.stone.grid)?;
        let typical = typical_thickness(bar, &looks, &setting.form);
        let learned = learn(bar, &looks, typical, setting, &|share| {
            progress(0.8 * share)
        })?;
        progress(0.8);
        let fields = ConditionalFields::new(
            lattice(setting.stone),
            &learned.fit.draws,
            &learned.known.data,
            &learned.known.bounds,
            setting.seed,
        )
        .map_err(|why| InteriorError::Bar {
            bar: bar.name.clone(),
            why,
        })?;
        progress(1.0);
        Ok(Self {
            name: bar.name.clone(),
            looks,
            law: learned.law,
            typical_mm: typical.median,
            rough: learned.rough,
            fields,
            warnings: learned.warnings,
        })
    }

    pub(crate) fn draw(self, n: usize, progress: &(dyn Fn(f64) + Sync)) -> DrawnBar {
        /// In blocks, so that progress can be told.
        const BLOCK: usize = 100;
        let cells = self.fields.lattice().len();
        let (mut tops, mut thicknesses) = (vec![0.0_f32; n * cells], vec![0.0_f32; n * cells]);
        for first in (0..n).step_by(BLOCK) {
            let end = (first + BLOCK).min(n);
            let block = first * cells..end * cells;
            let out = &mut [&mut tops[block.clone()], &mut thicknesses[block]];
            self.fields.draw_into(first as u64, out);
            progress(end as f64 / n as f64);
        }
        let told = Told::of(&self);
        told.bar(self.law, tops, thicknesses)
    }

    /// Draws the bar and keeps its fields.
    pub(crate) fn keep(self, n: usize, progress: &(dyn Fn(f64) + Sync)) -> KeptBar {
        let told = Told::of(&self);
        KeptBar {
            ensemble: Ensemble::new(self.fields, n, progress),
            looks: self.looks,
            law: self.law,
            typical_mm: self.typical_mm,
            told,
        }
    }
}

/// What is said of a bar.
#[derive(Clone)]
struct Told {
    name: String,
    rests_on: Vec<String>,
    warnings: Vec<String>,
}

impl Told {
    fn of(sighted: &Sighted) -> Self {
        Self {
            name: sighted.name.clone(),
            rests_on: std::iter::once(rests_words(&sighted.name, &sighted.looks, sighted.law))
                .chain(rough_words(&sighted.name, sighted.rough))
                .collect(),
            warnings: sighted.warnings.clone(),
        }
    }

    fn bar(self, law: ThicknessLaw, top_mm: Vec<f32>, mut thickness_mm: Vec<f32>) -> DrawnBar {
        thickness_mm
            .par_iter_mut()
            .for_each(|t| *t = law.thickness(*t));
        DrawnBar {
            draws: BarDraws {
                name: self.name,
                top_mm,
                thickness_mm,
            },
            rests_on: self.rests_on,
            warnings: self.warnings,
        }
    }
}

/// A bar in every interior, ready for further sightings.
#[derive(Clone)]
pub(crate) struct KeptBar {
    ensemble: Ensemble,
    looks: Looks,
    law: ThicknessLaw,
    typical_mm: f64,
    told: Told,
}

/// Further sightings of a bar, weighed and ready to be taken in.
pub(crate) struct BarDraft<'a> {
    fields: Draft<'a>,
    looks: &'a mut Looks,
    more: Looks,
    law: ThicknessLaw,
    told: &'a mut Told,
}

/// Why further sightings of a bar are not taken in.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum BarRefusal {
    /// One, counted from 0 among the new ones, contradicts the others.
    Contradicted { sighting: usize },
    /// They speak for other parameters or another law of thickness.
    Otherwise,
}

impl KeptBar {
    pub(crate) fn weigh(
        &mut self,
        new: &[Sighting],
        grid: &Grid,
    ) -> Result<Result<BarDraft<'_>, BarRefusal>, InteriorError> {
        let name = &self.told.name;
        let more = Looks::of(name, new, self.looks.0.len(), grid)?;
        if self.law == ThicknessLaw::LogNormal && more.any_absent() {
            return Ok(Err(BarRefusal::Otherwise));
        }
        let known = more.conditions(self.law, self.typical_mm);
        let weighed = self
            .ensemble
            .weigh(&known.data, &known.bounds)
            .map_err(|why| InteriorError::Bar {
                bar: name.clone(),
                why,
            })?;
        Ok(match weighed {
            Ok(fields) => Ok(BarDraft {
                fields,
                looks: &mut self.looks,
                more,
                law: self.law,
                told: &mut self.told,
            }),
            Err(Refusal::Contradicted { index, .. }) => Err(BarRefusal::Contradicted {
                sighting: known.sighting(index),
            }),
            Err(Refusal::TooFew { .. }) => Err(BarRefusal::Otherwise),
        })
    }

    pub(crate) fn drawn(&self, cells: usize) -> DrawnBar {
        let n = self.ensemble.len();
        let (mut tops, mut thicknesses) = (vec![0.0_f32; n * cells], vec![0.0_f32; n * cells]);
        self.ensemble.write(0, &mut [&mut tops, &mut thicknesses]);
        self.told.clone().bar(self.law, tops, thicknesses)
    }
}

impl BarDraft<'_> {
    /// Tells in how many interiors the bar had to be drawn anew.
    pub(crate) fn take_in(self) -> usize {
        self.looks.0.extend(self.more.0);
        self.told.rests_on[0] = rests_words(&self.told.name, self.looks, self.law);
        self.fields.take_in()
    }
}

fn rests_words(bar: &str, looks: &Looks, law: ThicknessLaw) -> String {
    let places = looks.0.len();
    let read = looks.thicknesses().len();
    let absent = looks.0.iter().filter(|l| l.limit == Limit::Absent).count();
    let mut words = format!(
        "Bar {}: {} looked at, thickness read at {read}",
        bar,
        if places == 1 {
            "1 place".to_owned()
        } else {
            format!("{places} places")
        },
    );
    if absent > 0 {
        words += &format!(", no colour at {absent}");
    }
    words += match law {
        ThicknessLaw::Clipped => "; the bar may pinch out where it was not seen.",
        ThicknessLaw::LogNormal => {
            "; the readings speak for a bar that thins but does not pinch out."
        }
    };
    words
}
