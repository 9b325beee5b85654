//! Sizes to be cut from the piece, and how they are spoken of.

use crate::options::StandardSize;
use crate::plan::CutKind;
use crate::value::kind_words;
use opal_evidence::Fault;
use opal_geom::families::family;

/// So many stones of one standard size.
#[derive(Clone, Debug, PartialEq)]
pub struct Order {
    /// The size.
    pub size: StandardSize,
    /// How many.
    pub count: usize,
    /// True where they must match: same bar, same dome.
    pub matched: bool,
}

impl Order {
    /// A pair that matches.
    #[must_use]
    pub fn pair(size: StandardSize) -> Self {
        Self {
            size,
            count: 2,
            matched: true,
        }
    }

    /// An order as it is spoken of: `a pair of 8 × 6`, `one 30 x 22 pendant`,
    /// `3 matched round 6 mm`.
    ///
    /// Two sizes without an outline are an oval, one size a round; a pair always
    /// matches; without a count it is one.
    ///
    /// # Errors
    /// A word that is none of an order's, or no size.
    pub fn from_words(words: &str) -> Result<Self, Fault> {
        let fault = |why: String| Fault::new("order", words, why);
        let spaced = words.to_lowercase().replace(['×', '*'], "x");
        let mut order = Spoken::default();
        for word in spaced.split_whitespace() {
            order.take(word).map_err(|()| {
                fault(format!(
                    "\"{word}\" is no part of an order; say for instance \"a pair of 8 x 6\", \
                     \"one 30 x 22 pendant\" or \"3 matched round 6 mm\""
                ))
            })?;
        }
        order.whole().map_err(|why| fault(why.to_owned()))
    }

    /// In plain words: `a matched pair of oval 8 × 6 mm`.
    #[must_use]
    pub fn title(&self) -> String {
        let size = kind_words(&CutKind::Standard {
            family: self.size.family.clone(),
            length: self.size.length,
            width: self.size.width,
        });
        match (self.count, self.matched) {
            (1, _) => format!("one {size}"),
            (2, true) => format!("a matched pair of {size}"),
            (n, true) => format!("{n} matched {size}"),
            (n, false) => format!("{n} of {size}"),
        }
    }
}

/// Words that say nothing of the size.
const FILLING: [&str; 12] = [
    "a",
    "an",
    "of",
    "mm",
    "stone",
    "stones",
    "pendant",
    "pendants",
    "cabochon",
    "cabochons",
    "ring",
    "earrings",
];
/// Counts in words, from one.
const COUNTS: [&str; 6] = ["one", "two", "three", "four", "five", "six"];

/// An order of which some words have been heard.
#[derive(Default)]
struct Spoken {
    family: Option<String>,
    pair: bool,
    matched: bool,
    count: Option<usize>,
    /// Whole numbers that may be a count or a size, and sizes.
    numbers: Vec<f64>,
    /// Sizes that were told as one word: `8x6`.
    sizes: Option<[f64; 2]>,
    /// An `x` stood between two numbers.
    crossed: bool,
}

impl Spoken {
    fn take(&mut self, word: &str) -> Result<(), ()> {
        let word = word.trim_matches([',', '.']);
        let word = word.strip_suffix("mm").unwrap_or(word);
        if word == "x" && self.numbers.is_empty() {
            return Err(());
        }
        if let Some((length, width)) = word.split_once('x')
            && let (Ok(length), Ok(width)) = (length.parse(), width.parse())
        {
            self.sizes = Some([length, width]);
            return Ok(());
        }
        if let Some(number) = word.parse::<f64>().ok().filter(|x| x.is_finite()) {
            self.numbers.push(number);
            return Ok(());
        }
        if let Some(k) = COUNTS.iter().position(|count| *count == word) {
            self.count = Some(k + 1);
            return Ok(());
        }
        match word {
            "pair" | "pairs" => self.pair = true,
            "matched" | "matching" => self.matched = true,
            "x" => self.crossed = true,
            "" => {}
            word if FILLING.contains(&word) => {}
            word => {
                let one = word.strip_suffix('s').unwrap_or(word);
                let known = |key: &str| family(key, 2.0, 1.0, 32).is_some();
                let key = [word, one].into_iter().find(|key| known(key)).ok_or(())?;
                self.family = Some(key.to_owned());
            }
        }
        Ok(())
    }

    fn whole(self) -> Result<Order, &'static str> {
        let mut numbers = self.numbers;
        let mut count = self.count;
        // A number before the sizes is the count.
        let sized = if self.crossed { 2 } else { 1 };
        let wanted = if self.sizes.is_some() { 0 } else { sized };
        if count.is_none() && numbers.len() == wanted + 1 {
            let first = numbers.remove(0);
            if !(first.fract() == 0.0 && (1.0..=1000.0).contains(&first)) {
                return Err("the count must be a whole number from 1");
            }
            count = Some(first as usize);
        }
        let [length, width] = match (self.sizes, numbers.as_slice()) {
            (Some(sizes), []) => sizes,
            (None, [one]) if !self.crossed => [*one, *one],
            (None, [length, width]) if self.crossed => [*length, *width],
            _ => return Err("give one size, such as 8 x 6, or one number for a round"),
        };
        let usual = if length == width { "round" } else { "oval" };
        let family = self.family.unwrap_or_else(|| usual.to_owned());
        let count = count.unwrap_or(1) * if self.pair { 2 } else { 1 };
        Ok(Order {
            size: StandardSize::from_mm(family, length.max(width), length.min(width)),
            count,
            matched: self.matched || self.pair,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn orders_are_understood_as_they_are_spoken_of() {
        for (words, title) in [
            ("a pair of 8 × 6", "a matched pair of oval 8 × 6 mm"),
            ("one 30 x 22 pendant", "one oval 30 × 22 mm"),
            ("30x22mm", "one oval 30 × 22 mm"),
            ("6 x 8", "one oval 8 × 6 mm"),
            ("3 round 6 mm", "3 of round 6 mm"),
            ("3 matched rounds 6 mm", "3 matched round 6 mm"),
            ("2 oval 10x8", "2 of oval 10 × 8 mm"),
            ("two pairs of 7 x 5", "4 matched oval 7 × 5 mm"),
            ("pear 12 x 8", "one pear 12 × 8 mm"),
            ("5.5", "one round 5.5 mm"),
        ] {
            let order = Order::from_words(words).expect(words);
            assert_eq!(order.title(), title, "{words}");
        }
    }

    #[test]
    fn what_is_no_order_is_told() {
        for words in [
            "",
            "a pair",
            "blob 8 x 6",
            "8 x",
            "x 8",
            "1.5 oval 8 x 6",
            "nan x 6",
            "1 2 3 x 4",
            "-3 round 6",
        ] {
            let fault = Order::from_words(words).expect_err(words);
            assert_eq!(fault.field, "order");
        }
    }
}
