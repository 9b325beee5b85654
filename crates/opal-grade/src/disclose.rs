//! The words for one stone: card, listing, invoice line, care.
//!
//! Pure: the same facts and rules give the same card.

use crate::description::{Described, Description};
use crate::naming::{SETTLED, tone_word};
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
    /// Key of what it is: a class, or a group whose class is not settled.
    pub class: String,
    /// What that rests on.
    pub basis: Basis,
    /// Weight, and one standard deviation where it was worked out, not weighed.
    pub weight: Option<Claim<(Mass, Option<Mass>)>>,
    /// Length, width, height.
    pub sizes: Option<Claim<[Length; 3]>>,
    /// How it looks and what it is made of, as it was judged or told.
    pub described: Vec<Described>,
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
}

/// The papers of a stone in the words of a market.
///
/// # Errors
/// An unknown class or market.
pub fn disclose(
    table: &IdentityTable,
    rules: &DisclosureRules,
    market: &str,
    facts: &StoneFacts,
) -> Result<Disclosure, DiscloseError> {
    let group = table
        .group_of(&facts.class)
        .ok_or_else(|| DiscloseError::Class(facts.class.clone()))?;
    let market = rules
        .market(market)
        .ok_or_else(|| DiscloseError::Market(market.to_owned()))?;
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
    for (template, sentence) in wording.must.iter().zip(&must) {
        card.push(Line {
            text: sentence.clone(),
            rests_on: must_rests_on(template, facts),
        });
    }
    card.extend(measured(facts));
    card.extend(described(facts));
    card.push(basis_line);
    let not_stated = not_stated(facts, group);
    if !not_stated.is_empty() {
        card.push(Line {
            text: format!("Not stated: {}.", not_stated.join(", ")),
            rests_on: Vec::new(),
        });
    }
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
    let care: Vec<String> = rules.care(group).map(|c| c.text.clone()).collect();
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
    let part = |part: Option<&Described>, unknown: &str| match part.map(|one| &one.what) {
        Some(Description::Cap(material) | Description::Back(material)) => material.clone(),
        _ => unknown.to_owned(),
    };
    text.replace("{tone}", tone_word(&facts.described))
        .replace("{back}", &part(facts.back(), "a back of unknown material"))
        .replace(
            "{cap}",
            &part(facts.cap(), "a clear cap of unknown material"),
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
fn must_rests_on(template: &str, facts: &StoneFacts) -> Vec<String> {
    let mut ids = rests_on(&facts.basis);
    for (place, part) in [("{cap}", facts.cap()), ("{back}", facts.back())] {
        if template.contains(place) {
            ids.extend(part.map(|one| one.id.clone()));
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
    lines
}

/// What was judged or told of its looks. Cap and back stand in the sentence that
/// says how it is assembled.
fn described(facts: &StoneFacts) -> Vec<Line> {
    let line = |one: &Described| {
        let words = one.what.words();
        let text = match &one.what {
            Description::Cap(_) | Description::Back(_) => return None,
            // A place is never more than somebody's word.
            Description::Origin(_) => {
                let by = one.by.as_deref().unwrap_or("somebody unnamed");
                format!("{words}, as told by {by}; not proven here.")
            }
            _ => format!("{words}."),
        };
        Some(Line {
            text,
            rests_on: vec![one.id.clone()],
        })
    };
    facts.described.iter().filter_map(line).collect()
}

/// What a buyer may ask for and nobody has said.
fn not_stated(facts: &StoneFacts, group: &str) -> Vec<&'static str> {
    let mut wanted = match group {
        "imitation" | "other" => Vec::new(),
        _ => vec!["body tone", "brightness", "pattern", "origin"],
    };
    if group == "assembled" {
        if facts.class != "doublet" {
            wanted.push("cap");
        }
        wanted.push("back");
    }
    wanted.retain(|name| facts.described.iter().all(|one| one.what.name() != *name));
    wanted
}

impl StoneFacts {
    fn cap(&self) -> Option<&Described> {
        let is_cap = |one: &&Described| matches!(one.what, Description::Cap(_));
        self.described.iter().find(is_cap)
    }

    fn back(&self) -> Option<&Described> {
        let is_back = |one: &&Described| matches!(one.what, Description::Back(_));
        self.described.iter().find(is_back)
    }
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
    use crate::description::Viewed;
    use crate::wording::{Proof, check_text};
    use opal_evidence::{BodyTone, Brightness};
    use opal_reference::disclosure::shipped;
    use opal_reference::identity::{IdentityClass, identity};

    fn said(id: &str, what: Description) -> Described {
        Described {
            id: id.to_owned(),
            what,
            by: Some("the seller".to_owned()),
            at: None,
        }
    }

    fn tone(step: u8) -> Described {
        let tone = BodyTone::new(step).expect("a tone");
        said("tone-1", Description::BodyTone(tone, Viewed::FaceUp))
    }

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
            described: vec![
                tone(3),
                said("look-2", Description::Brightness(Brightness::VeryBright)),
                said("look-3", Description::Back("black glass".to_owned())),
            ],
            not_tested: vec!["Refractive index".to_owned()],
        }
    }

    /// Every class, and every group of more than one.
    fn keys() -> impl Iterator<Item = &'static str> {
        let classes = &identity().classes;
        let group = |class: &'static IdentityClass| {
            let several = identity().of_group(&class.group).count() > 1;
            several.then_some(class.group.as_str())
        };
        classes
            .iter()
            .flat_map(move |class| [Some(class.key.as_str()), group(class)])
            .flatten()
    }

    fn papers(class: &str, market: &str) -> Disclosure {
        disclose(identity(), shipped(), market, &facts(class)).expect("papers")
    }

    /// Our own papers pass our own checker, for every class in every market.
    #[test]
    fn every_paper_keeps_the_rules() {
        for market in &shipped().markets {
            for class in keys() {
                for basis in [
                    facts("doublet").basis,
                    Basis::NotTested,
                    Basis::Told {
                        by: "the seller".to_owned(),
                    },
                ] {
                    let facts = StoneFacts {
                        basis,
                        ..facts(class)
                    };
                    let papers =
                        disclose(identity(), shipped(), &market.key, &facts).expect("papers");
                    for text in [&papers.title, &papers.listing, &papers.invoice] {
                        let found = check_text(
                            identity(),
                            shipped(),
                            &market.key,
                            class,
                            Proof {
                                origin_told: true,
                                ..Proof::default()
                            },
                            text,
                        );
                        assert!(
                            found.is_empty(),
                            "{} {class}: {text}\n{found:?}",
                            market.key
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
            for class in keys() {
                let facts = facts(class);
                let papers = papers(class, &market.key);
                let wording = shipped().wording(&market.key, class).expect("a name");
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
            let free = line.text.starts_with("Not tested") || line.text.starts_with("Not stated");
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
            facts.described = vec![self::tone(tone)];
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

    /// 16 CFR 23.24: (a) treated, and that it is or may not be permanent; (b) treated,
    /// and needs special care, with which; (c) treated, where it changes the value a
    /// lot. Its note: in the description too, where the buyer cannot see the stone.
    #[test]
    fn treatments_are_told_clause_by_clause() {
        let treated = [
            "treated-matrix",
            "smoked",
            "dyed",
            "resin-filled",
            "treated",
        ];
        for class in treated {
            let papers = papers(class, "united-states");
            for text in [&papers.listing, &papers.invoice] {
                assert!(text.contains("It was treated"), "{class} (c): {text}");
                assert!(text.contains("needs special care"), "{class} (b): {text}");
                // What lasts is carbon in the pores; dye, resin and oil may go.
                let lasts = ["treated-matrix", "smoked"].contains(&class);
                let told = text.contains("is or may not be permanent");
                assert_eq!(told, !lasts, "{class} (a): {text}");
            }
        }
    }

    #[test]
    fn what_is_not_settled_or_not_proven_is_said() {
        let mut facts = facts("hydrophane");
        facts.basis = Basis::Judged {
            rests_on: vec!["look-1".to_owned()],
            share: 0.6,
        };
        facts.described = vec![said("told-1", Description::Origin("Ethiopia".to_owned()))];
        let papers = disclose(identity(), shipped(), "international", &facts).expect("papers");
        assert!(papers.title.starts_with("Not settled"));
        let origin = "Origin: Ethiopia, as told by the seller; not proven here.";
        assert!(papers.listing.contains(origin));
        assert!(
            papers
                .listing
                .contains("Not stated: body tone, brightness, pattern.")
        );
        assert!(papers.care.iter().any(|c| c.contains("Keep it dry")));
    }

    /// A stone that is glued for sure, and no more than that, is no 'doublet'.
    #[test]
    fn a_group_is_named_as_such() {
        let papers = papers("assembled", "international");
        assert_eq!(
            papers.title,
            "Assembled stone, opal doublet or opal triplet not settled"
        );
        assert!(papers.listing.contains("glued to black glass"));
        assert!(papers.listing.contains("Not stated: pattern, origin, cap."));
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
    }
}
