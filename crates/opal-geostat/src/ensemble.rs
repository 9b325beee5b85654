//! Realisations that take in new readings without being drawn again.

use crate::condition_error::{ConditionError, check_readings};
use crate::conditional::ConditionalFields;
use crate::conditioner::Outlook;
use crate::draft::{Draft, Refusal, Wanted};
use crate::fields::{Bound, Datum, Reading};
use crate::packed::Packed;
use crate::particles::Particle;
use crate::slots::Workspace;
use crate::system::SystemError;
use crate::truncated::standard_normal;
use opal_units::Seed;
use rayon::prelude::*;

/// So many realisations of [`ConditionalFields`], kept so that they can take in new
/// readings.
///
/// # Method
/// The ensemble form of Matheron's rule: a realisation gains
/// c·(y − reading − error)/(v + σ²), with c the posterior covariance of the fields with
/// the new reading and v its posterior variance, both from all readings taken in before
/// it. A bounded reading that a realisation meets already is kept as it is; else it is
/// drawn from its truncated law. What is not Gaussian, model and bounded readings, is a
/// weighted sample: it is reweighted by the new reading's likelihood and resampled
/// systematically (Kitagawa 1996, J. Comp. Graph. Stat. 5), with the fields integrated
/// out (Rao-Blackwell; Doucet et al. 2000). A realisation whose model gives way is drawn
/// anew under the one that takes its place; the others keep their luck.
///
/// # Validity
/// The models are those of the first readings: they are weighed anew, not fitted anew.
/// Fields are kept in two bytes a node, to within a hundred-thousandth of their span.
#[derive(Clone)]
pub struct Ensemble {
    pub(crate) fields: ConditionalFields,
    pub(crate) particles: Vec<Particle>,
    /// By field, then by realisation.
    values: Vec<Vec<Packed>>,
    pub(crate) taken: Vec<Taken>,
    pub(crate) next_free: u64,
}

/// A reading that was taken in, as each model foresaw it.
#[derive(Clone)]
pub(crate) struct Taken {
    pub(crate) reading: Reading,
    pub(crate) nodes: [(usize, f64); 4],
    pub(crate) of_model: Vec<Foreseen>,
}

#[derive(Clone)]
pub(crate) struct Foreseen {
    pub(crate) outlook: Outlook,
    /// Its variance, error included.
    pub(crate) variance: f64,
    /// Covariance with each reading that was taken in before it.
    pub(crate) with: Vec<f64>,
}

impl Ensemble {
    /// Draws realisations 0 to `n − 1` and keeps them. `progress` is told the share
    /// done.
    #[must_use]
    pub fn new(fields: ConditionalFields, n: usize, progress: &(dyn Fn(f64) + Sync)) -> Self {
        /// Realisations drawn at once. Chosen: enough for any number of threads.
        const BLOCK: usize = 64;
        let cells = fields.lattice().len();
        let mut values = vec![Vec::with_capacity(n); fields.fields()];
        let mut block = vec![vec![0.0_f32; BLOCK.min(n) * cells]; fields.fields()];
        for first in (0..n).step_by(BLOCK) {
            let count = BLOCK.min(n - first);
            let mut out: Vec<&mut [f32]> = block
                .iter_mut()
                .map(|field| &mut field[..count * cells])
                .collect();
            fields.draw_into(first as u64, &mut out);
            for (values, field) in values.iter_mut().zip(&block) {
                let packed = field[..count * cells]
                    .par_chunks_exact(cells)
                    .map(Packed::new);
                values.par_extend(packed);
            }
            progress((first + count) as f64 / n as f64);
        }
        let particles = (0..n as u64)
            .into_par_iter()
            .map(|i| {
                // One field comes in pairs, which share their model.
                let model = fields.model_of(i);
                Particle::new(model, i, fields.bounded(model, i))
            })
            .collect();
        Self {
            particles,
            values,
            taken: Vec::new(),
            next_free: n as u64,
            fields,
        }
    }

    /// How many realisations.
    #[must_use]
    pub fn len(&self) -> usize {
        self.particles.len()
    }

    /// True when there is none.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.particles.is_empty()
    }

    /// Writes realisations `first..` as [`ConditionalFields::draw_into`] does.
    pub fn write(&self, first: usize, out: &mut [&mut [f32]]) {
        let cells = self.fields.lattice().len();
        for (values, out) in self.values.iter().zip(out) {
            out.par_chunks_exact_mut(cells)
                .zip(&values[first..])
                .for_each(|(out, packed)| packed.write(out));
        }
    }

    /// Weighs new readings: gives what [`Draft::take_in`] then carries out, or why the
    /// fields have to be drawn again.
    ///
    /// # Errors
    /// A reading lies outside the lattice, is not a number, or repeats another without
    /// error.
    pub fn weigh(
        &mut self,
        data: &[Datum],
        bounds: &[Bound],
    ) -> Result<Result<Draft<'_>, Refusal>, ConditionError> {
        check_readings(&self.fields.lattice(), data, bounds)?;
        let mut draft = Draft {
            particles: self.particles.clone(),
            taken: self.taken.clone(),
            next_free: self.next_free,
            ensemble: self,
        };
        let data = data
            .iter()
            .map(|d| (d.reading, d.sd, Wanted::Value(d.value)));
        let bounds = bounds
            .iter()
            .map(|b| (b.reading, b.sd, Wanted::Between(b.lower, b.upper)));
        for (index, (reading, sd, wanted)) in data.chain(bounds).enumerate() {
            if let Err(refusal) = draft.weigh(index, reading, sd, wanted)? {
                return Ok(Err(refusal));
            }
        }
        Ok(Ok(draft))
    }

    /// Moves every realisation to the readings from number `from` on; those numbered
    /// `fresh_from` and later are drawn first and moved to all of them.
    pub(crate) fn carry_over(&mut self, from: usize, fresh_from: u64) {
        if from == self.taken.len() {
            return;
        }
        let cells = self.fields.lattice().len();
        let mut by_member: Vec<Vec<&mut Packed>> =
            self.particles.iter().map(|_| Vec::new()).collect();
        for field in &mut self.values {
            for (member, packed) in by_member.iter_mut().zip(field) {
                member.push(packed);
            }
        }
        let (fields, taken, count) = (&self.fields, &self.taken, self.fields.fields());
        let mut members: Vec<_> = by_member.into_iter().zip(&self.particles).collect();
        members.sort_by_key(|(_, particle)| particle.model);
        members.into_par_iter().for_each_init(
            || (Workspace::default(), vec![vec![0.0_f32; cells]; count]),
            |(work, scratch), (packed, particle)| {
                let fresh = particle.free >= fresh_from;
                if fresh {
                    let Particle {
                        model,
                        free,
                        bounded,
                        ..
                    } = particle;
                    fields.draw_under(*model, *free, bounded, scratch, work);
                } else {
                    for (packed, out) in packed.iter().zip(scratch.iter_mut()) {
                        packed.write(out);
                    }
                }
                let first = if fresh { 0 } else { from };
                for (k, reading) in taken.iter().enumerate().skip(first) {
                    let foreseen = &reading.of_model[particle.model];
                    let read = reading.of(|field, node| f64::from(scratch[field][node]));
                    let error = error_of(fields.seed(), k, particle.free, foreseen);
                    let step = (particle.values[k] - read - error) / foreseen.variance;
                    for (out, column) in scratch.iter_mut().zip(&foreseen.outlook.columns) {
                        let step = step as f32;
                        for (value, c) in out.iter_mut().zip(column) {
                            *value += step * c;
                        }
                    }
                }
                for (packed, out) in packed.into_iter().zip(scratch.iter()) {
                    packed.put(out);
                }
            },
        );
    }
}

/// The error of reading `k` in a realisation.
pub(crate) fn error_of(seed: Seed, k: usize, free: u64, foreseen: &Foreseen) -> f64 {
    let sd = foreseen.outlook.noise_sd;
    if sd == 0.0 {
        return 0.0;
    }
    sd * standard_normal(&mut seed.child("absorbed", k as u64).stream("error", free))
}

impl Taken {
    /// The reading of something given at the nodes of each field.
    fn of(&self, at: impl Fn(usize, usize) -> f64) -> f64 {
        self.reading
            .on
            .iter()
            .enumerate()
            .filter(|(_, on)| **on != 0.0)
            .map(|(field, on)| {
                let mean: f64 = self.nodes.iter().map(|&(k, w)| w * at(field, k)).sum();
                on * mean
            })
            .sum()
    }
}

impl Ensemble {
    /// Reading `now` of realisation `i` as it would be after the readings that are
    /// drafted but not yet carried over.
    pub(crate) fn reads(&self, i: usize, particle: &Particle, taken: &[Taken], now: &Taken) -> f64 {
        let kept =
            |reading: &Taken| reading.of(|field, node| f64::from(self.values[field][i].at(node)));
        let mut steps: Vec<f64> = Vec::new();
        let first = self.taken.len();
        let moved = |reading: &Taken, with: &[f64], steps: &[f64]| {
            kept(reading)
                + steps
                    .iter()
                    .zip(&with[first..])
                    .map(|(s, c)| s * c)
                    .sum::<f64>()
        };
        for (k, reading) in taken.iter().enumerate().skip(first) {
            let foreseen = &reading.of_model[particle.model];
            let error = error_of(self.fields.seed(), k, particle.free, foreseen);
            let read = moved(reading, &foreseen.with, &steps);
            steps.push((particle.values[k] - read - error) / foreseen.variance);
        }
        moved(now, &now.of_model[particle.model].with, &steps)
    }
}

impl Foreseen {
    /// What the readings taken in since leave of an outlook from the first ones.
    pub(crate) fn after(
        mut outlook: Outlook,
        taken: &[Taken],
        model: usize,
        now: &Taken,
        index: usize,
    ) -> Result<Self, ConditionError> {
        let mut with = Vec::with_capacity(taken.len());
        let prior = outlook.variance;
        for earlier in taken {
            let earlier = &earlier.of_model[model];
            let columns = &earlier.outlook.columns;
            let covariance = now.of(|field, node| f64::from(columns[field][node]));
            let share = (covariance / earlier.variance) as f32;
            for (column, taken) in outlook.columns.iter_mut().zip(columns) {
                for (value, c) in column.iter_mut().zip(taken) {
                    *value -= share * c;
                }
            }
            outlook.variance -= covariance * covariance / earlier.variance;
            with.push(covariance);
        }
        // A variance that has lost its digits says that nothing is left to learn.
        outlook.variance = outlook.variance.max(1e-9 * prior);
        let variance = outlook.variance + outlook.noise_sd * outlook.noise_sd;
        if variance <= 0.0 || variance.is_nan() {
            return Err(SystemError::Repeated { index }.into());
        }
        Ok(Self {
            outlook,
            variance,
            with,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fields::{FieldModel, FieldSet, WeightedModel};
    use crate::kernel::Kernel;
    use crate::lattice::Lattice;
    use crate::model::CovarianceModel;
    use crate::trend::{CoefficientPrior, Drift, Trend};

    /// What the ensemble foresees of a reading, after it took in others one by one, is
    /// the kriging mean and variance from all of them at once.
    #[test]
    fn foresees_what_kriging_from_all_readings_does() {
        let lattice = Lattice {
            nx: 24,
            ny: 18,
            cell: 1.0,
            origin: [0.0, 0.0],
        };
        let field = |sill, range, drift: Drift| {
            // Rough, since only a rough field is read by the same four nodes.
            let covariance = CovarianceModel::isotropic(Kernel::Matern12, sill, range);
            let trend = Trend::about(drift, lattice.centre());
            FieldModel {
                coefficients: vec![CoefficientPrior::Normal { mean: 1.0, sd: 2.0 }; trend.terms()],
                trend,
                covariance,
            }
        };
        let model = FieldSet::pair(
            field(1.0, 6.0, Drift::Plane),
            field(0.4, 4.0, Drift::Constant),
            0.4,
        );
        let models = [WeightedModel { weight: 1.0, model }];
        let datum = |reading, value, sd| Datum { reading, value, sd };
        let mut data = vec![
            datum(Reading::first([3.0, 4.0]), 1.5, 0.1),
            datum(Reading::second([20.0, 3.0]), 0.5, 0.05),
            datum(Reading::difference([11.2, 13.5]), 0.9, 0.1),
        ];
        let new = [
            datum(Reading::difference([12.0, 12.5]), 1.1, 0.1),
            datum(Reading::second([5.0, 5.0]), 0.2, 0.2),
            datum(Reading::first([18.5, 6.25]), 1.9, 0.0),
            datum(Reading::first([9.0, 9.0]), 1.2, 0.1),
        ];
        let condition = |data: &[Datum]| {
            ConditionalFields::new(lattice, &models, data, &[], Seed(3)).expect("conditions")
        };
        let mut ensemble = Ensemble::new(condition(&data), 8, &|_| {});
        for datum in new {
            let want = condition(&data).predict(0, &datum.reading).expect("inside");
            let weighed = ensemble.weigh(&[datum], &[]).expect("weighs");
            assert_eq!(weighed.expect("agrees").take_in(), 0);
            let foreseen = &ensemble.taken.last().expect("taken").of_model[0];
            let sd = foreseen.outlook.variance.sqrt();
            assert!((sd - want.1).abs() < 1e-5, "{sd} {}", want.1);
            let innovation = ensemble.particles[0].innovations.last().expect("taken");
            let mean = datum.value - innovation * foreseen.variance;
            assert!((mean - want.0).abs() < 1e-5, "{mean} {}", want.0);
            data.push(datum);
        }
    }
}
