//! Covariances between the places of readings, each pair of places once: readings of two
//! fields often come in pairs from one place.

/// Which places there are, and which of them each reading has.
pub(crate) struct Places {
    /// The places, each once, in the order in which they first come.
    pub(crate) at: Vec<[f64; 2]>,
    /// Place of each reading.
    pub(crate) of: Vec<usize>,
}

impl Places {
    pub(crate) fn of(readings: impl Iterator<Item = [f64; 2]>) -> Self {
        let mut at: Vec<[f64; 2]> = Vec::new();
        let of = readings
            .map(|place| {
                // Readings of one place mostly follow each other.
                at.iter()
                    .rposition(|other| *other == place)
                    .unwrap_or_else(|| {
                        at.push(place);
                        at.len() - 1
                    })
            })
            .collect();
        Self { at, of }
    }
}

/// Correlation of each of two independent components between places: the lower triangle.
pub(crate) struct Between(Vec<[f64; 2]>);

impl Between {
    /// Of so many places; `correlations(k, l)` with k ≥ l.
    pub(crate) fn new(places: usize, correlations: impl Fn(usize, usize) -> [f64; 2]) -> Self {
        let correlations = &correlations;
        Self(
            (0..places)
                .flat_map(|k| (0..=k).map(move |l| correlations(k, l)))
                .collect(),
        )
    }

    /// Covariance of two readings with these places and loads.
    pub(crate) fn covariance(&self, places: [usize; 2], loads: [[f64; 2]; 2]) -> f64 {
        let (high, low) = (places[0].max(places[1]), places[0].min(places[1]));
        let [first, second] = self.0[high * (high + 1) / 2 + low];
        loads[0][0] * loads[1][0] * first + loads[0][1] * loads[1][1] * second
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn places_come_once_and_pairs_either_way_round() {
        let [a, b] = [[1.0, 2.0], [3.0, 4.0]];
        let places = Places::of([a, a, b, a].into_iter());
        assert_eq!((places.at, places.of), (vec![a, b], vec![0, 0, 1, 0]));
        let between = Between::new(2, |k, l| [(k + l) as f64, 10.0 * k as f64]);
        for pair in [[0, 1], [1, 0]] {
            assert_eq!(between.covariance(pair, [[2.0, 1.0], [3.0, 0.5]]), 11.0);
        }
    }
}
