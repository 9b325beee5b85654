//! Fields that honour readings exactly: free fields plus the kriged residual.

use crate::condition_error::{ConditionError, check_readings};
use crate::conditioner::{Conditioner, Row};
use crate::fields::{Bound, Datum, Reading, WeightedModel};
use crate::lattice::Lattice;
use crate::slots::{Slots, Workspace};
use opal_units::Seed;
use rayon::prelude::*;
use std::sync::Arc;

/// One or two fields on a lattice, conditioned on readings.
///
/// Realisation i depends on (seed, i) only, and is the same on any number of
/// threads.
///
/// # Method
/// Matheron's rule (Journel & Huijbregts 1978, §VII.A; Wilson et al. 2021, JMLR
/// 22): a free field by circulant embedding, plus the covariance times
/// K⁻¹(y − field − error). Mean and full covariance are those of the posterior.
/// The covariance used for the readings is the one the torus carries, so field
/// and readings agree to rounding even where the embedding had to be clipped
/// ([`ConditionalFields::clipped_share`]). Smooth fields are drawn on a coarser lattice
/// and carried to the nodes by a cubic spline, which changes no covariance by more than
/// a thousandth of the sill. A reading between nodes reads that spline, or for rough
/// fields the bilinear mean of the four nodes around it. A bounded reading is drawn from its truncated
/// distribution given the data, one draw an interior, and honoured as a datum.
/// Several models are used in turn, in proportion to their weights.
///
/// # Validity
/// Nuggets count as error of the readings, so the fields are the smooth part.
/// With flat trend coefficients the data alone (not the bounds) must determine
/// them.
#[derive(Clone)]
pub struct ConditionalFields {
    lattice: Lattice,
    seed: Seed,
    fields: usize,
    /// Cumulative weights, the last 1.
    cumulative: Vec<f64>,
    conditioners: Vec<Conditioner>,
}

impl ConditionalFields {
    /// Prepares fields that honour `data` and `bounds` under the weighted models.
    ///
    /// # Errors
    /// Names the lattice, the model or the reading that cannot be used, with its
    /// value and the limit.
    pub fn new(
        lattice: Lattice,
        models: &[WeightedModel],
        data: &[Datum],
        bounds: &[Bound],
        seed: Seed,
    ) -> Result<Self, ConditionError> {
        if lattice.is_empty() || !(lattice.cell > 0.0 && lattice.cell.is_finite()) {
            return Err(ConditionError::Lattice {
                nx: lattice.nx,
                ny: lattice.ny,
                cell: lattice.cell,
            });
        }
        let used: Vec<&WeightedModel> = models.iter().filter(|m| m.weight > 0.0).collect();
        let total: f64 = used.iter().map(|m| m.weight).sum();
        let first = used.first().ok_or(ConditionError::NoModel)?;
        let fields = first.model.fields.len();
        if !total.is_finite() {
            return Err(ConditionError::NoModel);
        }
        for (index, weighted) in used.iter().enumerate() {
            weighted.model.check()?;
            if weighted.model.fields.len() != fields {
                return Err(ConditionError::Fields {
                    index,
                    fields: weighted.model.fields.len(),
                    expected: fields,
                });
            }
        }
        check_readings(&lattice, data, bounds)?;
        let mut running = 0.0;
        let cumulative = used
            .iter()
            .map(|weighted| {
                running += weighted.weight / total;
                running
            })
            .collect();
        let conditioners = used
            .par_iter()
            .map(|weighted| {
                let covariances: Vec<_> =
                    weighted.model.fields.iter().map(|f| f.covariance).collect();
                let slots = Arc::new(Slots::new(lattice, &covariances));
                Conditioner::new(weighted.model.clone(), slots, data, bounds)
            })
            .collect::<Result<Vec<_>, _>>()?;
        Ok(Self {
            lattice,
            seed,
            fields,
            cumulative,
            conditioners,
        })
    }

    /// How many fields each realisation has: 1 or 2.
    #[must_use]
    pub fn fields(&self) -> usize {
        self.fields
    }

    /// The lattice.
    #[must_use]
    pub fn lattice(&self) -> Lattice {
        self.lattice
    }

    /// How many models are in use.
    #[must_use]
    pub fn models(&self) -> usize {
        self.conditioners.len()
    }

    /// Largest share of a model's variance that the embedding had to clip: about
    /// the error of the covariance over the sill.
    #[must_use]
    pub fn clipped_share(&self) -> f64 {
        self.conditioners
            .iter()
            .map(|c| c.slots.clipped_share())
            .fold(0.0, f64::max)
    }

    /// Sides of the largest torus, in nodes.
    #[must_use]
    pub fn torus(&self) -> (usize, usize) {
        self.conditioners
            .iter()
            .map(|c| c.slots.torus_size())
            .max_by_key(|(x, y)| x * y)
            .unwrap_or((0, 0))
    }

    /// Which model realisation `i` is drawn from.
    ///
    /// # Method
    /// The golden-ratio sequence (Weyl 1916) against the cumulative weights: any
    /// run of realisations has each model close to its share.
    #[must_use]
    pub fn model_of(&self, i: u64) -> usize {
        // With one field two realisations come from one transform.
        let step = if self.fields == 1 { i / 2 } else { i };
        const GOLDEN: f64 = 0.618_033_988_749_894_9;
        let at = (0.5 + step as f64 * GOLDEN).fract();
        self.cumulative
            .iter()
            .position(|c| at < *c)
            .unwrap_or(self.cumulative.len() - 1)
    }

    /// Posterior mean and standard deviation of a reading under one model, from
    /// the data (bounds are not used), or `None` outside the lattice.
    #[must_use]
    pub fn predict(&self, model: usize, reading: &Reading) -> Option<(f64, f64)> {
        let conditioner = self.conditioners.get(model)?;
        let row = Row::new(&conditioner.slots, &conditioner.model, reading, 0.0)?;
        Some(conditioner.predict(&row))
    }

    /// Posterior covariance of two readings under one model, from the data.
    #[must_use]
    pub fn predict_covariance(&self, model: usize, a: &Reading, b: &Reading) -> Option<f64> {
        let conditioner = self.conditioners.get(model)?;
        let a = Row::new(&conditioner.slots, &conditioner.model, a, 0.0)?;
        let b = Row::new(&conditioner.slots, &conditioner.model, b, 0.0)?;
        Some(conditioner.posterior_covariance(&a, &b))
    }

    /// Writes realisations `first..` into one slice for each field, realisation
    /// after realisation, each of `lattice.len()` numbers.
    ///
    /// # Validity
    /// The slices must be of equal length, a multiple of the lattice's; what is left
    /// over is not written.
    pub fn draw_into(&self, first: u64, out: &mut [&mut [f32]]) {
        let cells = self.lattice.len();
        match out {
            [only] if self.fields == 1 => {
                // An odd start is the second half of its transform.
                let split = if first % 2 == 1 {
                    cells.min(only.len())
                } else {
                    0
                };
                let (head, tail) = only.split_at_mut(split);
                let own = |pair: u64| {
                    let model = self.model_of(2 * pair);
                    let bounded = move |i| self.bounded(model, i);
                    (
                        Pair {
                            model,
                            number: pair,
                        },
                        bounded,
                    )
                };
                if split == cells {
                    let (pair, bounded) = own(first / 2);
                    self.draw_pair(pair, bounded, &mut [], head, &mut Workspace::default());
                }
                let start = first.div_ceil(2);
                let mut chunks: Vec<_> = tail
                    .chunks_mut(2 * cells)
                    .zip(start..)
                    .map(|(chunk, number)| (own(number), chunk))
                    .collect();
                chunks.sort_by_key(|((pair, _), _)| pair.model);
                chunks.into_par_iter().for_each_init(
                    Workspace::default,
                    |work, ((pair, bounded), chunk)| {
                        let (even, odd) = chunk.split_at_mut(cells.min(chunk.len()));
                        self.draw_pair(pair, bounded, even, odd, work);
                    },
                );
            }
            [one, two] if self.fields == 2 => {
                let mut members: Vec<_> = one
                    .chunks_exact_mut(cells)
                    .zip(two.chunks_exact_mut(cells))
                    .zip(first..)
                    .map(|(fields, i)| (self.model_of(i), i, fields))
                    .collect();
                // One model after the other: its spectrum stays in the cache, and the
                // workspace keeps its size.
                members.sort_by_key(|(model, ..)| *model);
                members.into_par_iter().for_each_init(
                    Workspace::default,
                    |work, (model, i, (one, two))| {
                        let bounded = self.bounded(model, i);
                        self.draw_both(model, i, &bounded, one, two, work);
                    },
                );
            }
            _ => {}
        }
    }

    /// Realisation `i`, one vector for each field.
    #[must_use]
    pub fn draw(&self, i: u64) -> Vec<Vec<f32>> {
        let mut fields = vec![vec![0.0_f32; self.lattice.len()]; self.fields];
        let mut slices: Vec<&mut [f32]> = fields.iter_mut().map(Vec::as_mut_slice).collect();
        self.draw_into(i, &mut slices);
        fields
    }

    /// Realisation `free` under a model and bounded readings of the caller's choice.
    pub(crate) fn draw_under(
        &self,
        model: usize,
        free: u64,
        bounded: &[f64],
        out: &mut [Vec<f32>],
        work: &mut Workspace,
    ) {
        match out {
            [only] => {
                let pair = Pair {
                    model,
                    number: free / 2,
                };
                let slot = (free % 2) as usize;
                let mut spare = Vec::new();
                let (even, odd) = if slot == 0 {
                    (only.as_mut_slice(), spare.as_mut_slice())
                } else {
                    (spare.as_mut_slice(), only.as_mut_slice())
                };
                self.draw_pair(pair, |_| bounded.to_vec(), even, odd, work);
            }
            [one, two] => self.draw_both(model, free, bounded, one, two, work),
            _ => {}
        }
    }

    /// The bounded readings of realisation `i` under a model.
    pub(crate) fn bounded(&self, model: usize, i: u64) -> Vec<f64> {
        self.conditioners[model].bounded(self.seed, i)
    }

    pub(crate) fn conditioner(&self, model: usize) -> &Conditioner {
        &self.conditioners[model]
    }

    /// The nodes about a place that lie on its side of a break, those beyond without
    /// weight.
    pub(crate) fn on_one_side(
        &self,
        at: [f64; 2],
        mut nodes: [(usize, f64); 4],
    ) -> [(usize, f64); 4] {
        for field in &self.conditioners[0].model.fields {
            if let Some(line) = field.covariance.break_line {
                for (node, weight) in &mut nodes {
                    if line.is_left(self.lattice.at_index(*node)) != line.is_left(at) {
                        *weight = 0.0;
                    }
                }
            }
        }
        let total: f64 = nodes.iter().map(|(_, weight)| weight).sum();
        if total > 0.0 {
            nodes.map(|(node, weight)| (node, weight / total))
        } else {
            nodes
        }
    }

    pub(crate) fn seed(&self) -> Seed {
        self.seed
    }

    /// Weight of a model among all, 0 to 1.
    pub(crate) fn weight(&self, model: usize) -> f64 {
        let before = model.checked_sub(1).map_or(0.0, |k| self.cumulative[k]);
        self.cumulative[model] - before
    }

    /// Two realisations of a single field, which come from one transform; a cut-short
    /// one is left alone.
    fn draw_pair(
        &self,
        pair: Pair,
        bounded: impl Fn(u64) -> Vec<f64>,
        even: &mut [f32],
        odd: &mut [f32],
        work: &mut Workspace,
    ) {
        let conditioner = &self.conditioners[pair.model];
        let slots = &conditioner.slots;
        slots.prepare(work);
        slots.free(&mut self.seed.stream("free-field", pair.number), work);
        let free = slots.read(&conditioner.places, work);
        let mut weights = vec![[0.0; 2]; conditioner.places.len()];
        let betas: [Vec<f64>; 2] = [0, 1].map(|slot| {
            let i = 2 * pair.number + slot as u64;
            let solution =
                conditioner.solve(self.seed, i, &bounded(i), |_, place| free[place][slot]);
            conditioner.gather(&solution.alpha, |_| slot, &mut weights);
            solution.beta
        });
        slots.spread(&conditioner.places, &weights, work);
        let load = conditioner.model.loads([1.0, 0.0])[0];
        let mut outputs = [even, odd];
        slots.each_row(work, |j, row| {
            for (slot, output) in outputs.iter_mut().enumerate() {
                let loads = if slot == 0 { [load, 0.0] } else { [0.0, load] };
                conditioner.write(&self.lattice, 0, loads, j, row, &betas[slot], output);
            }
        });
    }

    fn draw_both(
        &self,
        model: usize,
        i: u64,
        bounded: &[f64],
        one: &mut [f32],
        two: &mut [f32],
        work: &mut Workspace,
    ) {
        let conditioner = &self.conditioners[model];
        let slots = &conditioner.slots;
        slots.prepare(work);
        slots.free(&mut self.seed.stream("free-field", i), work);
        let free = slots.read(&conditioner.places, work);
        let solution = conditioner.solve(self.seed, i, bounded, |component, place| {
            free[place][component]
        });
        let mut weights = vec![[0.0; 2]; conditioner.places.len()];
        conditioner.gather(&solution.alpha, |component| component, &mut weights);
        slots.spread(&conditioner.places, &weights, work);
        let loads = [[1.0, 0.0], [0.0, 1.0]].map(|on| conditioner.model.loads(on));
        let beta = &solution.beta;
        slots.each_row(work, |j, row| {
            conditioner.write(&self.lattice, 0, loads[0], j, row, beta, one);
            conditioner.write(&self.lattice, 1, loads[1], j, row, beta, two);
        });
    }
}

/// Two realisations that come from one transform, and the model they are drawn from.
#[derive(Clone, Copy)]
struct Pair {
    model: usize,
    number: u64,
}
