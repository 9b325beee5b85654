//! The words for a stone on paper, by market: dated, and replaceable.

use crate::table;
use serde::Deserialize;
use std::sync::LazyLock;

/// A market with the edition of the rules that was read.
#[derive(Clone, Debug, Deserialize, PartialEq)]
#[serde(deny_unknown_fields)]
pub struct Market {
    /// Its key.
    pub key: String,
    /// Its name.
    pub name: String,
    /// Which edition.
    pub edition: String,
    /// When it was read, year and month.
    pub read: String,
    /// What to know about it.
    pub note: String,
    /// Keys of its sources.
    pub source: Vec<String>,
}

/// What a class, or a group whose class is not settled, is called in a market.
#[derive(Clone, Debug, Deserialize, PartialEq)]
#[serde(deny_unknown_fields)]
pub struct Wording {
    /// The market, `*` for any.
    pub market: String,
    /// The class, or the group.
    pub class: String,
    /// The name on paper.
    pub noun: String,
    /// Sentences that must stand beside it.
    pub must: Vec<String>,
    /// The clause.
    pub clause: String,
    /// Keys of its sources.
    pub source: Vec<String>,
}

/// What must stand right before or after the word opal.
#[derive(Clone, Debug, Deserialize, PartialEq)]
#[serde(deny_unknown_fields)]
pub struct NameRule {
    /// The market, `*` for any.
    pub market: String,
    /// The class, or the group.
    pub class: String,
    /// One of these right before it.
    pub before: Vec<String>,
    /// Or one of these right after it.
    pub after: Vec<String>,
    /// The clause.
    pub clause: String,
    /// Keys of its sources.
    pub source: Vec<String>,
}

/// Words that must not stand.
#[derive(Clone, Debug, Deserialize, PartialEq)]
#[serde(deny_unknown_fields)]
pub struct Forbidden {
    /// The market, `*` for any.
    pub market: String,
    /// Groups of classes, `*` for any.
    pub groups: Vec<String>,
    /// The words.
    pub words: Vec<String>,
    /// Phrases inside which they may stand.
    pub unless: Vec<String>,
    /// Why not.
    pub why: String,
    /// What to say in their place.
    pub instead: String,
    /// The clause.
    pub clause: String,
    /// Keys of its sources.
    pub source: Vec<String>,
}

/// Words that stand only on proof.
#[derive(Clone, Debug, Deserialize, PartialEq)]
#[serde(deny_unknown_fields)]
pub struct ProofRule {
    /// What must be on file: `origin`, `laboratory`, `tested`.
    pub needs: String,
    /// The words.
    pub words: Vec<String>,
    /// Why.
    pub why: String,
    /// The clause.
    pub clause: String,
    /// Keys of its sources.
    pub source: Vec<String>,
}

/// How to care for a stone.
#[derive(Clone, Debug, Deserialize, PartialEq)]
#[serde(deny_unknown_fields)]
pub struct Care {
    /// Groups of classes, `*` for any.
    pub groups: Vec<String>,
    /// The text.
    pub text: String,
    /// Keys of its sources.
    pub source: Vec<String>,
}

/// All rules on words.
#[derive(Clone, Debug, Deserialize, PartialEq)]
#[serde(deny_unknown_fields)]
pub struct DisclosureRules {
    /// Markets.
    #[serde(rename = "market")]
    pub markets: Vec<Market>,
    /// Names.
    #[serde(rename = "wording")]
    pub wordings: Vec<Wording>,
    /// What must stand beside the word opal.
    #[serde(rename = "name_rule")]
    pub name_rules: Vec<NameRule>,
    /// Words that must not stand.
    pub forbidden: Vec<Forbidden>,
    /// Words that need proof.
    pub proof: Vec<ProofRule>,
    /// Care.
    pub care: Vec<Care>,
}

static RULES: LazyLock<DisclosureRules> = LazyLock::new(|| table::read("disclosure"));

/// The rules that the program ships with.
#[must_use]
pub fn shipped() -> &'static DisclosureRules {
    &RULES
}

impl DisclosureRules {
    /// Rules of one's own, in the form of the shipped file.
    ///
    /// # Errors
    /// What the file lacks, in the words of the TOML reader.
    pub fn from_toml(text: &str) -> Result<Self, String> {
        toml::from_str(text).map_err(|error| error.to_string())
    }

    /// The market with this key.
    #[must_use]
    pub fn market(&self, key: &str) -> Option<&Market> {
        self.markets.iter().find(|market| market.key == key)
    }

    /// What a class is called in a market.
    #[must_use]
    pub fn wording(&self, market: &str, class: &str) -> Option<&Wording> {
        let of = |m: &str| {
            self.wordings
                .iter()
                .find(|row| row.class == class && row.market == m)
        };
        of(market).or_else(|| of("*"))
    }

    /// What must stand beside the word opal for a class in a market.
    #[must_use]
    pub fn name_rule(&self, market: &str, class: &str) -> Option<&NameRule> {
        let of = |m: &str| {
            self.name_rules
                .iter()
                .find(|row| row.class == class && row.market == m)
        };
        of(market).or_else(|| of("*"))
    }

    /// Words that must not stand for a group in a market.
    pub fn forbidden<'r>(
        &'r self,
        market: &'r str,
        group: &'r str,
    ) -> impl Iterator<Item = &'r Forbidden> {
        self.forbidden.iter().filter(move |row| {
            (row.market == "*" || row.market == market)
                && row.groups.iter().any(|g| g == "*" || g == group)
        })
    }

    /// Care for a group.
    pub fn care<'r>(&'r self, group: &'r str) -> impl Iterator<Item = &'r Care> {
        self.care
            .iter()
            .filter(move |row| row.groups.iter().any(|g| g == "*" || g == group))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::identity::identity;

    #[test]
    fn every_class_has_a_name_in_every_market() {
        let rules = shipped();
        assert_eq!(rules.markets.len(), 3);
        for market in &rules.markets {
            assert!(market.note.contains("No conformity is claimed"));
            for class in &identity().classes {
                assert!(
                    rules.wording(&market.key, &class.key).is_some(),
                    "{} {}",
                    market.key,
                    class.key
                );
                let artificial =
                    !class.group.starts_with("natural") && class.key != "none-of-these";
                assert_eq!(
                    rules.name_rule(&market.key, &class.key).is_some(),
                    artificial,
                    "{}",
                    class.key
                );
                assert!(rules.care(&class.group).count() >= 1);
                // Where several classes make a group, it has a name of its own.
                if identity().of_group(&class.group).count() > 1 {
                    assert!(
                        rules.wording(&market.key, &class.group).is_some(),
                        "{} {}",
                        market.key,
                        class.group
                    );
                }
            }
        }
    }

    #[test]
    fn rules_of_ones_own_replace_the_shipped_ones() {
        let text = include_str!("../data/disclosure.toml").replace("2026-11", "2027-01");
        let rules = DisclosureRules::from_toml(&text).expect("reads");
        assert_eq!(rules.markets[0].read, "2027-01");
        assert!(DisclosureRules::from_toml("market = 3").is_err());
    }
}
