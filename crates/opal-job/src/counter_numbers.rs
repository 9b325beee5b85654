//! What the numbers of a finished stone tell: its specific gravity, read or by what
//! it is; and the names under which numbers stand on file.

use crate::counter::CounterStone;
use opal_grade::{Found, GRAVITY, Observation, gravity_from_sizes, weigh_in_water};
use opal_reference::identity::identity as table;
use opal_units::SpecificGravity;

/// The names on file that are taken.
pub(crate) fn ids(stone: &CounterStone) -> Vec<&str> {
    let looks = stone.observations.iter().map(|look| look.id.as_str());
    let described = stone.described.iter().map(|one| one.id.as_str());
    looks.chain(described).collect()
}

/// A name that nothing else on file has.
pub(crate) fn free_id(taken: &[&str], wanted: &str) -> String {
    let mut id = wanted.to_owned();
    while taken.contains(&id.as_str()) {
        id.push_str("-on-file");
    }
    id
}

/// The specific gravity that the stone's own numbers give, as an observation.
pub(crate) fn gravity_read(stone: &CounterStone, notes: &mut Vec<String>) -> Option<Observation> {
    let observation =
        |wanted: &str, gravity: SpecificGravity, sigma: SpecificGravity| Observation {
            id: free_id(&ids(stone), wanted),
            look: GRAVITY.to_owned(),
            found: Found::Number {
                // What is printed is what counts: four digits, below any scale's error.
                value: (gravity.ratio() * 1e4).round() / 1e4,
                sigma: ((sigma.ratio() * 1e4).round() / 1e4).max(1e-4),
            },
            by: None,
            at: None,
        };
    if let Some((rows, setup)) = &stone.weighings {
        match weigh_in_water(rows, setup, &stone.soak) {
            Ok(weighed) => {
                notes.extend(weighed.notes.iter().cloned());
                return Some(observation(
                    "weighed-in-water",
                    weighed.gravity,
                    weighed.sigma,
                ));
            }
            Err(error) => notes.push(format!("The weighing in water does not count: {error}.")),
        }
    }
    if stone.observations.iter().any(|o| o.look == GRAVITY) {
        return None;
    }
    let (sizes, weight) = (stone.sizes.as_ref()?, stone.weight?);
    match gravity_from_sizes(sizes, weight) {
        Ok((gravity, sigma)) => Some(observation("weight-and-sizes", gravity, sigma)),
        Err(error) => {
            notes.push(format!("Weight and sizes do not count: {error}."));
            None
        }
    }
}

/// Mean and one standard deviation of the specific gravity of a class, or of the
/// classes of a group, each by how often it comes to the counter.
pub(crate) fn gravity_of(key: &str) -> Option<(SpecificGravity, SpecificGravity)> {
    let classes: Vec<_> = match table().class(key) {
        Some(class) => vec![class],
        None => table().of_group(key).collect(),
    };
    let parts: Vec<_> = classes
        .iter()
        .flat_map(|class| {
            let parts = table().components(&class.key);
            parts.map(move |part| (class.prior * part.weight, part))
        })
        .collect();
    let total: f64 = parts.iter().map(|(weight, _)| weight).sum();
    if total <= 0.0 {
        return None;
    }
    let mean: f64 = parts.iter().map(|(w, part)| w * part.gravity).sum::<f64>() / total;
    let square: f64 = parts
        .iter()
        .map(|(weight, part)| {
            let off = part.gravity - mean;
            weight / total * (part.gravity_sigma * part.gravity_sigma + off * off)
        })
        .sum();
    Some((
        SpecificGravity::new(mean),
        SpecificGravity::new(square.sqrt()),
    ))
}
