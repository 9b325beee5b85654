//! One model's readings, solved: what turns a free field into a conditional one.

use crate::between::{Between, Places};
use crate::condition_error::ConditionError;
use crate::factor::dot;
use crate::fields::{Bound, Datum, FieldSet, Reading};
use crate::lattice::Lattice;
use crate::slots::{Place, Slots, Workspace};
use crate::system::{Solution, System, SystemError};
use crate::torus::C64;
use crate::trend::CoefficientPrior;
use crate::truncated::{TruncatedNormal, standard_normal};
use opal_units::Seed;
use std::sync::Arc;

/// A reading laid on the lattice.
#[derive(Clone, Debug)]
pub(crate) struct Row {
    pub(crate) place: Place,
    reading: Reading,
    pub(crate) loads: [f64; 2],
    pub(crate) noise_sd: f64,
}

/// A model with its readings.
#[derive(Clone)]
pub(crate) struct Conditioner {
    pub(crate) model: FieldSet,
    pub(crate) slots: Arc<Slots>,
    rows: Vec<Row>,
    /// The places that are read, each once.
    pub(crate) places: Vec<Place>,
    /// Place of each row.
    place_of: Vec<usize>,
    /// Values of the data; bounded readings follow in `rows`.
    values: Vec<f64>,
    system: System,
    /// The data without the bounds, where there are bounds.
    data_system: Option<System>,
    truncated: Option<TruncatedNormal>,
}

impl Row {
    pub(crate) fn new(slots: &Slots, model: &FieldSet, reading: &Reading, sd: f64) -> Option<Self> {
        Some(Self {
            place: slots.place(reading.at)?,
            reading: *reading,
            loads: model.loads(reading.on),
            noise_sd: (sd * sd + model.nugget(reading.on)).sqrt(),
        })
    }

    pub(crate) fn basis(&self, model: &FieldSet) -> Vec<f64> {
        model.basis(&self.reading)
    }

    pub(crate) fn covariance(&self, slots: &Slots, other: &Self) -> f64 {
        (0..2)
            .map(|slot| (slot, self.loads[slot] * other.loads[slot]))
            .filter(|(_, load)| *load != 0.0)
            .map(|(slot, load)| load * slots.covariance(slot, &self.place, &other.place))
            .sum()
    }
}

/// Share of a reading's own variance added to the diagonal, so that near-repeats
/// can be solved. Chosen: a hundred-thousandth of the sd.
const JITTER: f64 = 1e-10;

impl Conditioner {
    pub(crate) fn new(
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
        let Places { at, of: place_of } = Places::of(rows.iter().map(|row| row.reading.at));
        let places: Vec<Place> = at.iter().filter_map(|at| slots.place(*at)).collect();
        let used = [0, 1].map(|slot| rows.iter().any(|row| row.loads[slot] != 0.0));
        let between = Between::new(places.len(), |k, l| {
            [0, 1].map(|slot| {
                if used[slot] {
                    slots.covariance(slot, &places[k], &places[l])
                } else {
                    0.0
                }
            })
        });
        let basis: Vec<Vec<f64>> = rows.iter().map(|row| row.basis(&model)).collect();
        let priors: Vec<CoefficientPrior> = model.coefficients();
        let n = rows.len();
        let mut table = vec![0.0; n * n];
        for i in 0..n {
            for j in 0..=i {
                let places = [place_of[i], place_of[j]];
                let mut entry = between.covariance(places, [rows[i].loads, rows[j].loads]);
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
            places,
            place_of,
            values,
            system,
            data_system,
            truncated,
        })
    }

    /// The bounded readings of realisation `i`.
    pub(crate) fn bounded(&self, seed: Seed, i: u64) -> Vec<f64> {
        self.truncated.as_ref().map_or_else(Vec::new, |law| {
            law.draw(&mut seed.stream("bounded-reading", i))
        })
    }

    /// β and α of realisation `i`, of whose free field component c reads `read(c, k)` at
    /// place k and whose bounded readings have these values.
    pub(crate) fn solve(
        &self,
        seed: Seed,
        i: u64,
        bounded: &[f64],
        read: impl Fn(usize, usize) -> f64,
    ) -> Solution {
        let mut errors = seed.stream("reading-error", i);
        let values = self.values.iter().chain(bounded);
        let residual: Vec<f64> = self
            .rows
            .iter()
            .zip(&self.place_of)
            .zip(values)
            .map(|((row, &place), value)| {
                let field: f64 = (0..2)
                    .filter(|&component| row.loads[component] != 0.0)
                    .map(|component| row.loads[component] * read(component, place))
                    .sum();
                value - field - row.noise_sd * standard_normal(&mut errors)
            })
            .collect();
        let mut trend = seed.stream("trend", i);
        let white: Vec<f64> = (0..self.system.free())
            .map(|_| standard_normal(&mut trend))
            .collect();
        self.system.solve_perturbed(&residual, &white)
    }

    /// Adds the readings' weights to those of the places, component c in slot `slot(c)`.
    pub(crate) fn gather(
        &self,
        alpha: &[f64],
        slot: impl Fn(usize) -> usize,
        weights: &mut [[f64; 2]],
    ) {
        for ((row, &place), alpha) in self.rows.iter().zip(&self.place_of).zip(alpha) {
            for (component, load) in row.loads.iter().enumerate() {
                if *load != 0.0 {
                    weights[place][slot(component)] += alpha * load;
                }
            }
        }
    }

    /// Row `j` of field `k` from the components and the trend.
    #[allow(
        clippy::too_many_arguments,
        reason = "the inner step of two loops above"
    )]
    pub(crate) fn write(
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
        let y = lattice.origin[1] + lattice.cell * j as f64;
        let trend = trend.along_row(y, &beta[start..start + trend.terms()]);
        for (i, (value, slots)) in output.iter_mut().zip(row).enumerate() {
            let x = lattice.origin[0] + lattice.cell * i as f64;
            let random = loads[0] * slots.re + loads[1] * slots.im;
            *value = (random + trend.value(x)) as f32;
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

    pub(crate) fn predict(&self, row: &Row) -> (f64, f64) {
        let cross = self.cross(row);
        let solution = self.data_system().solve(&self.values);
        let mean = dot(&row.basis(&self.model), &solution.beta) + dot(&cross, &solution.alpha);
        (mean, self.posterior_covariance(row, row).max(0.0).sqrt())
    }

    pub(crate) fn posterior_covariance(&self, a: &Row, b: &Row) -> f64 {
        self.data_system().posterior_covariance(
            a.covariance(&self.slots, b),
            (&self.cross(a), &a.basis(&self.model)),
            (&self.cross(b), &b.basis(&self.model)),
        )
    }

    /// What the readings so far say of a new one, and what it says of every node.
    pub(crate) fn outlook(&self, lattice: &Lattice, reading: &Reading, sd: f64) -> Option<Outlook> {
        let row = Row::new(&self.slots, &self.model, reading, sd)?;
        let cross: Vec<f64> = self
            .rows
            .iter()
            .map(|other| row.covariance(&self.slots, other))
            .collect();
        let terms = row.basis(&self.model);
        let prior = row.covariance(&self.slots, &row) * (1.0 + JITTER);
        let variance = self
            .system
            .posterior_covariance(prior, (&cross, &terms), (&cross, &terms));
        // The column is what the readings with weights (−w, 1) spread over the
        // lattice, plus what they do to the trend.
        let weights = self.system.weights(&cross, &terms);
        let beta = self.system.coefficient_covariance(&cross, &terms);
        let taken: Vec<f64> = weights.iter().map(|w| -w).collect();
        let mut sources = vec![[0.0; 2]; self.places.len()];
        self.gather(&taken, |component| component, &mut sources);
        sources.push(row.loads);
        let places = [self.places.as_slice(), &[row.place]].concat();
        let work = &mut Workspace::default();
        self.slots.prepare(work);
        self.slots.clear(work);
        self.slots.spread(&places, &sources, work);
        let fields = self.model.fields.len();
        let loads = [[1.0, 0.0], [0.0, 1.0]].map(|on| self.model.loads(on));
        let mut columns = vec![vec![0.0_f32; lattice.len()]; fields];
        self.slots.each_row(work, |j, row| {
            for (k, column) in columns.iter_mut().enumerate() {
                self.write(lattice, k, loads[k], j, row, &beta, column);
            }
        });
        // With every bounded reading at 0; each then adds its weight times its value.
        let mut values = self.values.clone();
        values.resize(self.rows.len(), 0.0);
        let solution = self.system.solve(&values);
        Some(Outlook {
            mean: dot(&terms, &solution.beta) + dot(&cross, &solution.alpha),
            per_bounded: weights[self.values.len()..].to_vec(),
            variance,
            noise_sd: row.noise_sd,
            columns,
        })
    }
}

/// A new reading, as the readings so far foresee it.
#[derive(Clone)]
pub(crate) struct Outlook {
    /// Its mean, were every bounded reading 0.
    pub(crate) mean: f64,
    /// What each bounded reading adds to the mean for each unit of its value.
    pub(crate) per_bounded: Vec<f64>,
    /// Its variance without its own error.
    pub(crate) variance: f64,
    /// Its own error, nugget included.
    pub(crate) noise_sd: f64,
    /// Posterior covariance of every node of each field with it.
    pub(crate) columns: Vec<Vec<f32>>,
}
