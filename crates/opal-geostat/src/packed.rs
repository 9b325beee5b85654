//! A field in two bytes a node.

/// A field as counts of a step above its least value: half the room of its numbers,
/// to within a hundred-thousandth of its span.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Packed {
    least: f32,
    step: f32,
    codes: Vec<u16>,
}

const MOST: f32 = 65_535.0;

impl Packed {
    /// Of a field without NaN.
    #[must_use]
    pub fn new(values: &[f32]) -> Self {
        let mut packed = Self::default();
        packed.put(values);
        packed
    }

    /// Puts another field in place.
    pub(crate) fn put(&mut self, values: &[f32]) {
        let (least, most) = span(values);
        self.least = least;
        self.step = (most - least) / MOST;
        let per_step = if self.step > 0.0 {
            self.step.recip()
        } else {
            0.0
        };
        self.codes.clear();
        self.codes.extend(
            values
                .iter()
                .map(|v| ((v - least) * per_step + 0.5).min(MOST) as i32 as u16),
        );
    }

    /// Writes the field out.
    pub fn write(&self, out: &mut [f32]) {
        for (value, code) in out.iter_mut().zip(&self.codes) {
            *value = self.least + self.step * f32::from(*code);
        }
    }

    /// The field at a node.
    pub(crate) fn at(&self, node: usize) -> f32 {
        self.least + self.step * f32::from(self.codes[node])
    }
}

/// Least and greatest value; (0, 0) of nothing.
fn span(values: &[f32]) -> (f32, f32) {
    // In lanes, which the compiler turns into vector instructions.
    const LANES: usize = 8;
    let Some(&first) = values.first() else {
        return (0.0, 0.0);
    };
    let (mut low, mut high) = ([first; LANES], [first; LANES]);
    for chunk in values.chunks(LANES) {
        for ((low, high), &v) in low.iter_mut().zip(&mut high).zip(chunk) {
            *low = if v < *low { v } else { *low };
            *high = if v > *high { v } else { *high };
        }
    }
    (
        low.into_iter().fold(first, f32::min),
        high.into_iter().fold(first, f32::max),
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn comes_back_within_half_a_step() {
        let values: Vec<f32> = (0..1003)
            .map(|k| (k as f32 * 0.37).sin() * 7.0 - 2.0)
            .collect();
        let packed = Packed::new(&values);
        let mut back = vec![0.0; values.len()];
        packed.write(&mut back);
        for (k, (got, want)) in back.iter().zip(&values).enumerate() {
            assert!((got - want).abs() <= 0.6 * 14.0 / MOST, "{got} {want}");
            assert_eq!(*got, packed.at(k));
        }
        let flat = Packed::new(&[3.5; 5]);
        assert_eq!(flat.at(4), 3.5);
    }
}
