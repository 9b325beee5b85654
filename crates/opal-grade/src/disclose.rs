//! The words for one stone: card, listing, invoice line, care.
//!
//! Pure: the same facts and rules give the same card.

use opal_reference::disclosure::{DisclosureRules, Market};
use opal_reference::identity::IdentityTable;
use opal_units::{Length, Mass};
use thiserror::Error;

/// A fact with the observations that it rests on, by their names on file.
#[derive(Clone, Debug, PartialEq)]
pub struct Claim<T> {
    /// The fact.
    pub value: T,
    /// The observations. Empty: nothing on file, and the paper says so.
    pub rests_on: Vec<String>,
}

/// What the name of the stone rests on.
#[derive(Clone, Debug, PartialEq)]
pub enum Basis {
    /// Looked at here: the observations, and how likely the answer is.
    Judged {
        /// The observations.
        rests_on: Vec<String>,
        /// How likely, 0..=1.
        share: f64,
    },
    /// A laboratory's report.
    Laboratory {
        /// The report, by its name on file.
        rests_on: Vec<String>,
    },
    /// Cut here from rough that was seen whole.
    CutHere {
        /// The record, by its name on file.
        rests_on: Vec<String>,
    },
    /// Somebody said so.
    Told {
        /// Who.
        by: String,
    },
    /// Nothing.
    NotTested,
}

/// What is on file about a stone.
#[derive(Clone, Debug, PartialEq)]
pub struct StoneFacts {
    /// Its name on file.
    pub name: String,
    /// Key of what it is.
    pub class: String,
    /// What that rests on.
    pub basis: Basis,
    /// Weight, and one standard deviation where it was worked out, not weighed.
    pub weight: Option<Claim<(Mass, Option<Mass>)>>,
    /// Length, width, height.
    pub sizes: Option<Claim<[Length; 3]>>,
    /// Body tone, 1 black to 9 white, face up.
    pub body_tone: Option<Claim<u8>>,
    /// Brightness word.
    pub brightness: Option<Claim<String>>,
    /// Pattern word.
    pub pattern: Option<Claim<String>>,
    /// Where it comes from.
    pub origin: Option<Claim<String>>,
    /// What the cap is made of.
    pub cap: Option<Claim<String>>,
    /// What the back is made of.
    pub back: Option<Claim<String>>,
    /// What was not looked at.
    pub not_tested: Vec<String>,
}

/// One line of a card with what it rests on.
#[derive(Clone, Debug, PartialEq)]
pub struct Line {
    /// The line.
    pub text: String,
    /// The observations, by their names on file.
    pub rests_on: Vec<String>,
}

/// The papers of one stone.
#[derive(Clone, Debug, PartialEq)]
pub struct Disclosure {
    /// The market that the words are for.
    pub market: Market,
    /// Title of card and listing.
    pub title: String,
    /// The card.
    pub card: Vec<Line>,
    /// Text of a listing.
    pub listing: String,
    /// Line of an invoice.
    pub invoice: String,
    /// How to care for it.
    pub care: Vec<String>,
    /// What was not tested, as printed.
    pub not_tested: String,
    /// The clause that the name rests on.
    pub clause: String,
}

/// Why there are no papers.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum DiscloseError {
    /// No such class.
    #[error("'{0}' is nothing that the table knows")]
    Class(String),
    /// No such market.
    #[error("there are no rules for the market '{0}'")]
    Market(String),
    /// The rules have no name for it.
    #[error("the rules have no name for '{class}' in '{market}'")]
    NoName {
        /// The class.
        class: String,
        /// The market.
        market: String,
    },
    /// A body tone that does not exist.
    #[error("the body tone is {0}; it must be 1 to 9")]
    BodyTone(u8),
}

/// Below this chance a judgement is told as not settled. Chosen: four in five.
const SETTLED: f64 = 0.8;

/// The papers of a stone in the words of a market.
///
/// # Errors
/// An unknown class or market, a body tone that does not exist.
pub fn disclose(
    table: &IdentityTable,
    rules: &DisclosureRules,
    market: &str,
    facts: &StoneFacts,
) -> Result<Disclosure, DiscloseError> {
    let class = table
        .class(&facts.class)
        .ok_or_else(|| DiscloseError::Class(facts.class.clone()))?;
    let market = rules
        .market(market)
        .ok_or_else(|| DiscloseError::Market(market.to_owned()))?;
    if let Some(tone) = &facts.body_tone
        && !(1..=9).contains(&tone.value)
    {
        return Err(DiscloseError::BodyTone(tone.value));
    }
    let wording =
        rules
            .wording(&market.key, &facts.class)
            .ok_or_else(|| DiscloseError::NoName {
                class: facts.class.clone(),
                market: market.key.clone(),
            })?;
    let noun = filled(&wording.noun, facts);
    let must: Vec<String> = wording.must.iter().map(|s| filled(s, facts)).collect();
    let (title, basis_line) = named(&noun, &facts.basis);
    let mut card = vec![Line {
        text: format!("{title}."),
        rests_on: rests_on(&facts.basis),
    }];
    for sentence in &must {
        card.push(Line {
            text: sentence.clone(),
            rests_on: must_rests_on(sentence, facts),
        });
    }
    card.extend(measured(facts));
    card.push(basis_line);
    let not_tested = if facts.not_tested.is_empty() {
        String::new()
    } else {
        format!("Not tested: {}.", facts.not_tested.join("; "))
    };
    if !not_tested.is_empty() {
        card.push(Line {
            text: not_tested.clone(),
            rests_on: Vec::new(),
        });
    }
    let care: Vec<String> = rules.care(&class.group).map(|c| c.text.clone()).collect();
    let lines: Vec<&str> = card.iter().map(|line| line.text.as_str()).collect();
    let listing = format!("{}\n\nCare: {}", lines.join("\n"), care.join(" "));
    let invoice = invoice(&title, &must, facts);
    Ok(Disclosure {
        market: market.clone(),
        title,
        card,
        listing,
        invoice,
        care,
        not_tested,
        clause: wording.clause.clone(),
    })
}

fn capitalised(text: &str) -> String {
    let mut letters = text.chars();
    match letters.next() {
        Some(first) => first.to_uppercase().chain(letters).collect(),
        None => String::new(),
    }
}

fn filled(text: &str, facts: &StoneFacts) -> String {
    let tone = match &facts.body_tone {
        // Nomenclature of 1997: N1 to N4 black, N5 and N6 dark.
        Some(tone) if tone.value <= 4 => "black",
        _ => "dark",
    };
    let part = |claim: &Option<Claim<String>>, unknown: &str| {
        claim
            .as_ref()
            .map_or_else(|| unknown.to_owned(), |c| c.value.clone())
    };
    text.replace("{tone}", tone)
        .replace("{back}", &part(&facts.back, "a back of unknown material"))
        .replace(
            "{cap}",
            &part(&facts.cap, "a clear cap of unknown material"),
        )
}

/// The title, and the line that says what the name rests on.
fn named(noun: &str, basis: &Basis) -> (String, Line) {
    let line = |text: &str, rests_on: &[String]| Line {
        text: text.to_owned(),
        rests_on: rests_on.to_vec(),
    };
    match basis {
        Basis::Judged { rests_on, share } if *share >= SETTLED => (
            capitalised(noun),
            line(
                "Judged here by the looks on file; this is not a laboratory's finding.",
                rests_on,
            ),
        ),
        Basis::Judged { rests_on, .. } => (
            format!("Not settled, most likely {noun}"),
            line(
                "Judged here by the looks on file, which do not settle it; another look, or a laboratory, may.",
                rests_on,
            ),
        ),
        Basis::Laboratory { rests_on } => (
            capitalised(noun),
            line("Named by the laboratory report on file.", rests_on),
        ),
        Basis::CutHere { rests_on } => (
            capitalised(noun),
            line("Cut here from rough that is on file.", rests_on),
        ),
        Basis::Told { by } => (
            format!("Not tested, described by {by} as {noun}"),
            line("Named as it was described to us; not tested here.", &[]),
        ),
        Basis::NotTested => (
            format!("Not tested, described as {noun}"),
            line("Not tested.", &[]),
        ),
    }
}

fn rests_on(basis: &Basis) -> Vec<String> {
    match basis {
        Basis::Judged { rests_on, .. }
        | Basis::Laboratory { rests_on }
        | Basis::CutHere { rests_on } => rests_on.clone(),
        Basis::Told { .. } | Basis::NotTested => Vec::new(),
    }
}

/// A sentence that names a part rests on what that part rests on too.
fn must_rests_on(sentence: &str, facts: &StoneFacts) -> Vec<String> {
    let mut ids = rests_on(&facts.basis);
    for part in [&facts.cap, &facts.back].into_iter().flatten() {
        if sentence.contains(&part.value) {
            ids.extend(part.rests_on.iter().cloned());
        }
    }
    ids
}

fn weight_words(weight: Mass, sigma: Option<Mass>) -> String {
    match sigma {
        // Two standard deviations: nineteen times in twenty.
        Some(sigma) => format!(
            "about {:.1} ct, give or take {:.1}, worked out from its sizes",
            weight.carats(),
            2.0 * sigma.carats()
        ),
        None => format!("{:.2} ct", weight.carats()),
    }
}

fn measured(facts: &StoneFacts) -> Vec<Line> {
    let mut lines = Vec::new();
    let mut say = |text: String, rests_on: &[String]| {
        lines.push(Line {
            text,
            rests_on: rests_on.to_vec(),
        });
    };
    if let Some(weight) = &facts.weight {
        let (mass, sigma) = weight.value;
        say(
            format!("Weight: {}.", weight_words(mass, sigma)),
            &weight.rests_on,
        );
    }
    if let Some(sizes) = &facts.sizes {
        let [l, w, h] = sizes.value.map(Length::mm);
        say(
            format!("Size: {l:.2} × {w:.2} × {h:.2} mm."),
            &sizes.rests_on,
        );
    }
    if let Some(tone) = &facts.body_tone {
        say(
            format!(
                "Body tone: N{} of N1 (black) to N9 (white), judged face up.",
                tone.value
            ),
            &tone.rests_on,
        );
    }
    if let Some(bright) = &facts.brightness {
        say(
            format!(
                "Brightness: {} (of dull, subdued, bright, very bright, brilliant).",
                bright.value.replace('-', " ")
            ),
            &bright.rests_on,
        );
    }
    if let Some(pattern) = &facts.pattern {
        say(format!("Pattern: {}.", pattern.value), &pattern.rests_on);
    }
    if let Some(origin) = &facts.origin {
        if origin.rests_on.is_empty() {
            say("Origin: not proven.".to_owned(), &[]);
        } else {
            say(format!("Origin: {}.", origin.value), &origin.rests_on);
        }
    }
    lines
}

fn invoice(title: &str, must: &[String], facts: &StoneFacts) -> String {
    let weight = facts
        .weight
        .as_ref()
        .map(|w| format!(", {}", weight_words(w.value.0, w.value.1)))
        .unwrap_or_default();
    let mut line = format!("1 × {title}{weight} ({}).", facts.name);
    for sentence in must {
        line.push(' ');
        line.push_str(sentence);
    }
    line
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::wording::{Proof, check_text};
    use opal_reference::{disclosure::shipped, identity::identity};

    fn facts(class: &str) -> StoneFacts {
        let on = |id: &str| vec![id.to_owned()];
        StoneFacts {
            name: "No. 12".to_owned(),
            class: class.to_owned(),
            basis: Basis::Judged {
                rests_on: on("look-1"),
                share: 0.97,
            },
            weight: Some(Claim {
                value: (Mass::from_carats(5.2), None),
                rests_on: on("scale-1"),
            }),
            sizes: Some(Claim {
                value: [12.0, 10.0, 4.0].map(Length::from_mm),
                rests_on: on("calliper-1"),
            }),
            body_tone: Some(Claim {
                value: 3,
                rests_on: on("tone-1"),
            }),
            brightness: Some(Claim {
                value: "very-bright".to_owned(),
                rests_on: on("look-2"),
            }),
            pattern: None,
            origin: None,
            cap: None,
            back: Some(Claim {
                value: "black glass".to_owned(),
                rests_on: on("look-3"),
            }),
            not_tested: vec!["Refractive index".to_owned()],
        }
    }

    fn papers(class: &str, market: &str) -> Disclosure {
        disclose(identity(), shipped(), market, &facts(class)).expect("papers")
    }

    /// Our own papers pass our own checker, for every class in every market.
    #[test]
    fn every_paper_keeps_the_rules() {
        for market in &shipped().markets {
            for class in &identity().classes {
                for basis in [
                    facts("doublet").basis,
                    Basis::NotTested,
                    Basis::Told {
                        by: "the seller".to_owned(),
                    },
                ] {
                    let facts = StoneFacts {
                        basis,
                        ..facts(&class.key)
                    };
                    let papers =
                        disclose(identity(), shipped(), &market.key, &facts).expect("papers");
                    for text in [&papers.title, &papers.listing, &papers.invoice] {
                        let found = check_text(
                            identity(),
                            shipped(),
                            &market.key,
                            &class.key,
                            Proof::default(),
                            text,
                        );
                        assert!(
                            found.is_empty(),
                            "{} {}: {text}\n{found:?}",
                            market.key,
                            class.key
                        );
                    }
                }
            }
        }
    }

    /// Every sentence that a market makes mandatory stands on card, listing and
    /// invoice.
    #[test]
    fn mandatory_sentences_stand_on_every_paper() {
        for market in &shipped().markets {
            for class in &identity().classes {
                let facts = facts(&class.key);
                let papers = papers(&class.key, &market.key);
                let wording = shipped().wording(&market.key, &class.key).expect("a name");
                for sentence in &wording.must {
                    let sentence = filled(sentence, &facts);
                    assert!(papers.card.iter().any(|l| l.text == sentence));
                    assert!(papers.listing.contains(&sentence));
                    assert!(papers.invoice.contains(&sentence));
                }
                assert!(papers.listing.contains("Not tested: Refractive index."));
            }
        }
    }

    #[test]
    fn every_claim_names_what_it_rests_on() {
        let papers = papers("doublet", "international");
        for line in &papers.card {
            let free = line.text.starts_with("Not tested");
            assert_eq!(line.rests_on.is_empty(), free, "{}", line.text);
        }
        let glued = papers
            .card
            .iter()
            .find(|l| l.text.contains("black glass"))
            .expect("a line");
        assert_eq!(glued.rests_on, ["look-1", "look-3"]);
    }

    /// Nomenclature of 1997: N1 to N4 black, N5 and N6 dark.
    #[test]
    fn tone_makes_the_name() {
        for (tone, name) in [(4, "Natural black opal"), (5, "Natural dark opal")] {
            let mut facts = facts("natural-dark");
            facts.body_tone = Some(Claim {
                value: tone,
                rests_on: vec!["tone-1".to_owned()],
            });
            let papers = disclose(identity(), shipped(), "australia", &facts).expect("papers");
            assert_eq!(papers.title, name);
        }
    }

    /// 16 CFR 23.25(b) asks for the word right before the name; the Gemstone Book
    /// says synthetic.
    #[test]
    fn markets_differ_where_their_rules_do() {
        assert_eq!(
            papers("synthetic", "united-states").title,
            "Laboratory-created opal"
        );
        assert_eq!(papers("synthetic", "international").title, "Synthetic opal");
        assert!(
            papers("dyed", "united-states")
                .listing
                .contains("may not be permanent")
        );
    }

    #[test]
    fn what_is_not_settled_or_not_proven_is_said() {
        let mut facts = facts("hydrophane");
        facts.basis = Basis::Judged {
            rests_on: vec!["look-1".to_owned()],
            share: 0.6,
        };
        facts.origin = Some(Claim {
            value: "a field far away".to_owned(),
            rests_on: vec![],
        });
        let papers = disclose(identity(), shipped(), "international", &facts).expect("papers");
        assert!(papers.title.starts_with("Not settled"));
        assert!(papers.listing.contains("Origin: not proven."));
        assert!(!papers.listing.contains("far away"));
        assert!(papers.care.iter().any(|c| c.contains("Keep it dry")));
    }

    #[test]
    fn the_same_facts_give_the_same_card() {
        assert_eq!(
            papers("triplet", "australia"),
            papers("triplet", "australia")
        );
    }

    #[test]
    fn refuses_what_it_does_not_know() {
        let rules = shipped();
        let wrong =
            |facts: &StoneFacts, market| disclose(identity(), rules, market, facts).is_err();
        assert!(wrong(&facts("unicorn"), "australia"));
        assert!(wrong(&facts("doublet"), "the moon"));
        let mut tone = facts("natural-dark");
        tone.body_tone = Some(Claim {
            value: 10,
            rests_on: vec![],
        });
        assert!(wrong(&tone, "australia"));
    }
}
