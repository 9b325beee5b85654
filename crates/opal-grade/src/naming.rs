//! What a paper names a stone as: no closer than what was found allows.

use crate::description::{Described, face_up_tone};
use crate::identify::Identity;
use opal_evidence::BodyTone;
use opal_reference::identity::{IdentityTable, NONE_OF_THESE};

/// From this chance on a paper names a thing without 'not settled'. Chosen: four
/// in five.
pub(crate) const SETTLED: f64 = 0.8;

const DARK: &str = "natural-dark";
const LIGHT: &str = "natural-light";

/// What a paper names a stone as.
#[derive(Clone, Debug, PartialEq)]
pub struct Naming {
    /// Key of a class; of a group where the class within it is not settled.
    pub key: String,
    /// How likely that is.
    pub share: f64,
    /// The body tone that decided between dark and light, by its name on file.
    pub by_tone: Option<String>,
}

/// What a paper names a stone as.
///
/// # Method
/// The likeliest class of the likeliest group, as long as it holds four fifths of
/// the group; else the group itself. Dark and light opal are one thing but for the
/// tone: where a body tone was judged face up, the tone decides between them (opal
/// nomenclature 1997: N1 to N6 black and dark, N7 to N9 light).
#[must_use]
pub fn naming(table: &IdentityTable, identity: &Identity, described: &[Described]) -> Naming {
    let none = || Naming {
        key: NONE_OF_THESE.to_owned(),
        share: 0.0,
        by_tone: None,
    };
    let Some(group) = identity.groups.first() else {
        return none();
    };
    let share_of = |key: &str| {
        let class = identity.classes.iter().find(|class| class.key == key);
        class.map_or(0.0, |class| class.share)
    };
    let of_group = |key: &str| table.group_of(key) == Some(&group.key);
    let Some(best) = identity.classes.iter().find(|class| of_group(&class.key)) else {
        return none();
    };
    let class = match face_up_tone(described) {
        Some((tone, on_file)) if [DARK, LIGHT].contains(&best.key.as_str()) => Naming {
            key: if is_light(tone) { LIGHT } else { DARK }.to_owned(),
            share: share_of(DARK) + share_of(LIGHT),
            by_tone: Some(on_file.id.clone()),
        },
        _ => Naming {
            key: best.key.clone(),
            share: best.share,
            by_tone: None,
        },
    };
    if class.share >= SETTLED * group.share {
        class
    } else {
        Naming {
            key: group.key.clone(),
            share: group.share,
            by_tone: None,
        }
    }
}

/// N7 to N9 are light (opal nomenclature 1997).
pub(crate) fn is_light(tone: BodyTone) -> bool {
    tone.step() >= 7
}

/// Black is N1 to N4, face up; N5 and N6 are dark (opal nomenclature 1997). A
/// stone whose tone nobody judged is never called black.
pub(crate) fn tone_word(described: &[Described]) -> &'static str {
    match face_up_tone(described) {
        Some((tone, _)) if tone.step() <= 4 => "black",
        _ => "dark",
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::description::{Description, Viewed};
    use crate::identify;
    use crate::observation::{Found, Observation};
    use opal_reference::identity::identity as table;

    fn named(looks: &[(&str, &str)], described: &[Described]) -> Naming {
        let looks: Vec<Observation> = looks
            .iter()
            .map(|(look, word)| Observation {
                id: (*look).to_owned(),
                look: (*look).to_owned(),
                found: Found::Word((*word).to_owned()),
                by: None,
                at: None,
            })
            .collect();
        naming(
            table(),
            &identify(table(), &looks).expect("sound"),
            described,
        )
    }

    fn tone(step: u8, viewed: Viewed) -> Described {
        Described {
            id: "tone".to_owned(),
            what: Description::BodyTone(BodyTone::new(step).expect("a tone"), viewed),
            by: None,
            at: None,
        }
    }

    #[test]
    fn what_is_glued_for_sure_and_no_more_is_named_by_its_group() {
        // A dark back under a glow that differs: glued; whether a cap lies over it,
        // nobody looked.
        let named = named(
            &[("back", "flat-dark"), ("fluorescence", "layers-differ")],
            &[],
        );
        assert_eq!(named.key, "assembled");
        assert!(named.share >= SETTLED);
    }

    #[test]
    fn a_look_at_the_edge_settles_which() {
        let named = named(&[("side-view", "cap-and-back"), ("back", "flat-dark")], &[]);
        assert_eq!(named.key, "triplet");
    }

    const LIGHT_LOOKS: [(&str, &str); 4] = [
        ("side-view", "uneven-potch"),
        ("back", "potch"),
        ("body", "light"),
        ("water-drop", "stands"),
    ];

    #[test]
    fn a_tone_from_above_decides_between_dark_and_light() {
        for (step, key) in [(3, DARK), (6, DARK), (7, LIGHT)] {
            let named = named(&LIGHT_LOOKS, &[tone(step, Viewed::FaceUp)]);
            assert_eq!(
                (named.key.as_str(), named.by_tone.as_deref()),
                (key, Some("tone"))
            );
        }
        let aside = named(&LIGHT_LOOKS, &[tone(3, Viewed::FromTheSide)]);
        assert_eq!((aside.key.as_str(), aside.by_tone), (LIGHT, None));
        assert_eq!(tone_word(&[tone(3, Viewed::FromTheSide)]), "dark");
        assert_eq!(tone_word(&[tone(4, Viewed::FaceUp)]), "black");
        assert_eq!(tone_word(&[]), "dark");
    }
}
