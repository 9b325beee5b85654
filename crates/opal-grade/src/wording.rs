//! Words that a text about a stone must not hold, or must.

use opal_reference::disclosure::DisclosureRules;
use opal_reference::identity::IdentityTable;

/// What is on file, beyond what the stone is.
#[derive(Clone, Copy, Debug, Default, Eq, PartialEq)]
pub struct Proof {
    /// Where it comes from, as somebody told it: a place may stand when the text
    /// says right after it that it was told.
    pub origin_told: bool,
    /// A laboratory's report.
    pub laboratory: bool,
    /// The tests that the text may speak of were done here.
    pub tested: bool,
}

/// One word or phrase that must not stand, or that is missing.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct WordFault {
    /// The words as they stand in the text; empty when something is missing.
    pub words: String,
    /// Where, in bytes of the text.
    pub at: std::ops::Range<usize>,
    /// Why.
    pub why: String,
    /// What to say in their place.
    pub instead: String,
    /// The clause that it rests on.
    pub clause: String,
}

/// Looks a title or a description over: every fault, in the order of the text.
///
/// `class` is what the stone is on file: a class, or a group whose class is not
/// settled. Anything else is looked over as something that was not identified.
#[must_use]
pub fn check_text(
    table: &IdentityTable,
    rules: &DisclosureRules,
    market: &str,
    class: &str,
    proof: Proof,
    text: &str,
) -> Vec<WordFault> {
    let group = table.group_of(class).unwrap_or("other");
    let words = words_of(text);
    let mut faults = Vec::new();
    let mut tell = |phrases: &[String],
                    why: &str,
                    instead: &str,
                    clause: &str,
                    excused: &dyn Fn(usize, usize) -> bool| {
        for (from, to) in phrases.iter().flat_map(|phrase| places(&words, phrase)) {
            if !is_denied(&words, from) && !excused(from, to) {
                faults.push(fault(text, &words, from, to, why, instead, clause));
            }
        }
    };
    for rule in rules.forbidden(market, group) {
        tell(
            &rule.words,
            &rule.why,
            &rule.instead,
            &rule.clause,
            &|from, to| {
                let mut inside = rule.unless.iter().flat_map(|excuse| places(&words, excuse));
                inside.any(|(a, b)| a <= from && to <= b)
            },
        );
    }
    for rule in &rules.proof {
        let on_file = match rule.needs.as_str() {
            "origin" => false,
            "laboratory" => proof.laboratory,
            _ => proof.tested,
        };
        let told = rule.needs == "origin" && proof.origin_told;
        let instead = "leave it out, or put the proof on file first";
        tell(&rule.words, &rule.why, instead, &rule.clause, &|_, to| {
            on_file || (told && is_told(&words, to))
        });
    }
    names(rules, market, class, text, &words, &mut faults);
    faults.sort_by_key(|f| (f.at.start, f.at.end));
    without_parts_of_longer(faults)
}

/// What must stand beside the word opal; and the name itself, when it is missing.
fn names(
    rules: &DisclosureRules,
    market: &str,
    class: &str,
    text: &str,
    words: &[Word],
    faults: &mut Vec<WordFault>,
) {
    let Some(rule) = rules.name_rule(market, class) else {
        return;
    };
    let noun = rules
        .wording(market, class)
        .map_or(String::new(), |wording| wording.noun.clone());
    let mut named = false;
    for (k, word) in words.iter().enumerate() {
        if !same_word(&word.folded, "opal") {
            continue;
        }
        let before = rule.before.iter().any(|phrase| {
            let phrase = folded_words(phrase);
            k >= phrase.len()
                && (0..phrase.len()).all(|j| words[k - phrase.len() + j].folded == phrase[j])
        });
        let after = rule.after.iter().any(|phrase| {
            let phrase = folded_words(phrase);
            k + phrase.len() < words.len()
                && (0..phrase.len()).all(|j| same_word(&words[k + 1 + j].folded, &phrase[j]))
        });
        if before || after {
            named = true;
        } else {
            let why = "the word opal stands alone here";
            let instead = format!("say {noun}");
            faults.push(fault(text, words, k, k + 1, why, &instead, &rule.clause));
        }
    }
    if !named {
        faults.push(WordFault {
            words: String::new(),
            at: text.len()..text.len(),
            why: "the text does not say what it is".to_owned(),
            instead: format!("say {noun}"),
            clause: rule.clause.clone(),
        });
    }
}

#[derive(Clone, Debug)]
struct Word {
    folded: String,
    at: std::ops::Range<usize>,
}

/// The words of a text: small letters, split at everything that is no letter or
/// digit, so that hyphens and line breaks hide nothing.
fn words_of(text: &str) -> Vec<Word> {
    let mut words: Vec<Word> = Vec::new();
    let mut open: Option<usize> = None;
    for (at, letter) in text.char_indices().chain([(text.len(), ' ')]) {
        match (letter.is_alphanumeric(), open) {
            (true, None) => open = Some(at),
            (false, Some(from)) => {
                words.push(Word {
                    folded: folded(&text[from..at]),
                    at: from..at,
                });
                open = None;
            }
            _ => {}
        }
    }
    words
}

fn folded(word: &str) -> String {
    let small = word.to_lowercase();
    match small.as_str() {
        "color" => "colour".to_owned(),
        _ => small,
    }
}

fn folded_words(phrase: &str) -> Vec<String> {
    words_of(phrase).into_iter().map(|w| w.folded).collect()
}

/// The same word, or its plural.
fn same_word(found: &str, wanted: &str) -> bool {
    found == wanted
        || found
            .strip_suffix('s')
            .is_some_and(|singular| singular == wanted)
}

/// Where a phrase stands: from its first word to past its last.
fn places<'w>(words: &'w [Word], phrase: &str) -> impl Iterator<Item = (usize, usize)> + 'w {
    let phrase = folded_words(phrase);
    let n = phrase.len();
    (0..words.len().saturating_sub(n.saturating_sub(1))).filter_map(move |from| {
        let here = n > 0
            && phrase
                .iter()
                .zip(&words[from..])
                .all(|(wanted, word)| same_word(&word.folded, wanted));
        here.then_some((from, from + n))
    })
}

/// "not", "no" right before, an article between them at most.
fn is_denied(words: &[Word], from: usize) -> bool {
    let word = |back: usize| from.checked_sub(back).map(|k| words[k].folded.as_str());
    let denies = |w: Option<&str>| matches!(w, Some("not" | "no" | "non" | "never" | "without"));
    denies(word(1)) || (matches!(word(1), Some("a" | "an" | "any" | "the")) && denies(word(2)))
}

/// "as told by" within a few words, so that "Field A, Country B, as told by" counts.
fn is_told(words: &[Word], to: usize) -> bool {
    /// Chosen: the longest name of a field with its state and country.
    const WORDS_BETWEEN: usize = 6;
    places(words, "as told by").any(|(from, _)| (to..=to + WORDS_BETWEEN).contains(&from))
}

fn fault(
    text: &str,
    words: &[Word],
    from: usize,
    to: usize,
    why: &str,
    instead: &str,
    clause: &str,
) -> WordFault {
    let at = words[from].at.start..words[to - 1].at.end;
    WordFault {
        words: text[at.clone()].to_owned(),
        at,
        why: why.to_owned(),
        instead: instead.to_owned(),
        clause: clause.to_owned(),
    }
}

/// "black opal" tells enough; "opal" inside it need not be told again.
fn without_parts_of_longer(faults: Vec<WordFault>) -> Vec<WordFault> {
    let inside = |a: &WordFault, b: &WordFault| {
        a.at != b.at && b.at.start <= a.at.start && a.at.end <= b.at.end
    };
    let mut kept: Vec<WordFault> = Vec::new();
    for fault in &faults {
        let part = !fault.at.is_empty() && faults.iter().any(|other| inside(fault, other));
        let twice = kept
            .iter()
            .any(|k| k.at == fault.at && k.words == fault.words);
        if !part && (!twice || fault.at.is_empty()) {
            kept.push(fault.clone());
        }
    }
    kept
}

#[cfg(test)]
mod tests {
    use super::*;
    use opal_reference::{disclosure::shipped, identity::identity};
    use proptest::prelude::*;

    fn check(market: &str, class: &str, text: &str) -> Vec<String> {
        check_text(identity(), shipped(), market, class, Proof::default(), text)
            .into_iter()
            .map(|fault| fault.words)
            .collect()
    }

    /// 16 CFR 23.25(b) and (c), and its examples.
    #[test]
    fn united_states_made_by_people() {
        let us = |text| check("united-states", "synthetic", text);
        assert!(us("Laboratory-created opal, 2 ct").is_empty());
        assert!(us("laboratory-grown opals").is_empty());
        assert_eq!(us("Opal, laboratory-created"), ["Opal", ""]);
        assert_eq!(us("Laboratory-created white opal"), ["opal", ""]);
        assert_eq!(us("Faux laboratory-created opal"), ["Faux"]);
        assert_eq!(
            us("genuine laboratory-created opal gemstone"),
            ["genuine", "gemstone"]
        );
        let imitation = |text| check("united-states", "imitation-glass", text);
        assert!(imitation("Imitation opal (glass)").is_empty());
        assert!(imitation("simulated opal in glass").is_empty());
        // (c): created and synthetic are for what has the same properties.
        assert_eq!(imitation("Created imitation opal"), ["Created"]);
        assert_eq!(imitation("Synthetic opal"), ["Synthetic", "opal", ""]);
    }

    /// 16 CFR 23.25(d): neither the plain name nor 'treated' alone for filler.
    #[test]
    fn filled_stones_need_their_full_name() {
        let us = |text| check("united-states", "resin-filled", text);
        assert_eq!(us("Opal, 3 ct"), ["Opal", ""]);
        assert_eq!(us("Treated opal, 3 ct"), ["opal", ""]);
        assert!(us("Resin-impregnated opal, 3 ct").is_empty());
    }

    #[test]
    fn assembled_stones_are_no_solids() {
        let check = |text| check("international", "doublet", text);
        assert!(check("Opal doublet: a slice of natural opal glued to glass").is_empty());
        assert_eq!(check("Black opal"), ["Black opal", ""]);
        assert_eq!(check("Solid opal doublet"), ["Solid"]);
        assert!(check("Opal doublet, not a solid").is_empty());
        assert_eq!(check("Natural opal doublet"), ["Natural opal"]);
        assert_eq!(check("Lovely stone for a ring"), [""]);
    }

    #[test]
    fn treated_stones_say_so() {
        let text = "Natural black opal from Andamooka, untreated";
        assert_eq!(
            check("australia", "treated-matrix", text),
            ["Natural", "black opal", "Andamooka", "untreated", ""]
        );
        assert!(check("australia", "treated-matrix", "Treated matrix opal").is_empty());
        assert!(check("international", "smoked", "SMOKE–TREATED\nOPAL").is_empty());
    }

    /// Australian Consumer Law sections 18 and 29: no quality, value or grade that
    /// nothing stands behind; a place and a certificate need proof.
    #[test]
    fn claims_need_proof() {
        let text =
            "AAA investment grade natural light opal from Lightning Ridge, certified, never cracks";
        assert_eq!(
            check("australia", "natural-light", text),
            [
                "AAA",
                "investment grade",
                "Lightning Ridge",
                "certified",
                "never cracks"
            ]
        );
        let proof = Proof {
            origin_told: true,
            laboratory: true,
            tested: true,
        };
        let text = "natural light opal, origin Lightning Ridge, Australia, as told by the seller, certified";
        assert!(
            check_text(
                identity(),
                shipped(),
                "australia",
                "natural-light",
                proof,
                text
            )
            .is_empty()
        );
        assert!(
            check(
                "australia",
                "natural-light",
                "natural light opal, not tested"
            )
            .is_empty()
        );
    }

    #[test]
    fn every_fault_names_its_clause() {
        for class in &identity().classes {
            for market in &shipped().markets {
                let text = "flawless genuine solid natural black opal, certified, Ethiopia";
                let proof = Proof::default();
                for fault in check_text(identity(), shipped(), &market.key, &class.key, proof, text)
                {
                    assert!(!fault.clause.is_empty() && !fault.why.is_empty());
                    assert_eq!(&text[fault.at.clone()], fault.words);
                }
            }
        }
    }

    proptest! {
        /// Case, hyphens and spaces hide nothing.
        #[test]
        fn disguise_does_not_help(upper in prop::collection::vec(any::<bool>(), 10), gap in "[ \\-_/\n]{1,3}") {
            let word: String = "black".chars().zip(&upper).map(|(c, u)| if *u { c.to_ascii_uppercase() } else { c }).collect();
            let text = format!("{word}{gap}opal doublet");
            prop_assert_eq!(check("international", "doublet", &text).len(), 1);
        }

        #[test]
        fn any_text_is_read_without_a_crash(text in "\\PC{0,200}") {
            for class in ["doublet", "synthetic", "natural-light"] {
                let _ = check("united-states", class, &text);
            }
        }
    }
}
