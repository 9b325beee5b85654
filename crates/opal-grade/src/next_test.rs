//! Which safe test tells most next.

use crate::identify::group_name;
use crate::likelihood::{Evidence, normalised, number_density, word_chance};
use crate::observation::{GRAVITY, INDEX};
use opal_reference::identity::{GemTest, IdentityTable, NONE_OF_THESE};

/// A test that is safe for this stone as things stand.
#[derive(Clone, Debug, PartialEq)]
pub struct NextTest {
    /// Its key.
    pub key: String,
    /// Its name.
    pub name: String,
    /// How much it is expected to tell, bits about what the stone counts as.
    pub bits: f64,
    /// Minutes.
    pub minutes: f64,
    /// What it needs.
    pub needs: String,
    /// How to do it.
    pub how: String,
    /// What it can harm.
    pub harm: String,
}

/// A test that must not be done on this stone as things stand.
#[derive(Clone, Debug, PartialEq)]
pub struct RefusedTest {
    /// Its key.
    pub key: String,
    /// Its name.
    pub name: String,
    /// Why not.
    pub why: String,
}

/// A test is refused while it may harm the stone with a chance above this.
/// Chosen: one in fifty.
const HARM_ACCEPTED: f64 = 0.02;
/// Tests not done yet, best first; and those refused, destructive ones among them.
pub(crate) fn rank(
    table: &IdentityTable,
    evidence: &Evidence,
    shares: &[f64],
) -> (Vec<NextTest>, Vec<RefusedTest>) {
    let mut next = Vec::new();
    let mut refused = Vec::new();
    let labels = labels(table);
    for test in &table.tests {
        if test
            .gives
            .iter()
            .all(|look| is_known(table, evidence, test, look))
        {
            continue;
        }
        if let Some(why) = may_harm(table, test, shares) {
            refused.push(RefusedTest {
                key: test.key.clone(),
                name: test.name.clone(),
                why,
            });
            continue;
        }
        // The tests of the table answer one look each; of several the best counts.
        let bits = test
            .gives
            .iter()
            .map(|look| expected_bits(table, evidence, shares, &labels, look, test.error))
            .fold(0.0, f64::max);
        next.push(NextTest {
            key: test.key.clone(),
            name: test.name.clone(),
            bits,
            minutes: test.minutes,
            needs: test.needs.clone(),
            how: test.how.clone(),
            harm: test.harm.clone(),
        });
    }
    // What is told for the time it takes; a long test must tell much more.
    let worth = |t: &NextTest| t.bits / t.minutes.max(1.0).sqrt();
    next.sort_by(|a, b| worth(b).total_cmp(&worth(a)));
    refused.extend(table.never.iter().map(|never| RefusedTest {
        key: never.key.clone(),
        name: never.name.clone(),
        why: format!("Never: {}.", never.why),
    }));
    (next, refused)
}

/// True when the look was done; a number, when it was read about as well as the
/// test would read it.
fn is_known(table: &IdentityTable, evidence: &Evidence, test: &GemTest, look: &str) -> bool {
    let as_good = |read: Option<(f64, f64)>| {
        read.is_some_and(|(_, sigma)| test.error.is_none_or(|error| sigma < 2.0 * error))
    };
    match look {
        GRAVITY => as_good(evidence.gravity),
        INDEX => as_good(evidence.index),
        word => evidence.has(table, word),
    }
}

fn may_harm(table: &IdentityTable, test: &GemTest, shares: &[f64]) -> Option<String> {
    let mut harmed: Vec<(f64, &str)> = table
        .classes
        .iter()
        .zip(shares)
        .filter(|(class, _)| test.not_for.contains(&class.key))
        .map(|(class, share)| (*share, class.name.as_str()))
        .collect();
    let chance: f64 = harmed.iter().map(|(share, _)| share).sum();
    if chance <= HARM_ACCEPTED {
        return None;
    }
    harmed.sort_by(|a, b| b.0.total_cmp(&a.0));
    Some(format!(
        "It may be {}, and then {}.",
        harmed[0].1, test.harm
    ))
}

/// What is to be told apart: each class by itself, the natural ones together.
fn labels(table: &IdentityTable) -> Vec<usize> {
    let mut names: Vec<&str> = Vec::new();
    table
        .classes
        .iter()
        .map(|class| {
            let name = if class.group == "natural" {
                group_name("natural")
            } else {
                class.key.as_str()
            };
            names.iter().position(|n| *n == name).unwrap_or_else(|| {
                names.push(name);
                names.len() - 1
            })
        })
        .collect()
}

fn entropy_bits(shares: &[f64], labels: &[usize]) -> f64 {
    let mut sums = vec![0.0; labels.iter().max().map_or(0, |m| m + 1)];
    for (share, label) in shares.iter().zip(labels) {
        sums[*label] += share;
    }
    sums.iter()
        .filter(|p| **p > 0.0)
        .map(|p| -p * p.log2())
        .sum()
}

/// The mean fall of the entropy over the answers that a look may give.
///
/// # Method
/// Expected information (Lindley 1956, Annals of Mathematical Statistics 27);
/// numbers are summed over a fine grid. A number that was read coarsely before is
/// left out of the new reading's chances, which counts it a little twice.
fn expected_bits(
    table: &IdentityTable,
    evidence: &Evidence,
    shares: &[f64],
    labels: &[usize],
    look: &str,
    error: Option<f64>,
) -> f64 {
    let before = entropy_bits(shares, labels);
    let mut told = 0.0;
    let mut outcome = |likelihoods: Vec<f64>| {
        let joint: Vec<f64> = shares
            .iter()
            .zip(&likelihoods)
            .map(|(s, l)| s * l)
            .collect();
        let chance: f64 = joint.iter().sum();
        if chance > 1e-12 {
            let logs: Vec<f64> = joint
                .iter()
                .map(|j| j.max(f64::MIN_POSITIVE).ln())
                .collect();
            told += chance * (before - entropy_bits(&normalised(&logs), labels));
        }
    };
    match look {
        GRAVITY | INDEX => {
            let (from, to, step) = if look == GRAVITY {
                (0.5, 5.0, 0.01)
            } else {
                (1.25, 1.85, 0.0025)
            };
            let error = error.unwrap_or(step);
            let other = if look == GRAVITY {
                (None, evidence.index)
            } else {
                (evidence.gravity, None)
            };
            let steps = ((to - from) / step) as usize;
            for k in 0..steps {
                let value = Some((from + step * (k as f64 + 0.5), error));
                let (gravity, index) = if look == GRAVITY {
                    (value, evidence.index)
                } else {
                    (evidence.gravity, value)
                };
                outcome(
                    table
                        .classes
                        .iter()
                        .map(|class| {
                            if class.key == NONE_OF_THESE {
                                return step / (to - from);
                            }
                            let with = number_density(table, &class.key, gravity, index, [0.0; 2]);
                            let without =
                                number_density(table, &class.key, other.0, other.1, [0.0; 2]);
                            step * with / without.max(f64::MIN_POSITIVE)
                        })
                        .collect(),
                );
            }
        }
        word => {
            let Some(look) = table.looks.iter().position(|l| l.key == word) else {
                return 0.0;
            };
            for answer in 0..table.looks[look].values.len() {
                outcome(
                    table
                        .classes
                        .iter()
                        .map(|class| word_chance(table, &class.key, look, answer))
                        .collect(),
                );
            }
        }
    }
    told.max(0.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::likelihood::log_weights;
    use opal_reference::identity::identity;

    fn start() -> (Evidence, Vec<f64>) {
        let evidence = Evidence::default();
        let shares = normalised(&log_weights(identity(), &evidence));
        (evidence, shares)
    }

    #[test]
    fn at_first_only_harmless_looks_are_proposed() {
        let (evidence, shares) = start();
        let (next, refused) = rank(identity(), &evidence, &shares);
        assert!(next.iter().all(|t| t.bits >= 0.0 && t.bits.is_finite()));
        assert_ne!(next[0].key, "laboratory");
        let not_now: Vec<&str> = refused.iter().map(|t| t.key.as_str()).collect();
        for key in [
            "weigh-in-water",
            "spot-index",
            "water-drop",
            "hot-point",
            "scratch",
            "soak",
        ] {
            assert!(not_now.contains(&key), "{key}");
        }
        assert!(next.iter().all(|t| !not_now.contains(&t.key.as_str())));
    }

    /// A look cannot tell more than the entropy, nor a yes-no look more than a bit.
    #[test]
    fn bits_keep_within_their_bounds() {
        let (evidence, shares) = start();
        let labels = labels(identity());
        let whole = entropy_bits(&shares, &labels);
        for look in identity()
            .looks
            .iter()
            .map(|l| l.key.as_str())
            .chain([GRAVITY, INDEX])
        {
            let bits = expected_bits(identity(), &evidence, &shares, &labels, look, Some(0.02));
            assert!(bits >= 0.0 && bits <= whole, "{look}: {bits}");
            if matches!(look, "afterglow" | "water-drop") {
                assert!(bits <= 1.0, "{look}: {bits}");
            }
        }
        // A fair coin over two labels is one bit.
        assert!((entropy_bits(&[0.5, 0.5], &[0, 1]) - 1.0).abs() < 1e-12);
    }

    /// A coarse number tells less than a fine one, and does not stand in its way.
    #[test]
    fn a_rough_gravity_tells_less_and_leaves_the_fine_one_open() {
        let (evidence, shares) = start();
        let bits = |error| {
            expected_bits(
                identity(),
                &evidence,
                &shares,
                &labels(identity()),
                GRAVITY,
                Some(error),
            )
        };
        assert!(bits(0.3) > 0.0 && bits(0.3) < bits(0.02));
        let rough = Evidence {
            gravity: Some((2.2, 0.3)),
            ..Evidence::default()
        };
        let test = |key: &str| {
            let table = identity();
            let test = table.tests.iter().find(|t| t.key == key).expect("a test");
            is_known(table, &rough, test, GRAVITY)
        };
        assert!(test("weigh-and-measure") && !test("weigh-in-water"));
    }

    #[test]
    fn water_may_come_once_glue_and_pores_are_ruled_out() {
        let table = identity();
        let find = |look: &str, answer: &str| {
            let l = table
                .looks
                .iter()
                .position(|x| x.key == look)
                .expect("a look");
            let a = table.looks[l]
                .values
                .iter()
                .position(|v| v.key == answer)
                .expect("an answer");
            (l, a)
        };
        let evidence = Evidence {
            words: vec![
                find("side-view", "uneven-potch"),
                find("back", "potch"),
                find("pattern", "irregular"),
                find("specks", "sand-or-rock"),
                find("body", "dark"),
            ],
            ..Evidence::default()
        };
        let shares = normalised(&log_weights(table, &evidence));
        let (next, _) = rank(table, &evidence, &shares);
        assert!(next.iter().any(|t| t.key == "weigh-in-water"), "{shares:?}");
    }
}
