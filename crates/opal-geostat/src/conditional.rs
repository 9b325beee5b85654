//! Fields that honour readings exactly: free fields plus the kriged residual.

use crate::factor::dot;
use crate::fields::{Bound, Datum, FieldSet, Reading, WeightedModel};
use crate::lattice::Lattice;
use crate::model::ModelError;
use crate::slots::{Place, Slots, Workspace};
use crate::system::{Solution, System, SystemError};
use crate::torus::C64;
use crate::trend::CoefficientPrior;
use crate::truncated::{TruncatedNormal, standard_normal};
use opal_units::Seed;
use rayon::prelude::*;
use std::sync::Arc;
use thiserror::Error;

/// Why fields could not be conditioned.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum ConditionError {
    /// The lattice has no node, or its cell is not above 0.
    #[error("lattice of {nx} by {ny} nodes, cell {cell}: it needs nodes and a cell above 0")]
    Lattice {
        /// Nodes along x.
        nx: usize,
        /// Nodes along y.
        ny: usize,
        /// Cell.
        cell: f64,
    },
    /// No model with a weight above 0.
    #[error("no model was given a weight above 0")]
    NoModel,
    /// The models differ in their number of fields.
    #[error("model {index} has {fields} fields, the first has {expected}")]
    Fields {
        /// Which model.
        index: usize,
        /// Its fields.
        fields: usize,
        /// Those of the first.
        expected: usize,
    },
    /// A model's parameter is outside its domain.
    #[error(transparent)]
    Model(#[from] ModelError),
    /// A reading lies outside the lattice.
    #[error("reading {index} at ({}, {}) lies outside the lattice", at[0], at[1])]
    Outside {
        /// Which: data first, then bounds.
        index: usize,
        /// Where.
        at: [f64; 2],
    },
    /// A value, error or limit that cannot be.
    #[error("reading {index}: {what} is {value}, it must be {limit}")]
    Value {
        /// Which: data first, then bounds.
        index: usize,
        /// What of it.
        what: &'static str,
        /// What stood there.
        value: f64,
        /// What is allowed.
        limit: &'static str,
    },
    /// The readings cannot be solved.
    #[error(transparent)]
    System(#[from] SystemError),
}

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
    /// Data absorbed since the start: each has its own error stream.
    absorbed: u64,
}

/// A reading laid on the lattice.
#[derive(Clone, Debug)]
struct Row {
    place: Place,
    reading: Reading,
    loads: [f64; 2],
    noise_sd: f64,
}

#[derive(Clone)]
struct Conditioner {
    model: FieldSet,
    slots: Arc<Slots>,
    rows: Vec<Row>,
    /// Values of the data; bounded readings follow in `rows`.
    values: Vec<f64>,
    bounds: Vec<Bound>,
    data: Vec<Datum>,
    system: System,
    /// The data without the bounds, where there are bounds.
    data_system: Option<System>,
    truncated: Option<TruncatedNormal>,
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
            absorbed: 0,
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
                if split == cells {
                    let mut work = None;
                    let mut spare = vec![0.0_f32; cells];
                    self.draw_pair(first / 2, &mut spare, head, &mut work);
                }
                let start = first.div_ceil(2);
                tail.par_chunks_mut(2 * cells).enumerate().for_each_init(
                    || None,
                    |work, (k, chunk)| {
                        let (even, odd) = chunk.split_at_mut(cells.min(chunk.len()));
                        self.draw_pair(start + k as u64, even, odd, work);
                    },
                );
            }
            [one, two] if self.fields == 2 => {
                one.par_chunks_exact_mut(cells)
                    .zip(two.par_chunks_exact_mut(cells))
                    .enumerate()
                    .for_each_init(
                        || None,
                        |work, (k, (one, two))| self.draw_both(first + k as u64, one, two, work),
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

    /// Takes in one more datum without drawing again: updates stored realisations
    /// `first..` in place, and every later draw or update knows it too.
    ///
    /// # Method
    /// The ensemble form of Matheron's rule: each realisation gains
    /// c·(y − reading − error)/(v + σ²), with c the posterior covariance of the fields
    /// with the new reading and v its posterior variance. Exact for the same
    /// parameters; the weights of the models are not revised, and bounded readings
    /// keep the values they were drawn with.
    ///
    /// # Errors
    /// The datum lies outside the lattice, is not a number, or repeats another
    /// without error. Nothing is changed then.
    pub fn absorb(
        &mut self,
        datum: &Datum,
        first: u64,
        out: &mut [&mut [f32]],
    ) -> Result<(), ConditionError> {
        check_readings(&self.lattice, std::slice::from_ref(datum), &[])?;
        let gains: Vec<Gain> = self
            .conditioners
            .par_iter()
            .map(|conditioner| conditioner.gain(&self.lattice, datum))
            .collect::<Option<_>>()
            .ok_or(ConditionError::Outside {
                index: 0,
                at: datum.reading.at,
            })?;
        let updated = self
            .conditioners
            .par_iter()
            .map(|conditioner| conditioner.with_datum(datum))
            .collect::<Result<Vec<_>, _>>()?;
        self.apply(&gains, datum, first, out);
        self.conditioners = updated;
        self.absorbed += 1;
        Ok(())
    }

    fn apply(&self, gains: &[Gain], datum: &Datum, first: u64, out: &mut [&mut [f32]]) {
        let cells = self.lattice.len();
        let Some(nodes) = self.lattice.bilinear(datum.reading.at) else {
            return;
        };
        let purpose = format!("absorbed-error-{}", self.absorbed);
        let step = |i: u64, read: f64| {
            let gain = &gains[self.model_of(i)];
            let error = gain.noise_sd * standard_normal(&mut self.seed.stream(&purpose, i));
            ((datum.value - read - error) / gain.variance) as f32
        };
        let read_one = |field: &[f32]| -> f64 {
            nodes
                .iter()
                .map(|&(node, weight)| weight * f64::from(field[node]))
                .sum()
        };
        let add = |field: &mut [f32], column: &[f32], by: f32| {
            for (value, c) in field.iter_mut().zip(column) {
                *value += c * by;
            }
        };
        match out {
            [only] if self.fields == 1 => {
                only.par_chunks_exact_mut(cells)
                    .enumerate()
                    .for_each(|(k, field)| {
                        let i = first + k as u64;
                        let by = step(i, datum.reading.on[0] * read_one(field));
                        add(field, &gains[self.model_of(i)].columns[0], by);
                    });
            }
            [one, two] if self.fields == 2 => {
                one.par_chunks_exact_mut(cells)
                    .zip(two.par_chunks_exact_mut(cells))
                    .enumerate()
                    .for_each(|(k, (one, two))| {
                        let i = first + k as u64;
                        let on = datum.reading.on;
                        let by = step(i, on[0] * read_one(one) + on[1] * read_one(two));
                        let columns = &gains[self.model_of(i)].columns;
                        add(one, &columns[0], by);
                        add(two, &columns[1], by);
                    });
            }
            _ => {}
        }
    }

    /// Realisations 2·pair and 2·pair + 1 of a single field; a cut-short `odd` is
    /// left alone.
    fn draw_pair(
        &self,
        pair: u64,
        even: &mut [f32],
        odd: &mut [f32],
        work: &mut Option<Workspace>,
    ) {
        let conditioner = &self.conditioners[self.model_of(2 * pair)];
        let slots = &conditioner.slots;
        let work = slots.workspace(work);
        slots.free(&mut self.seed.stream("free-field", pair), work);
        let mut sources = Vec::new();
        let betas: [Vec<f64>; 2] = [0, 1].map(|slot| {
            let solution = conditioner.solve(self.seed, 2 * pair + slot as u64, |row| {
                row.loads[0] * slots.read(slot, &row.place, work)
            });
            conditioner.sources(&solution.alpha, |_| slot, &mut sources);
            solution.beta
        });
        slots.spread(&sources, work);
        let load = conditioner.model.loads([1.0, 0.0])[0];
        let mut outputs = [even, odd];
        slots.each_row(work, |j, row| {
            for (slot, output) in outputs.iter_mut().enumerate() {
                let loads = if slot == 0 { [load, 0.0] } else { [0.0, load] };
                conditioner.write(&self.lattice, 0, loads, j, row, &betas[slot], output);
            }
        });
    }

    fn draw_both(&self, i: u64, one: &mut [f32], two: &mut [f32], work: &mut Option<Workspace>) {
        let conditioner = &self.conditioners[self.model_of(i)];
        let slots = &conditioner.slots;
        let work = slots.workspace(work);
        slots.free(&mut self.seed.stream("free-field", i), work);
        let solution = conditioner.solve(self.seed, i, |row| {
            (0..2)
                .filter(|&slot| row.loads[slot] != 0.0)
                .map(|slot| row.loads[slot] * slots.read(slot, &row.place, work))
                .sum()
        });
        let mut sources = Vec::new();
        conditioner.sources(&solution.alpha, |component| component, &mut sources);
        slots.spread(&sources, work);
        let loads = [[1.0, 0.0], [0.0, 1.0]].map(|on| conditioner.model.loads(on));
        let beta = &solution.beta;
        slots.each_row(work, |j, row| {
            conditioner.write(&self.lattice, 0, loads[0], j, row, beta, one);
            conditioner.write(&self.lattice, 1, loads[1], j, row, beta, two);
        });
    }
}

fn check_readings(
    lattice: &Lattice,
    data: &[Datum],
    bounds: &[Bound],
) -> Result<(), ConditionError> {
    let fault = |index, what, value, limit| ConditionError::Value {
        index,
        what,
        value,
        limit,
    };
    for (index, datum) in data.iter().enumerate() {
        if lattice.bilinear(datum.reading.at).is_none() {
            let at = datum.reading.at;
            return Err(ConditionError::Outside { index, at });
        }
        if !datum.value.is_finite() {
            return Err(fault(index, "the value", datum.value, "a finite number"));
        }
        if !(datum.sd >= 0.0 && datum.sd.is_finite()) {
            return Err(fault(index, "the error", datum.sd, "0 or more"));
        }
    }
    for (k, bound) in bounds.iter().enumerate() {
        let index = data.len() + k;
        if lattice.bilinear(bound.reading.at).is_none() {
            let at = bound.reading.at;
            return Err(ConditionError::Outside { index, at });
        }
        if bound.lower.is_nan() || bound.lower == f64::INFINITY {
            return Err(fault(
                index,
                "the lower limit",
                bound.lower,
                "a number or -inf",
            ));
        }
        if bound.upper.is_nan() || bound.upper <= bound.lower {
            let limit = "above the lower limit";
            return Err(fault(index, "the upper limit", bound.upper, limit));
        }
        if !(bound.sd >= 0.0 && bound.sd.is_finite()) {
            return Err(fault(index, "the error", bound.sd, "0 or more"));
        }
    }
    Ok(())
}

impl Row {
    fn new(slots: &Slots, model: &FieldSet, reading: &Reading, sd: f64) -> Option<Self> {
        Some(Self {
            place: slots.place(reading.at)?,
            reading: *reading,
            loads: model.loads(reading.on),
            noise_sd: (sd * sd + model.nugget(reading.on)).sqrt(),
        })
    }

    fn basis(&self, model: &FieldSet) -> Vec<f64> {
        model.basis(&self.reading)
    }

    fn covariance(&self, slots: &Slots, other: &Self) -> f64 {
        (0..2)
            .map(|slot| (slot, self.loads[slot] * other.loads[slot]))
            .filter(|(_, load)| *load != 0.0)
            .map(|(slot, load)| load * slots.covariance(slot, &self.place, &other.place))
            .sum()
    }
}

/// Posterior covariance of all nodes with one new reading.
struct Gain {
    columns: Vec<Vec<f32>>,
    /// Posterior variance of the reading, error included.
    variance: f64,
    noise_sd: f64,
}

/// Share of a reading's own variance added to the diagonal, so that near-repeats
/// can be solved. Chosen: a hundred-thousandth of the sd.
const JITTER: f64 = 1e-10;

impl Conditioner {
    fn new(
        model: FieldSet,
        slots: Arc<Slots>,
        data: &[Datum],
        bounds: &[Bound],
    ) -> Result<Self, ConditionError> {
        let row_of = |index: usize, reading: &Reading, sd: f64| {
            Row::new(&slots, &model, reading, sd).ok_or(ConditionError::Outside {
                index,
                at: reading.at,
            })
        };
        let mut rows = Vec::with_capacity(data.len() + bounds.len());
        for (index, datum) in data.iter().enumerate() {
            rows.push(row_of(index, &datum.reading, datum.sd)?);
        }
        for (index, bound) in bounds.iter().enumerate() {
            rows.push(row_of(data.len() + index, &bound.reading, bound.sd)?);
        }
        let basis: Vec<Vec<f64>> = rows.iter().map(|row| row.basis(&model)).collect();
        let priors: Vec<CoefficientPrior> = model.coefficients();
        let n = rows.len();
        let mut table = vec![0.0; n * n];
        for i in 0..n {
            for j in 0..=i {
                let mut entry = rows[i].covariance(&slots, &rows[j]);
                if i == j {
                    entry = entry * (1.0 + JITTER) + rows[i].noise_sd * rows[i].noise_sd;
                }
                table[i * n + j] = entry;
                table[j * n + i] = entry;
            }
        }
        let values: Vec<f64> = data.iter().map(|datum| datum.value).collect();
        let system = System::new(&basis, &priors, |i, j| table[i * n + j])?;
        let (data_system, truncated) = if bounds.is_empty() {
            (None, None)
        } else {
            let m = data.len();
            let known = System::new(&basis[..m], &priors, |i, j| table[i * n + j])?;
            let solution = known.solve(&values);
            let cross = |k: usize| &table[k * n..k * n + m];
            let mut mean = Vec::with_capacity(n - m);
            let mut covariance = Vec::with_capacity((n - m) * (n - m));
            for i in m..n {
                mean.push(dot(&basis[i], &solution.beta) + dot(cross(i), &solution.alpha));
                for j in m..n {
                    covariance.push(known.posterior_covariance(
                        table[i * n + j],
                        (cross(i), &basis[i]),
                        (cross(j), &basis[j]),
                    ));
                }
            }
            let lower: Vec<f64> = bounds.iter().map(|bound| bound.lower).collect();
            let upper: Vec<f64> = bounds.iter().map(|bound| bound.upper).collect();
            let law =
                TruncatedNormal::new(&mean, &covariance, &lower, &upper).map_err(|fault| {
                    SystemError::Repeated {
                        index: m + fault.index,
                    }
                })?;
            (Some(known), Some(law))
        };
        Ok(Self {
            model,
            slots,
            rows,
            values,
            bounds: bounds.to_vec(),
            data: data.to_vec(),
            system,
            data_system,
            truncated,
        })
    }

    fn with_datum(&self, datum: &Datum) -> Result<Self, ConditionError> {
        let mut data = self.data.clone();
        data.push(*datum);
        let slots = Arc::clone(&self.slots);
        Self::new(self.model.clone(), slots, &data, &self.bounds)
    }

    /// β and α of realisation `i`, whose free field reads `read(row)`.
    fn solve(&self, seed: Seed, i: u64, read: impl Fn(&Row) -> f64) -> Solution {
        let mut errors = seed.stream("reading-error", i);
        let mut residual: Vec<f64> = self
            .rows
            .iter()
            .map(|row| -read(row) - row.noise_sd * standard_normal(&mut errors))
            .collect();
        for (r, value) in residual.iter_mut().zip(&self.values) {
            *r += value;
        }
        if let Some(law) = &self.truncated {
            let bounded = law.draw(&mut seed.stream("bounded-reading", i));
            for (r, value) in residual[self.values.len()..].iter_mut().zip(bounded) {
                *r += value;
            }
        }
        let mut trend = seed.stream("trend", i);
        let white: Vec<f64> = (0..self.system.free())
            .map(|_| standard_normal(&mut trend))
            .collect();
        self.system.solve_perturbed(&residual, &white)
    }

    /// The readings' weights as sources in the components' slots.
    fn sources(
        &self,
        alpha: &[f64],
        slot: impl Fn(usize) -> usize,
        out: &mut Vec<(usize, Place, f64)>,
    ) {
        for (row, alpha) in self.rows.iter().zip(alpha) {
            for (component, load) in row.loads.iter().enumerate() {
                if *load != 0.0 {
                    out.push((slot(component), row.place, alpha * load));
                }
            }
        }
    }

    /// Row `j` of field `k` from the components and the trend.
    #[allow(
        clippy::too_many_arguments,
        reason = "the inner step of two loops above"
    )]
    fn write(
        &self,
        lattice: &Lattice,
        k: usize,
        loads: [f64; 2],
        j: usize,
        row: &[C64],
        beta: &[f64],
        output: &mut [f32],
    ) {
        // A cut-short output takes nothing.
        let Some(output) = output.get_mut(j * lattice.nx..(j + 1) * lattice.nx) else {
            return;
        };
        let start: usize = self.model.fields[..k].iter().map(|f| f.trend.terms()).sum();
        let trend = &self.model.fields[k].trend;
        let beta = &beta[start..start + trend.terms()];
        let y = lattice.origin[1] + lattice.cell * j as f64;
        for (i, (value, slots)) in output.iter_mut().zip(row).enumerate() {
            let x = lattice.origin[0] + lattice.cell * i as f64;
            let random = loads[0] * slots.re + loads[1] * slots.im;
            *value = (random + trend.value([x, y], beta)) as f32;
        }
    }

    fn data_system(&self) -> &System {
        self.data_system.as_ref().unwrap_or(&self.system)
    }

    fn cross(&self, row: &Row) -> Vec<f64> {
        self.rows[..self.values.len()]
            .iter()
            .map(|other| row.covariance(&self.slots, other))
            .collect()
    }

    fn predict(&self, row: &Row) -> (f64, f64) {
        let cross = self.cross(row);
        let solution = self.data_system().solve(&self.values);
        let mean = dot(&row.basis(&self.model), &solution.beta) + dot(&cross, &solution.alpha);
        (mean, self.posterior_covariance(row, row).max(0.0).sqrt())
    }

    fn posterior_covariance(&self, a: &Row, b: &Row) -> f64 {
        self.data_system().posterior_covariance(
            a.covariance(&self.slots, b),
            (&self.cross(a), &a.basis(&self.model)),
            (&self.cross(b), &b.basis(&self.model)),
        )
    }

    /// Posterior covariance of every node with a new reading, given data and
    /// bounded readings.
    fn gain(&self, lattice: &Lattice, datum: &Datum) -> Option<Gain> {
        let row = Row::new(&self.slots, &self.model, &datum.reading, datum.sd)?;
        let cross: Vec<f64> = self
            .rows
            .iter()
            .map(|other| row.covariance(&self.slots, other))
            .collect();
        let terms = row.basis(&self.model);
        let prior = row.covariance(&self.slots, &row) * (1.0 + JITTER);
        let posterior = self
            .system
            .posterior_covariance(prior, (&cross, &terms), (&cross, &terms));
        // The column is what the readings with weights (−w, 1) spread over the
        // lattice, plus what they do to the trend.
        let weights = self.system.weights(&cross, &terms);
        let beta = self.system.coefficient_covariance(&cross, &terms);
        let taken: Vec<f64> = weights.iter().map(|w| -w).collect();
        let mut sources = Vec::new();
        self.sources(&taken, |component| component, &mut sources);
        for (component, load) in row.loads.iter().enumerate() {
            if *load != 0.0 {
                sources.push((component, row.place, *load));
            }
        }
        let mut work = None;
        let work = self.slots.workspace(&mut work);
        self.slots.clear(work);
        self.slots.spread(&sources, work);
        let fields = self.model.fields.len();
        let loads = [[1.0, 0.0], [0.0, 1.0]].map(|on| self.model.loads(on));
        let mut columns = vec![vec![0.0_f32; lattice.len()]; fields];
        self.slots.each_row(work, |j, row| {
            for (k, column) in columns.iter_mut().enumerate() {
                self.write(lattice, k, loads[k], j, row, &beta, column);
            }
        });
        Some(Gain {
            columns,
            variance: posterior + row.noise_sd * row.noise_sd,
            noise_sd: row.noise_sd,
        })
    }
}
