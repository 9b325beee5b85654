//! How likely what was found is for each class: Bayes' rule and its parts.

use crate::observation::{Found, GRAVITY, INDEX, Observation};
use opal_reference::identity::{IdentityTable, NONE_OF_THESE, NumberComponent};

/// What was found, look by look, ready to be weighed.
#[derive(Clone, Debug, Default)]
pub(crate) struct Evidence {
    /// Place of the look in the table, and of the answer in the look.
    pub(crate) words: Vec<(usize, usize)>,
    /// Places of looks that were done and count under another.
    pub(crate) counted_elsewhere: Vec<usize>,
    /// Specific gravity and its error.
    pub(crate) gravity: Option<(f64, f64)>,
    /// Refractive index and its error.
    pub(crate) index: Option<(f64, f64)>,
}

impl Evidence {
    /// Takes sound observations in: of a look that was repeated the last counts,
    /// numbers are averaged by their errors.
    pub(crate) fn of<'o>(
        table: &IdentityTable,
        observations: impl IntoIterator<Item = &'o Observation>,
    ) -> Self {
        let mut evidence = Self::default();
        for observation in observations {
            match &observation.found {
                Found::Number { value, sigma } => {
                    let slot = match observation.look.as_str() {
                        GRAVITY => &mut evidence.gravity,
                        INDEX => &mut evidence.index,
                        _ => continue,
                    };
                    *slot = Some(slot.map_or((*value, *sigma), |(v, s)| {
                        let (a, b) = (1.0 / (s * s), 1.0 / (sigma * sigma));
                        ((a * v + b * value) / (a + b), (a + b).recip().sqrt())
                    }));
                }
                Found::Word(word) => {
                    let Some(look) = table.looks.iter().position(|l| l.key == observation.look)
                    else {
                        continue;
                    };
                    let Some(answer) = table.looks[look].values.iter().position(|v| v.key == *word)
                    else {
                        continue;
                    };
                    evidence.words.retain(|(l, _)| *l != look);
                    evidence.words.push((look, answer));
                }
            }
        }
        evidence.count_signs_once(table);
        evidence
    }

    /// Of two looks that are one sign seen from two sides the first counts no more.
    fn count_signs_once(&mut self, table: &IdentityTable) {
        let is = |&(look, answer): &(usize, usize), sign: &[String; 2]| {
            let look = &table.looks[look];
            look.key == sign[0] && look.values[answer].key == sign[1]
        };
        for sign in &table.same_sign {
            if self.words.iter().any(|w| is(w, &sign.second)) {
                let first = self.words.iter().position(|w| is(w, &sign.first));
                if let Some(first) = first {
                    self.counted_elsewhere.push(self.words.remove(first).0);
                }
            }
        }
    }

    pub(crate) fn has(&self, table: &IdentityTable, look: &str) -> bool {
        match look {
            GRAVITY => self.gravity.is_some(),
            INDEX => self.index.is_some(),
            word => self
                .words
                .iter()
                .map(|(l, _)| l)
                .chain(&self.counted_elsewhere)
                .any(|l| table.looks[*l].key == word),
        }
    }
}

/// Chances of each class given their logarithms of prior times likelihood.
pub(crate) fn normalised(logs: &[f64]) -> Vec<f64> {
    let top = logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let weights: Vec<f64> = logs.iter().map(|l| (l - top).exp()).collect();
    let sum: f64 = weights.iter().sum();
    weights.iter().map(|w| w / sum).collect()
}

/// The chance of an answer for a class; the same for every answer where the class
/// stands for everything else.
pub(crate) fn word_chance(table: &IdentityTable, class: &str, look: usize, answer: usize) -> f64 {
    let look = &table.looks[look];
    match table.chance(class, &look.key) {
        Some(row) => row.p[answer],
        None => 1.0 / look.values.len() as f64,
    }
}

/// How often a number is misread, or comes from something that the table does not
/// hold: it may then be anything. Chosen: one in two thousand; it keeps a number far from
/// every row from settling anything.
const MISREAD: f64 = 0.0005;

/// The density of a number that may be anything: gravity from 1 to 5, index from 1.3 to
/// 1.8.
fn anything(gravity: Option<(f64, f64)>, index: Option<(f64, f64)>) -> f64 {
    gravity.map_or(1.0, |_| 1.0 / 4.0) * index.map_or(1.0, |_| 1.0 / 0.5)
}

/// The density of gravity and index (either or both) for a class, the means
/// shifted by so many of their standard deviations.
///
/// # Method
/// A mixture of normal laws in two numbers; the reading's error adds to the
/// class's own spread in squares. Each number may be misread, on its own (contaminated
/// normal laws, Tukey 1960). Everything else: flat.
pub(crate) fn number_density(
    table: &IdentityTable,
    class: &str,
    gravity: Option<(f64, f64)>,
    index: Option<(f64, f64)>,
    shift: [f64; 2],
) -> f64 {
    if class == NONE_OF_THESE {
        return anything(gravity, index);
    }
    let read = |gravity, index| -> f64 {
        table
            .components(class)
            .map(|part| part.weight * component_density(part, gravity, index, shift))
            .sum()
    };
    let right = 1.0 - MISREAD;
    right * right * read(gravity, index)
        + right * MISREAD * anything(gravity, None) * read(None, index)
        + MISREAD * right * read(gravity, None) * anything(None, index)
        + MISREAD * MISREAD * anything(gravity, index)
}

fn component_density(
    part: &NumberComponent,
    gravity: Option<(f64, f64)>,
    index: Option<(f64, f64)>,
    shift: [f64; 2],
) -> f64 {
    let one = |value: f64, mean: f64, variance: f64| {
        (-0.5 * (value - mean).powi(2) / variance).exp()
            / (2.0 * std::f64::consts::PI * variance).sqrt()
    };
    let mean_gravity = part.gravity + shift[0] * part.gravity_sigma;
    let mean_index = part.index + shift[1] * part.index_sigma;
    let variance_of = |sigma: f64, error: f64| sigma * sigma + error * error;
    match (gravity, index) {
        (None, None) => 1.0,
        (Some((g, error)), None) => one(g, mean_gravity, variance_of(part.gravity_sigma, error)),
        (None, Some((i, error))) => one(i, mean_index, variance_of(part.index_sigma, error)),
        (Some((g, error_g)), Some((i, error_i))) => {
            // The index given the gravity, times the gravity.
            let var_g = variance_of(part.gravity_sigma, error_g);
            let var_i = variance_of(part.index_sigma, error_i);
            let both = part.correlation * part.gravity_sigma * part.index_sigma;
            let mean = mean_index + both / var_g * (g - mean_gravity);
            let variance = var_i - both * both / var_g;
            one(g, mean_gravity, var_g) * one(i, mean, variance)
        }
    }
}

/// The logarithm of prior times likelihood of each class.
pub(crate) fn log_weights(table: &IdentityTable, evidence: &Evidence) -> Vec<f64> {
    table
        .classes
        .iter()
        .map(|class| {
            let words: f64 = evidence
                .words
                .iter()
                .map(|&(look, answer)| word_chance(table, &class.key, look, answer).ln())
                .sum();
            let density = number_density(
                table,
                &class.key,
                evidence.gravity,
                evidence.index,
                [0.0; 2],
            );
            class.prior.ln() + words + density.max(f64::MIN_POSITIVE).ln()
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Three classes with priors .6, .3, .1; gravity 2.10 ± .06, 1.95 ± .15,
    /// 2.46 ± .10 and index 1.45 ± .02, 1.43 ± .03, 1.51 ± .02; seen 2.03 ± .02
    /// and 1.44 ± .01: .80049, .19951, .00000 (by hand: prior times two normal
    /// densities with the errors added in squares). That a number may be
    /// misread moves the fifth digit.
    #[test]
    fn agrees_with_bayes_by_hand() {
        let text = r#"
class = [
 {key="a",name="a",group="natural",prior=0.6,about="",source=["practice"]},
 {key="b",name="b",group="treated",prior=0.3,about="",source=["practice"]},
 {key="c",name="c",group="imitation",prior=0.1,about="",source=["practice"]},
]
component = [
 {class="a",weight=1.0,gravity=2.10,gravity_sigma=0.06,index=1.45,index_sigma=0.02,correlation=0.0,source=["practice"]},
 {class="b",weight=1.0,gravity=1.95,gravity_sigma=0.15,index=1.43,index_sigma=0.03,correlation=0.0,source=["practice"]},
 {class="c",weight=1.0,gravity=2.46,gravity_sigma=0.10,index=1.51,index_sigma=0.02,correlation=0.0,source=["practice"]},
]
look = []
chance = []
test = []
never = []
laboratory = []
same_sign = []
"#;
        let table: IdentityTable = toml::from_str(text).expect("reads");
        let evidence = Evidence {
            gravity: Some((2.03, 0.02)),
            index: Some((1.44, 0.01)),
            ..Evidence::default()
        };
        let shares = normalised(&log_weights(&table, &evidence));
        for (share, by_hand) in shares.iter().zip([0.80049, 0.19951, 0.0]) {
            assert!((share - by_hand).abs() < 5e-5, "{share} {by_hand}");
        }
    }

    /// A density in two numbers integrates to one, and to its marginal over one.
    #[test]
    fn densities_integrate() {
        let table = opal_reference::identity::identity();
        for class in ["hydrophane", "triplet", "synthetic"] {
            let g = (1.9, 0.02);
            let sum: f64 = (0..600)
                .map(|k| {
                    let i = 1.20 + 0.001 * f64::from(k);
                    0.001 * number_density(table, class, Some(g), Some((i, 0.01)), [0.0; 2])
                })
                .sum();
            let marginal = number_density(table, class, Some(g), None, [0.0; 2]);
            // Beyond the flat part's ends only the rows have weight.
            assert!(
                (sum / marginal - 1.0).abs() < 2e-3,
                "{class}: {sum} {marginal}"
            );
        }
    }

    /// An index that no row is near settles nothing: what the table does not hold is
    /// likelier than any of its rows, and a misread number stays open.
    #[test]
    fn a_number_far_from_every_row_settles_nothing() {
        let table = opal_reference::identity::identity();
        let evidence = Evidence {
            index: Some((2.4, 0.01)),
            ..Evidence::default()
        };
        let shares = normalised(&log_weights(table, &evidence));
        let of = |key: &str| {
            let class = table.classes.iter().position(|class| class.key == key);
            shares[class.expect("a class")]
        };
        assert!(of(NONE_OF_THESE) > of("natural-light"));
        assert!(of("natural-light") > 0.005);
    }
}
