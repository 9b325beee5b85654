//! What does not fit: readings that differ, looks out of place, numbers that
//! cannot be.

use crate::identify::{in_words, top};
use crate::likelihood::Evidence;
use crate::observation::{Found, GRAVITY, INDEX, Observation};
use opal_reference::identity::{IdentityTable, NONE_OF_THESE};

/// Something that does not fit.
#[derive(Clone, Debug, PartialEq)]
pub struct Misfit {
    /// The observation, by its name on file; empty when it is the whole.
    pub observation: String,
    /// What does not fit, in plain words.
    pub words: String,
}

/// Nothing known leaves this share to everything else; above it the readings fit
/// nothing well. Chosen.
const FITS_NOTHING: f64 = 0.15;

/// Everything that does not fit what the stone most likely is.
pub(crate) fn misfits(
    table: &IdentityTable,
    observations: &[Observation],
    evidence: &Evidence,
    shares: &[f64],
) -> Vec<Misfit> {
    let mut found = Vec::new();
    let best = &table.classes[top(shares)];
    for (k, observation) in observations.iter().enumerate() {
        let mut say = |words: String| {
            found.push(Misfit {
                observation: observation.id.clone(),
                words,
            });
        };
        if let Some(earlier) = observations[..k]
            .iter()
            .find(|o| o.look == observation.look && disagree(&o.found, &observation.found))
        {
            say(format!(
                "{} was read twice and differs: {} and then {}. Look again.",
                observation.look,
                in_words(table, earlier),
                in_words(table, observation)
            ));
        }
        if let Some(words) = unlikely_for(table, &best.key, &best.name, observation) {
            say(words);
        }
    }
    let sinks_in = observations
        .iter()
        .any(|o| o.look == "water-drop" && o.found == Found::Word("sinks-in".to_owned()));
    if sinks_in && let Some(o) = observations.iter().find(|o| o.look == GRAVITY) {
        found.push(Misfit {
            observation: o.id.clone(),
            words: "It takes up water, so a weighing in water reads too high, toward solid opal; only a weight and sizes taken dry count.".to_owned(),
        });
    }
    if let Some((index, sigma)) = evidence.index
        && index - 2.0 * sigma > 1.47
        && best.group.starts_with("natural")
    {
        found.push(Misfit {
            observation: String::new(),
            words: "An index above 1.47 rules out opal in the layer that was read.".to_owned(),
        });
    }
    let nothing: f64 = table
        .classes
        .iter()
        .zip(shares)
        .filter(|(class, _)| class.key == NONE_OF_THESE)
        .map(|(_, share)| share)
        .sum();
    if nothing > FITS_NOTHING {
        found.push(Misfit {
            observation: String::new(),
            words: "Taken together the readings fit nothing in the table well: check them before saying anything.".to_owned(),
        });
    }
    found
}

fn disagree(a: &Found, b: &Found) -> bool {
    match (a, b) {
        (Found::Word(a), Found::Word(b)) => a != b,
        (Found::Number { value: a, sigma: s }, Found::Number { value: b, sigma: t }) => {
            (a - b).abs() > 3.0 * (s * s + t * t).sqrt()
        }
        _ => true,
    }
}

/// Says so when an observation is far from what the class usually shows.
fn unlikely_for(
    table: &IdentityTable,
    class: &str,
    name: &str,
    observation: &Observation,
) -> Option<String> {
    /// Below this share of the usual answer's chance an answer is out of place.
    /// Chosen: one in twenty-five.
    const OUT_OF_PLACE: f64 = 0.04;
    if class == NONE_OF_THESE {
        return None;
    }
    match &observation.found {
        Found::Word(word) => {
            let row = table.chance(class, &observation.look)?;
            let look = table.look(&observation.look)?;
            let answer = look.values.iter().position(|v| v.key == *word)?;
            let most = row.p.iter().copied().fold(0.0, f64::max);
            (row.p[answer] < OUT_OF_PLACE * most).then(|| {
                format!(
                    "'{}' is rare for {name}: look again.",
                    in_words(table, observation)
                )
            })
        }
        Found::Number { value, sigma } => {
            let off = |mean: f64, spread: f64| {
                (value - mean).abs() / (spread * spread + sigma * sigma).sqrt()
            };
            let nearest = table
                .components(class)
                .map(|part| match observation.look.as_str() {
                    INDEX => off(part.index, part.index_sigma),
                    _ => off(part.gravity, part.gravity_sigma),
                })
                .fold(f64::INFINITY, f64::min);
            (nearest > 3.0).then(|| {
                format!(
                    "{} is far from {name}: read it again.",
                    in_words(table, observation)
                )
            })
        }
    }
}
