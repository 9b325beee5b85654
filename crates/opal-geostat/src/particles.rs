//! The part of a realisation that is not Gaussian, as a weighted sample.

use opal_units::Rng;
use rand::RngExt;

/// What a realisation is Gaussian given.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Particle {
    /// Its model.
    pub(crate) model: usize,
    /// The number of its free field and of its errors.
    pub(crate) free: u64,
    /// The bounded readings that it was drawn with.
    pub(crate) bounded: Vec<f64>,
    /// The readings taken in since, as they are in it.
    pub(crate) values: Vec<f64>,
    /// Each of them less what was expected of it, over its variance.
    pub(crate) innovations: Vec<f64>,
}

impl Particle {
    pub(crate) fn new(model: usize, free: u64, bounded: Vec<f64>) -> Self {
        Self {
            model,
            free,
            bounded,
            values: Vec::new(),
            innovations: Vec::new(),
        }
    }

    /// What it expects of a new reading: `mean` with no bounded reading, so much more
    /// for each of them, and the covariances with those taken in since.
    pub(crate) fn expects(&self, mean: f64, per_bounded: &[f64], with: &[f64]) -> f64 {
        let times = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(x, y)| x * y).sum::<f64>();
        mean + times(per_bounded, &self.bounded) + times(with, &self.innovations)
    }
}

/// Resamples in proportion to the weights. Who stays keeps its place; who goes gives it
/// to a copy of one that counts for more, under a free field of its own. Gives back
/// `values` moved alike.
///
/// # Method
/// Systematic resampling (Kitagawa 1996): each is kept so often as its weight says, to
/// within one.
pub(crate) fn resample(
    particles: &mut [Particle],
    weights: &[f64],
    values: &[f64],
    rng: &mut Rng,
    next_free: &mut u64,
) -> Vec<f64> {
    let n = particles.len();
    let total: f64 = weights.iter().sum();
    let offset: f64 = rng.random();
    let mut counts = Vec::with_capacity(n);
    let (mut reached, mut before) = (0.0, 0_usize);
    for weight in weights {
        reached += weight / total * n as f64;
        // How many of offset, offset + 1, … lie below what was reached.
        let upto = ((reached - offset).ceil().max(0.0) as usize).min(n);
        counts.push(upto - before.min(upto));
        before = before.max(upto);
    }
    let mut moved = values.to_vec();
    let mut donors = (0..n).flat_map(|i| std::iter::repeat_n(i, counts[i].saturating_sub(1)));
    for i in (0..n).filter(|&i| counts[i] == 0) {
        let Some(donor) = donors.next() else { break };
        particles[i] = Particle {
            free: *next_free,
            ..particles[donor].clone()
        };
        moved[i] = values[donor];
        *next_free += 1;
    }
    moved
}

#[cfg(test)]
mod tests {
    use super::*;
    use opal_units::Seed;

    #[test]
    fn keeps_each_as_often_as_its_weight_says() {
        let mut particles: Vec<Particle> = (0..100)
            .map(|i| Particle::new(i % 4, i as u64, vec![]))
            .collect();
        // Models 0 to 3 weigh 0, 1, 1 and 2.
        let weights: Vec<f64> = (0..100).map(|i| [0.0, 1.0, 1.0, 2.0][i % 4]).collect();
        let values: Vec<f64> = (0..100).map(|i| (i % 4) as f64).collect();
        let mut next = 100;
        let moved = resample(
            &mut particles,
            &weights,
            &values,
            &mut Seed(3).stream("r", 0),
            &mut next,
        );
        let count = |model: usize| particles.iter().filter(|p| p.model == model).count();
        assert_eq!([0, 1, 2, 3].map(count), [0, 25, 25, 50]);
        assert_eq!(next, 125);
        for (k, (p, value)) in particles.iter().zip(&moved).enumerate() {
            assert_eq!(p.model as f64, *value);
            assert!(p.free == k as u64 || p.free >= 100);
        }
    }

    #[test]
    fn equal_weights_move_nothing() {
        let mut particles: Vec<Particle> = (0..37).map(|i| Particle::new(0, i, vec![])).collect();
        let before = particles.clone();
        let mut next = 37;
        for seed in 0..20 {
            let mut rng = Seed(seed).stream("r", 0);
            resample(&mut particles, &[0.3; 37], &[0.0; 37], &mut rng, &mut next);
        }
        assert_eq!(particles, before);
    }
}
