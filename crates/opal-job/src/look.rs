//! What the colour may turn out to be, one draw for each interior.

use opal_evidence::{Brightness, Form, Look, Variety};
use opal_units::Seed;
use opal_value::{PriceBook, PriceError};
use rand::RngExt as _;

/// Key of a variety, as price books write it.
#[must_use]
pub fn variety_key(variety: Variety) -> &'static str {
    match variety {
        Variety::Black => "black",
        Variety::Dark => "dark",
        Variety::Light => "light",
        Variety::Crystal => "crystal",
        Variety::Boulder => "boulder",
        Variety::Matrix => "matrix",
    }
}

/// Key of a brightness word, as price books write it.
#[must_use]
pub fn brightness_key(brightness: Brightness) -> &'static str {
    match brightness {
        Brightness::Dull => "dull",
        Brightness::Subdued => "subdued",
        Brightness::Bright => "bright",
        Brightness::VeryBright => "very-bright",
        Brightness::Brilliant => "brilliant",
    }
}

/// The classes that the colour may fall into, and which one each interior has.
#[derive(Clone, Debug, PartialEq)]
pub struct LookDraws {
    /// Keys of variety and brightness.
    pub classes: Vec<(&'static str, &'static str)>,
    /// For each interior, its place in `classes`.
    pub class_of: Vec<u16>,
    /// The likeliest class.
    pub likeliest: usize,
    /// What it rests on and what had to be assumed, in plain words.
    pub notes: Vec<String>,
}

/// Weights where nobody judged the variety. Chosen, and to be replaced by the
/// cutter's own ledger: most opal is light, and a buyer who counts on black
/// pays for hope.
const VARIETY_UNJUDGED: [(Variety, f64); 4] = [
    (Variety::Light, 0.6),
    (Variety::Crystal, 0.2),
    (Variety::Dark, 0.15),
    (Variety::Black, 0.05),
];
/// Weights where nobody judged the brightness. Chosen, and to be replaced by the
/// cutter's own ledger: the ends are rare.
const BRIGHTNESS_UNJUDGED: [(Brightness, f64); 5] = [
    (Brightness::Dull, 0.2),
    (Brightness::Subdued, 0.3),
    (Brightness::Bright, 0.3),
    (Brightness::VeryBright, 0.15),
    (Brightness::Brilliant, 0.05),
];

fn varieties(look: &Look, form: Form, notes: &mut Vec<String>) -> Vec<(Variety, f64)> {
    if let Some(variety) = look.variety {
        return vec![(variety, 1.0)];
    }
    if let Some(tone) = look.body_tone {
        return vec![(tone.variety(), 1.0)];
    }
    match form {
        Form::Boulder => vec![(Variety::Boulder, 1.0)],
        Form::Matrix => vec![(Variety::Matrix, 1.0)],
        _ => {
            notes.push(
                "Nobody judged the body tone: mostly light is assumed, seldom black, and the \
                 spread carries it."
                    .to_owned(),
            );
            VARIETY_UNJUDGED.to_vec()
        }
    }
}

fn brightnesses(look: &Look, notes: &mut Vec<String>) -> Vec<(Brightness, f64)> {
    let judged = &look.brightness;
    if judged.is_empty() {
        notes.push(
            "Nobody judged the brightness: anything from dull to brilliant is drawn, and the \
             spread carries it."
                .to_owned(),
        );
        return BRIGHTNESS_UNJUDGED.to_vec();
    }
    let mut seen: Vec<(Brightness, f64)> = Vec::new();
    for &word in judged {
        if seen.iter().all(|&(there, _)| there != word) {
            seen.push((word, 1.0));
        }
    }
    seen
}

/// The brightness word nearest to the wanted one that the book prices for a
/// variety: the duller of two that are equally near.
fn nearest_priced(book: &PriceBook, variety: &str, wanted: Brightness) -> Option<Brightness> {
    let priced = book.brightnesses(variety);
    let place = |word: Brightness| {
        Brightness::ALL
            .iter()
            .position(|&w| w == word)
            .unwrap_or_default()
    };
    Brightness::ALL
        .into_iter()
        .filter(|&word| priced.contains(&brightness_key(word)))
        .min_by_key(|&word| place(word).abs_diff(place(wanted)))
}

impl LookDraws {
    /// One class for each of `n` interiors.
    ///
    /// A class that the book does not price is priced as the nearest brightness
    /// of its variety, and told; a variety that it does not price at all is an
    /// error where it was judged, and left out of the draw where it was not.
    ///
    /// # Errors
    /// The book prices none of what the stone may be.
    pub fn draw(
        look: &Look,
        form: Form,
        book: &PriceBook,
        n: usize,
        seed: Seed,
    ) -> Result<Self, PriceError> {
        let mut notes = Vec::new();
        let varieties = varieties(look, form, &mut notes);
        let brightnesses = brightnesses(look, &mut notes);
        let mut classes: Vec<(&'static str, &'static str)> = Vec::new();
        let mut weights: Vec<f64> = Vec::new();
        for &(variety, variety_weight) in &varieties {
            let variety = variety_key(variety);
            for &(brightness, brightness_weight) in &brightnesses {
                let Some(priced) = nearest_priced(book, variety, brightness) else {
                    continue;
                };
                if priced != brightness {
                    notes.push(format!(
                        "Your price book has no row for {variety}, {}: it is priced as {}.",
                        brightness_key(brightness),
                        brightness_key(priced)
                    ));
                }
                let class = (variety, brightness_key(priced));
                let weight = variety_weight * brightness_weight;
                match classes.iter().position(|&there| there == class) {
                    Some(place) => weights[place] += weight,
                    None => {
                        classes.push(class);
                        weights.push(weight);
                    }
                }
            }
        }
        if classes.is_empty() {
            let (variety, brightness) = (variety_key(varieties[0].0), brightnesses[0].0);
            return Err(PriceError::NoRow {
                variety: variety.to_owned(),
                brightness: brightness_key(brightness).to_owned(),
                has: book.varieties().join(", "),
            });
        }
        let total: f64 = weights.iter().sum();
        let class_of = (0..n)
            .map(|i| {
                let mut left = seed.stream("look", i as u64).random::<f64>() * total;
                let place = weights.iter().position(|&weight| {
                    left -= weight;
                    left < 0.0
                });
                place.unwrap_or(weights.len() - 1) as u16
            })
            .collect();
        let likeliest = (0..weights.len())
            .max_by(|&a, &b| weights[a].total_cmp(&weights[b]).then(b.cmp(&a)))
            .unwrap_or_default();
        Ok(Self {
            classes,
            class_of,
            likeliest,
            notes,
        })
    }
}
