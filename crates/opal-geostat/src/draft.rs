//! New readings weighed against an ensemble, before it takes them in.

use crate::condition_error::ConditionError;
use crate::ensemble::{Ensemble, Foreseen, Taken, error_of};
use crate::fields::Reading;
use crate::particles::{Particle, resample};
use crate::truncated::{normal_between, normal_upper_tail, truncated_standard_normal};
use opal_units::Rng;
use rayon::prelude::*;

/// Chance under which a new reading contradicts the others: beyond 3.5 standard
/// deviations on either side. Chosen: one honest reading in two thousand does.
const CONTRADICTS: f64 = 4.65e-4;
/// Share of the realisations, or of the models' sample, that the reweighting must be
/// worth. Chosen: below a third, a dozen models that were drawn for other readings come
/// down to three or four.
const LEAST_WORTH: f64 = 0.33;

/// Why new readings were not taken in: draw again, and fit the models again.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Refusal {
    /// A reading contradicts the others.
    Contradicted {
        /// Which: data first, then bounds.
        index: usize,
        /// The chance of one so far off.
        chance: f64,
    },
    /// The readings speak for models of which few were drawn.
    TooFew {
        /// What share of the sample would still count.
        worth: f64,
    },
}

/// What a new reading may be.
#[derive(Clone, Copy)]
pub(crate) enum Wanted {
    Value(f64),
    Between(f64, f64),
}

/// New readings, weighed and ready to be taken in; dropped, it changes nothing.
pub struct Draft<'a> {
    pub(crate) ensemble: &'a mut Ensemble,
    pub(crate) particles: Vec<Particle>,
    pub(crate) taken: Vec<Taken>,
    pub(crate) next_free: u64,
}

impl Draft<'_> {
    /// Moves the realisations to the new readings. Tells how many had to be drawn anew.
    pub fn take_in(self) -> usize {
        let ensemble = self.ensemble;
        let (before, fresh_from) = (ensemble.taken.len(), ensemble.next_free);
        ensemble.particles = self.particles;
        ensemble.taken = self.taken;
        ensemble.next_free = self.next_free;
        ensemble.carry_over(before, fresh_from);
        let fresh = |p: &&Particle| p.free >= fresh_from;
        ensemble.particles.iter().filter(fresh).count()
    }

    pub(crate) fn weigh(
        &mut self,
        index: usize,
        reading: Reading,
        sd: f64,
        wanted: Wanted,
    ) -> Result<Result<(), Refusal>, ConditionError> {
        let fields = &self.ensemble.fields;
        let lattice = fields.lattice();
        let outside = ConditionError::Outside {
            index,
            at: reading.at,
        };
        let nodes = lattice.bilinear(reading.at).ok_or(outside.clone())?;
        let nodes = fields.on_one_side(reading.at, nodes);
        let mut now = Taken {
            reading,
            nodes,
            of_model: Vec::new(),
        };
        now.of_model = (0..fields.models())
            .into_par_iter()
            .map(|model| {
                let outlook = fields
                    .conditioner(model)
                    .outlook(&lattice, &reading, sd)
                    .ok_or(outside.clone())?;
                Foreseen::after(outlook, &self.taken, model, &now, index)
            })
            .collect::<Result<_, _>>()?;

        // What each realisation expects of it, and how likely what was read is.
        let k = self.taken.len();
        let means: Vec<f64> = self
            .particles
            .iter()
            .map(|p| {
                let foreseen = &now.of_model[p.model];
                p.expects(
                    foreseen.outlook.mean,
                    &foreseen.outlook.per_bounded,
                    &foreseen.with,
                )
            })
            .collect();
        let spread = |p: &Particle| now.of_model[p.model].variance.sqrt();
        let mut weights = Vec::with_capacity(means.len());
        let (mut below, mut within) = (0.0, 0.0);
        for (p, mean) in self.particles.iter().zip(&means) {
            let sd = spread(p);
            match wanted {
                Wanted::Value(value) => {
                    let z = (value - mean) / sd;
                    below += 1.0 - normal_upper_tail(z);
                    weights.push((-0.5 * z * z).exp() / sd);
                }
                Wanted::Between(lower, upper) => {
                    let chance = normal_between((lower - mean) / sd, (upper - mean) / sd);
                    within += chance;
                    weights.push(chance);
                }
            }
        }
        let n = self.particles.len() as f64;
        let chance = match wanted {
            Wanted::Value(_) => 2.0 * (below / n).min(1.0 - below / n),
            Wanted::Between(..) => within / n,
        };
        if chance < CONTRADICTS {
            return Ok(Err(Refusal::Contradicted { index, chance }));
        }
        let worth = self.worth(&weights);
        if worth < LEAST_WORTH {
            return Ok(Err(Refusal::TooFew { worth }));
        }
        let seed = fields.seed().child("absorbed", k as u64);
        let means = resample(
            &mut self.particles,
            &weights,
            &means,
            &mut seed.stream("resample", 0),
            &mut self.next_free,
        );
        let ensemble = &*self.ensemble;
        let taken = &self.taken;
        self.particles
            .par_iter_mut()
            .zip(&means)
            .enumerate()
            .for_each(|(i, (p, &mean))| {
                let foreseen = &now.of_model[p.model];
                let value = match wanted {
                    Wanted::Value(value) => value,
                    Wanted::Between(lower, upper) => {
                        let held = (p.free < ensemble.next_free).then(|| {
                            ensemble.reads(i, p, taken, &now)
                                + error_of(fields.seed(), k, p.free, foreseen)
                        });
                        match held {
                            Some(read) if (lower..=upper).contains(&read) => read,
                            _ => {
                                let rng = &mut seed.stream("bounded", i as u64);
                                within_limits(rng, mean, foreseen.variance.sqrt(), lower, upper)
                            }
                        }
                    }
                };
                p.values.push(value);
                p.innovations.push((value - mean) / foreseen.variance);
            });
        self.taken.push(now);
        Ok(Ok(()))
    }

    /// What share of the realisations would still count, and what share of the models'
    /// first sample.
    fn worth(&self, weights: &[f64]) -> f64 {
        let total: f64 = weights.iter().sum();
        let squares: f64 = weights.iter().map(|w| w * w).sum();
        let fields = &self.ensemble.fields;
        let mut shares = vec![0.0; fields.models()];
        for (p, w) in self.particles.iter().zip(weights) {
            shares[p.model] += w / total;
        }
        let models: f64 = shares
            .iter()
            .enumerate()
            .map(|(model, share)| share * share / fields.weight(model))
            .sum();
        (total * total / (squares * weights.len() as f64)).min(models.recip())
    }
}

fn within_limits(rng: &mut Rng, mean: f64, sd: f64, lower: f64, upper: f64) -> f64 {
    let z = truncated_standard_normal(rng, (lower - mean) / sd, (upper - mean) / sd);
    (mean + sd * z).clamp(lower, upper)
}
