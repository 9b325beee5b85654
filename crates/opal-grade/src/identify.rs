//! What a stone most likely is, how sure that is, and what to look at next.
//!
//! Never a laboratory's certificate.

use crate::likelihood::{Evidence, log_weights, normalised, number_density, word_chance};
use crate::misfit::{Misfit, misfits};
use crate::next_test::{self, NextTest, RefusedTest};
use crate::observation::{self, Found, GRAVITY, Observation, ObservationFault};
use opal_reference::identity::{IdentityTable, NONE_OF_THESE};
use opal_units::Seed;
use rand_distr::{Beta, Distribution, StandardNormal};

/// How likely one thing is.
#[derive(Clone, Debug, PartialEq)]
pub struct Share {
    /// Key of the class or group.
    pub key: String,
    /// Its name in plain words.
    pub name: String,
    /// The chance, 0..=1.
    pub share: f64,
    /// One time in twenty it is less, as far as the tables behind it are unsure.
    pub low: f64,
    /// One time in twenty it is more.
    pub high: f64,
}

/// How much one observation speaks for the answer.
#[derive(Clone, Debug, PartialEq)]
pub struct Ground {
    /// The observation, by its name on file.
    pub observation: String,
    /// What was seen, in plain words.
    pub seen: String,
    /// For the answer against all else: doublings of its odds; below 0 against it.
    pub doublings: f64,
}

/// How far the answer may be taken.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum Sureness {
    /// Nineteen times in twenty or more, and nothing does not fit.
    NearlySure,
    /// Four times in five or more.
    Probable,
    /// Less: say that it is not settled.
    NotSettled,
}

/// What a stone most likely is.
#[derive(Clone, Debug, PartialEq)]
pub struct Identity {
    /// All classes, likeliest first.
    pub classes: Vec<Share>,
    /// What it counts as on paper, likeliest first.
    pub groups: Vec<Share>,
    /// How far the answer may be taken.
    pub sureness: Sureness,
    /// The answer in plain words.
    pub answer: String,
    /// What it rests on, weightiest first.
    pub grounds: Vec<Ground>,
    /// What does not fit.
    pub misfits: Vec<Misfit>,
    /// Safe tests that would tell more, best first.
    pub next: Vec<NextTest>,
    /// Tests that must not be done on this stone as things stand.
    pub refused: Vec<RefusedTest>,
    /// What only a laboratory can tell, when that is where things stand.
    pub laboratory: Option<String>,
    /// What was not looked at, in plain words.
    pub not_tested: Vec<String>,
}

/// How the shares of customers' stones in the table are unsure, as if so many
/// had been counted. Chosen: a year at a small counter.
const PRIOR_STRENGTH: f64 = 60.0;
/// How far the mean of a class's numbers may be off, in its own standard
/// deviations. Chosen: a third.
const MEAN_SHIFT: f64 = 1.0 / 3.0;
/// How often the tables are shaken for the spread.
const SHAKES: u64 = 400;
/// The seed of that shaking: one fixed number, so that a card reads the same.
const SHAKE_SEED: Seed = Seed(1);
/// What a stone most likely is, from what was seen of it.
///
/// # Method
/// Bayes' rule over the classes of the table, looks taken as independent given
/// the class, specific gravity and refractive index as a mixture of normal laws
/// in two numbers, and one class that finds everything equally likely, so that
/// nothing is ever ruled out. The spread comes from shaking the tables: each
/// chance by a beta law of its strength, each mean by a third of its spread.
///
/// # Validity
/// A counter's judgement. The chances in the table are mostly judged, not
/// counted; docs/method/truth.md holds how the answers did on published stones.
///
/// # Errors
/// Every observation that names an unknown look or answer, or a number that
/// cannot be.
pub fn identify(
    table: &IdentityTable,
    observations: &[Observation],
) -> Result<Identity, Vec<ObservationFault>> {
    let faults = observation::faults(table, observations);
    if !faults.is_empty() {
        return Err(faults);
    }
    let evidence = Evidence::of(table, observations);
    let shares = normalised(&log_weights(table, &evidence));
    let shaken = shaken(table, &evidence);
    let classes = class_shares(table, &shares, &shaken);
    let groups = group_shares(table, &shares, &shaken);
    let misfits = misfits(table, observations, &evidence, &shares);
    let (next, refused) = next_test::rank(table, &evidence, &shares);
    let laboratory = laboratory(table, &evidence, &shares, &next);
    // What fits nothing in the table is known to be nothing in particular.
    let fits_nothing = classes[0].key == NONE_OF_THESE;
    let sureness = match groups[0].share {
        _ if fits_nothing => Sureness::NotSettled,
        s if s >= 0.95 && misfits.is_empty() => Sureness::NearlySure,
        s if s >= 0.8 => Sureness::Probable,
        _ => Sureness::NotSettled,
    };
    Ok(Identity {
        answer: answer(sureness, &groups, &classes, observations.is_empty()),
        grounds: grounds(table, observations, &shares),
        not_tested: not_tested(table, &evidence),
        classes,
        groups,
        sureness,
        misfits,
        next,
        refused,
        laboratory,
    })
}

/// The names of the groups on paper.
pub(crate) fn group_name(group: &str) -> &'static str {
    match group {
        "natural" => "natural opal in one piece",
        "natural-porous" => "natural opal that takes up water",
        "treated" => "treated opal",
        "assembled" => "assembled stone",
        "synthetic" => "synthetic opal",
        "imitation" => "imitation",
        _ => "something else",
    }
}

fn shaken(table: &IdentityTable, evidence: &Evidence) -> Vec<Vec<f64>> {
    (0..SHAKES)
        .map(|k| {
            let mut rng = SHAKE_SEED.stream("identity-tables", k);
            let mut around = |p: f64, strength: f64| {
                // A beta law needs both parts above 0.
                let (a, b) = ((strength * p).max(1e-3), (strength * (1.0 - p)).max(1e-3));
                Beta::new(a, b)
                    .map_or(p, |law| law.sample(&mut rng))
                    .max(1e-6)
            };
            let mut logs: Vec<f64> = Vec::with_capacity(table.classes.len());
            let mut words = Vec::with_capacity(table.classes.len());
            for class in &table.classes {
                let mut log = around(class.prior.min(0.999), PRIOR_STRENGTH).ln();
                for &(look, answer) in &evidence.words {
                    let p = word_chance(table, &class.key, look, answer);
                    let strength = table
                        .chance(&class.key, &table.looks[look].key)
                        .map_or(1e9, |row| row.strength);
                    log += around(p, strength).ln();
                }
                words.push(log);
            }
            for (class, log) in table.classes.iter().zip(words) {
                let z: [f64; 2] = [
                    StandardNormal.sample(&mut rng),
                    StandardNormal.sample(&mut rng),
                ];
                let shift = z.map(|z| MEAN_SHIFT * z);
                let density =
                    number_density(table, &class.key, evidence.gravity, evidence.index, shift);
                logs.push(log + density.max(f64::MIN_POSITIVE).ln());
            }
            normalised(&logs)
        })
        .collect()
}

fn bounds(mut values: Vec<f64>) -> (f64, f64) {
    values.sort_by(f64::total_cmp);
    let at = |p: f64| values[((values.len() - 1) as f64 * p).round() as usize];
    (at(0.05), at(0.95))
}

fn class_shares(table: &IdentityTable, shares: &[f64], shaken: &[Vec<f64>]) -> Vec<Share> {
    let mut classes: Vec<Share> = table
        .classes
        .iter()
        .enumerate()
        .map(|(k, class)| {
            let (low, high) = bounds(shaken.iter().map(|s| s[k]).collect());
            Share {
                key: class.key.clone(),
                name: class.name.clone(),
                share: shares[k],
                low: low.min(shares[k]),
                high: high.max(shares[k]),
            }
        })
        .collect();
    classes.sort_by(|a, b| b.share.total_cmp(&a.share));
    classes
}

fn group_shares(table: &IdentityTable, shares: &[f64], shaken: &[Vec<f64>]) -> Vec<Share> {
    let mut keys: Vec<&str> = Vec::new();
    for class in &table.classes {
        if !keys.contains(&class.group.as_str()) {
            keys.push(&class.group);
        }
    }
    let sum = |weights: &[f64], key: &str| -> f64 {
        table
            .classes
            .iter()
            .zip(weights)
            .filter(|(class, _)| class.group == key)
            .map(|(_, w)| w)
            .sum()
    };
    let mut groups: Vec<Share> = keys
        .into_iter()
        .map(|key| {
            let share = sum(shares, key);
            let (low, high) = bounds(shaken.iter().map(|s| sum(s, key)).collect());
            Share {
                key: key.to_owned(),
                name: group_name(key).to_owned(),
                share,
                low: low.min(share),
                high: high.max(share),
            }
        })
        .collect();
    groups.sort_by(|a, b| b.share.total_cmp(&a.share));
    groups
}

/// What an observation says, in plain words.
pub(crate) fn in_words(table: &IdentityTable, observation: &Observation) -> String {
    match &observation.found {
        Found::Number { value, sigma } => {
            let name = if observation.look == GRAVITY {
                "Specific gravity"
            } else {
                "Refractive index"
            };
            // Two figures of the error, and the value to the same place.
            let digits = (1.0 - sigma.log10().floor()).clamp(0.0, 4.0) as usize;
            format!("{name} {value:.digits$} ± {sigma:.digits$}")
        }
        Found::Word(word) => {
            let look = table.look(&observation.look);
            let value = look.and_then(|l| l.values.iter().find(|v| v.key == *word));
            match (look, value) {
                (Some(look), Some(value)) => format!("{}: {}", look.name, value.name),
                _ => format!("{}: {word}", observation.look),
            }
        }
    }
}

fn grounds(table: &IdentityTable, observations: &[Observation], shares: &[f64]) -> Vec<Ground> {
    let best = top(shares);
    let rest: f64 = 1.0 - shares[best];
    let mut grounds: Vec<Ground> = observations
        .iter()
        .map(|observation| {
            let logs = log_weights(table, &Evidence::of(table, [observation]));
            let likelihood = |k: usize| (logs[k] - table.classes[k].prior.ln()).exp();
            // All else is weighed by how likely it is on everything seen.
            let others: f64 = (0..shares.len())
                .filter(|&k| k != best)
                .map(|k| shares[k] / rest.max(f64::MIN_POSITIVE) * likelihood(k))
                .sum();
            Ground {
                observation: observation.id.clone(),
                seen: in_words(table, observation),
                doublings: (likelihood(best) / others.max(f64::MIN_POSITIVE)).log2(),
            }
        })
        .collect();
    grounds.sort_by(|a, b| b.doublings.abs().total_cmp(&a.doublings.abs()));
    grounds
}

pub(crate) fn top(shares: &[f64]) -> usize {
    (0..shares.len())
        .max_by(|&a, &b| shares[a].total_cmp(&shares[b]))
        .unwrap_or(0)
}

fn laboratory(
    table: &IdentityTable,
    evidence: &Evidence,
    shares: &[f64],
    next: &[NextTest],
) -> Option<String> {
    /// A test that tells less than this is not worth the walk to the bench.
    /// Chosen: a fifteenth of the worth of a coin's toss.
    const WORTH_DOING: f64 = 0.066;
    if evidence.has(table, "laboratory") {
        return None;
    }
    let at_home = next
        .iter()
        .any(|t| t.key != "laboratory" && t.bits >= WORTH_DOING);
    if at_home {
        return None;
    }
    let share = |key: &str| {
        table
            .classes
            .iter()
            .zip(shares)
            .find(|(class, _)| class.key == key)
            .map_or(0.0, |(_, s)| *s)
    };
    table
        .laboratory
        .iter()
        .map(|question| {
            let natural: f64 = question.natural.iter().map(|k| share(k)).sum();
            (natural.min(share(&question.other)), question)
        })
        .filter(|(open, _)| *open > 0.01)
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, question)| {
            let other = table
                .class(&question.other)
                .map_or(question.other.as_str(), |class| class.name.as_str());
            format!(
                "Only a laboratory can tell whether it is {other}: {}.",
                question.method
            )
        })
}

fn answer(sureness: Sureness, groups: &[Share], classes: &[Share], nothing_seen: bool) -> String {
    if nothing_seen {
        return "Nothing was looked at yet: not tested.".to_owned();
    }
    let percent = |share: f64| {
        // Never round up to certain.
        format!("{:.0} %", (100.0 * share).floor().clamp(1.0, 99.0))
    };
    let said = match sureness {
        Sureness::NearlySure => format!(
            "Almost certainly {} ({}), most likely {}.",
            groups[0].name,
            percent(groups[0].share),
            classes[0].name
        ),
        Sureness::Probable => format!(
            "Probably {} ({}), most likely {}.",
            groups[0].name,
            percent(groups[0].share),
            classes[0].name
        ),
        Sureness::NotSettled if classes[0].key == NONE_OF_THESE => {
            "Not settled: what was found fits nothing that is known here. Read the numbers \
             again; if they stand, only a laboratory can tell."
                .to_owned()
        }
        Sureness::NotSettled => format!(
            "Not settled: {} ({}) or {} ({}).",
            classes[0].name,
            percent(classes[0].share),
            classes[1].name,
            percent(classes[1].share)
        ),
    };
    format!("{said} This is a judgement at the counter, not a laboratory's certificate.")
}

fn not_tested(table: &IdentityTable, evidence: &Evidence) -> Vec<String> {
    let mut names: Vec<String> = table
        .looks
        .iter()
        .filter(|look| !evidence.has(table, &look.key))
        .map(|look| look.name.clone())
        .collect();
    if evidence.gravity.is_none() {
        names.push("Specific gravity".to_owned());
    }
    if evidence.index.is_none() {
        names.push("Refractive index".to_owned());
    }
    names
}
