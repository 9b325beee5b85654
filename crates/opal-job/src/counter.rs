//! The use cases at the counter: what a finished stone is, and its papers.

use crate::counter_numbers::{free_id, gravity_of, gravity_read, ids};
use crate::error::JobError;
use opal_evidence::{Fault, Faults};
use opal_grade::{
    Basis, Claim, Described, Description, Found, Identity, Naming, Observation, Proof, SoakFacts,
    StoneFacts, StoneSizes, Viewed, WaterWeighing, WeighingSetup, check_text, disclose, identify,
    naming, weigh_in_water, weight_from_sizes,
};
use opal_reference::disclosure::shipped;
use opal_reference::identity::identity as table;
use opal_report::json::{
    DisclosureDoc, DisclosureFacts, IdentityDoc, OnFileDoc, WeighingDoc, WordingDoc,
};
use opal_units::Mass;

/// A finished stone as it lies on the counter.
#[derive(Clone, Debug, PartialEq)]
pub struct CounterStone {
    /// What it is called.
    pub name: String,
    /// What it was described as by whoever brought it.
    pub described_as: Option<String>,
    /// Its weight on a scale.
    pub weight: Option<Mass>,
    /// Its sizes.
    pub sizes: Option<StoneSizes>,
    /// What was seen and measured.
    pub observations: Vec<Observation>,
    /// How it looks and what it is made of, as it was judged or told.
    pub described: Vec<Described>,
    /// Notes and photos, by the name on file of what they belong to.
    pub notes: Vec<CounterNote>,
    /// Weighings in water and what they were made with.
    pub weighings: Option<(Vec<WaterWeighing>, WeighingSetup)>,
    /// What water could harm.
    pub soak: SoakFacts,
}

/// What stands beside a look or a description.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct CounterNote {
    /// The name on file of what it belongs to.
    pub id: String,
    /// Free text.
    pub note: Option<String>,
    /// Name of a photo.
    pub photo: Option<String>,
    /// SHA-256 of the photo's bytes, where they were there to be read.
    pub photo_sha256: Option<String>,
}

/// A finished stone with what it most likely is.
#[derive(Clone, Debug, PartialEq)]
pub struct AtTheCounter {
    /// The stone as it was brought.
    pub stone: CounterStone,
    /// What it most likely is.
    pub identity: Identity,
    /// What was read but could not be used, and why.
    pub notes: Vec<String>,
    /// Everything on file, in the order of the looks.
    pub on_file: Vec<OnFileDoc>,
    /// What its papers name it as.
    naming: Naming,
    /// Names on file of the weight and the sizes.
    scale_id: String,
    callipers_id: String,
}

impl AtTheCounter {
    /// Weighs, and says what the stone most likely is.
    ///
    /// A specific gravity from weighings in water counts as a look; where there is
    /// none, a rough one from a dry weight and sizes does. What cannot be used is
    /// told in the notes.
    ///
    /// # Errors
    /// Every observation that cannot be.
    pub fn new(stone: CounterStone) -> Result<Self, JobError> {
        let mut notes = Vec::new();
        let mut observations = stone.observations.clone();
        let taken = ids(&stone);
        let scale_id = free_id(&taken, "scale");
        let callipers_id = free_id(&taken, "callipers");
        if let Some(read) = gravity_read(&stone, &mut notes) {
            observations.push(read);
        }
        let identity = identify(table(), &observations).map_err(|faults| {
            let faults = faults.into_iter().map(|fault| {
                let path = format!("reading[{}].{}", fault.index, fault.field);
                Fault::new(path, fault.value, fault.limit)
            });
            JobError::Faults(Faults(faults.collect()))
        })?;
        let naming = naming(table(), &identity, &stone.described);
        notes.extend(disagreements(&stone, &naming));
        let mut on_file = Vec::new();
        let mut file = |id: &str, words: String, by: Option<&String>, at: Option<&String>| {
            let note = stone.notes.iter().find(|note| note.id == id);
            on_file.push(OnFileDoc {
                id: id.to_owned(),
                words,
                by: by.cloned(),
                at: at.cloned(),
                note: note.and_then(|note| note.note.clone()),
                photo: note.and_then(|note| note.photo.clone()),
                photo_sha256: note.and_then(|note| note.photo_sha256.clone()),
            });
        };
        for look in &observations {
            let mut grounds = identity.grounds.iter();
            let seen = grounds.find(|ground| ground.observation == look.id);
            let words = seen.map_or(&look.look, |ground| &ground.seen).clone();
            file(&look.id, words, look.by.as_ref(), look.at.as_ref());
        }
        for one in &stone.described {
            file(&one.id, one.what.words(), one.by.as_ref(), one.at.as_ref());
        }
        if let Some(weight) = stone.weight {
            let words = format!("{:.2} ct on a scale", weight.carats());
            file(&scale_id, words, None, None);
        }
        if let Some(sizes) = &stone.sizes {
            let [l, w, h] = [sizes.length, sizes.width, sizes.height].map(|s| s.mm());
            let words = format!("{l:.2} × {w:.2} × {h:.2} mm by callipers");
            file(&callipers_id, words, None, None);
        }
        Ok(Self {
            stone,
            identity,
            notes,
            on_file,
            naming,
            scale_id,
            callipers_id,
        })
    }

    /// Its specific gravity by the weighings in water, in machine form.
    ///
    /// # Errors
    /// Nothing was weighed in water, or it must not go there; what cannot be a weighing.
    pub fn weighing_doc(&self) -> Result<WeighingDoc, JobError> {
        let Some((rows, setup)) = &self.stone.weighings else {
            let limit = "one weighing in air and in water at least";
            return Err(Faults::from(Fault::new("weighing", "nothing", limit)).into());
        };
        Ok(WeighingDoc::in_water(&weigh_in_water(
            rows,
            setup,
            &self.stone.soak,
        )?))
    }

    /// What it most likely is, in machine form.
    #[must_use]
    pub fn identity_doc(&self) -> IdentityDoc {
        IdentityDoc::new(
            &self.stone.name,
            &self.identity,
            self.on_file.clone(),
            self.notes.clone(),
        )
    }

    /// The key of what its papers name it as: a class, or a group whose class is not
    /// settled.
    #[must_use]
    pub fn named_as(&self) -> &str {
        &self.naming.key
    }

    /// The photos that its readings name, each with its SHA-256 where that is known.
    pub fn photos(&self) -> impl Iterator<Item = (&str, Option<&str>)> {
        let notes = self.stone.notes.iter();
        notes.filter_map(|note| Some((note.photo.as_deref()?, note.photo_sha256.as_deref())))
    }

    /// Everybody who looked, judged or told, each once.
    #[must_use]
    pub fn by(&self) -> Vec<String> {
        let mut names: Vec<String> = Vec::new();
        for name in self.on_file.iter().filter_map(|record| record.by.as_ref()) {
            if !names.contains(name) {
                names.push(name.clone());
            }
        }
        names
    }

    /// Its papers for a market, in machine form.
    ///
    /// # Errors
    /// No look on file; no such market.
    pub fn disclosure_doc(&self, market: &str) -> Result<DisclosureDoc, JobError> {
        if self.identity.grounds.is_empty() {
            return Err(JobError::NothingLookedAt);
        }
        let facts = self.facts();
        let papers = disclose(table(), shipped(), market, &facts)?;
        let described_as_faults = self
            .stone
            .described_as
            .as_ref()
            .map_or_else(Vec::new, |text| {
                check_text(table(), shipped(), market, &facts.class, self.proof(), text)
            });
        let mut notes = self.notes.clone();
        notes.extend(
            self.identity
                .misfits
                .iter()
                .map(|misfit| misfit.words.clone()),
        );
        Ok(DisclosureDoc::new(
            &papers,
            DisclosureFacts {
                stone: self.stone.name.clone(),
                class: facts.class,
                described_as_faults,
                notes,
                on_file: self.on_file.clone(),
            },
        ))
    }

    /// A text about this stone, looked over for a market.
    ///
    /// # Errors
    /// No such market.
    pub fn wording_doc(&self, market: &str, text: &str) -> Result<WordingDoc, JobError> {
        wording_doc(market, self.named_as(), self.proof(), text)
    }

    /// A laboratory's finding on file allows speaking of one, a place that somebody
    /// told allows saying so; nothing kept here proves that a stone is untreated.
    fn proof(&self) -> Proof {
        Proof {
            origin_told: self
                .stone
                .described
                .iter()
                .any(|one| matches!(one.what, Description::Origin(_))),
            laboratory: self
                .stone
                .observations
                .iter()
                .any(|observation| observation.look == "laboratory"),
            ..Proof::default()
        }
    }

    fn facts(&self) -> StoneFacts {
        let class = self.naming.key.clone();
        // The answer was weighed from every look together, so it rests on them all.
        let looks = self.identity.grounds.iter();
        let mut rests_on: Vec<String> = looks.map(|ground| ground.observation.clone()).collect();
        rests_on.sort_by_key(|id| self.on_file.iter().position(|record| record.id == *id));
        rests_on.extend(self.naming.by_tone.clone());
        let weight = match (self.stone.weight, &self.stone.sizes) {
            (Some(weight), _) => Some(Claim {
                value: (weight, None),
                rests_on: vec![self.scale_id.clone()],
            }),
            (None, Some(sizes)) => gravity_of(&class)
                .and_then(|(mean, sigma)| weight_from_sizes(sizes, mean, sigma).ok())
                .map(|estimated| Claim {
                    value: (estimated.weight, Some(estimated.sigma)),
                    rests_on: vec![self.callipers_id.clone()],
                }),
            (None, None) => None,
        };
        StoneFacts {
            name: self.stone.name.clone(),
            class,
            basis: Basis::Judged {
                rests_on,
                share: self.naming.share,
            },
            weight,
            sizes: self.stone.sizes.as_ref().map(|sizes| Claim {
                value: [sizes.length, sizes.width, sizes.height],
                rests_on: vec![self.callipers_id.clone()],
            }),
            described: self.stone.described.clone(),
            not_tested: self.identity.not_tested.clone(),
        }
    }
}

/// A text about a stone of a class or group, looked over for a market.
///
/// # Errors
/// No such class, group or market.
pub fn wording_doc(
    market: &str,
    class: &str,
    proof: Proof,
    text: &str,
) -> Result<WordingDoc, JobError> {
    if table().group_of(class).is_none() {
        return Err(opal_grade::DiscloseError::Class(class.to_owned()).into());
    }
    let rules = shipped()
        .market(market)
        .ok_or_else(|| opal_grade::DiscloseError::Market(market.to_owned()))?;
    let faults = check_text(table(), shipped(), market, class, proof, text);
    Ok(WordingDoc::new(rules, class, text, &faults))
}

/// What is said of a stone that what was seen of it does not bear out.
fn disagreements(stone: &CounterStone, naming: &Naming) -> Vec<String> {
    let mut notes = Vec::new();
    let body = stone.observations.iter().find(|look| look.look == "body");
    let body = body.map(|look| &look.found);
    for one in &stone.described {
        match (&one.what, body) {
            (Description::BodyTone(tone, Viewed::FaceUp), Some(Found::Word(body)))
                if (tone.step() >= 7 && body == "dark")
                    || (tone.step() <= 6 && body == "light") =>
            {
                notes.push(format!(
                    "The look says a {body} body and the tone on file is N{}: look again. The name goes by the tone.",
                    tone.step()
                ));
            }
            (Description::Cap(_) | Description::Back(_), _)
                if table().group_of(&naming.key) != Some("assembled") =>
            {
                notes.push(format!(
                    "A {} is on file, and the looks do not say that the stone is assembled: one of the two is wrong.",
                    one.what.name()
                ));
            }
            _ => {}
        }
    }
    notes
}

#[cfg(test)]
mod tests {
    use super::*;
    use opal_evidence::BodyTone;
    use opal_grade::WeighError;

    fn look(id: &str, look: &str, word: &str) -> Observation {
        Observation {
            id: id.to_owned(),
            look: look.to_owned(),
            found: Found::Word(word.to_owned()),
            by: None,
            at: None,
        }
    }

    fn stone(observations: Vec<Observation>) -> CounterStone {
        CounterStone {
            name: "Ring stone".to_owned(),
            described_as: None,
            weight: Some(Mass::from_grams(1.04)),
            sizes: None,
            observations,
            described: Vec::new(),
            notes: Vec::new(),
            weighings: Some((
                vec![WaterWeighing {
                    in_air: Mass::from_grams(1.04),
                    in_water: Mass::from_grams(0.5458),
                    wire: Mass::ZERO,
                    water_celsius: 21.0,
                }],
                WeighingSetup {
                    scale: Mass::from_grams(0.001),
                    thermometer_celsius: 0.5,
                    dry_after: Some(Mass::from_grams(1.04)),
                },
            )),
            soak: SoakFacts::SOUND,
        }
    }

    fn glued() -> Vec<Observation> {
        vec![
            look("edge", "side-view", "straight-join"),
            look("back", "back", "flat-dark"),
        ]
    }

    #[test]
    fn a_weighing_counts_only_where_the_stone_may_go_into_water() {
        let sound = AtTheCounter::new(stone(glued())).expect("answers");
        assert!(sound.on_file.iter().any(|r| r.id == "weighed-in-water"));
        let mut not_known = stone(glued());
        not_known.soak = SoakFacts::default();
        let refused = AtTheCounter::new(not_known).expect("answers");
        assert!(refused.on_file.iter().all(|r| r.id != "weighed-in-water"));
        let why = WeighError::MustNotSoak(SoakFacts::default().reasons_against()).to_string();
        assert!(refused.notes[0].contains(&why), "{:?}", refused.notes);
    }

    #[test]
    fn names_on_file_are_never_taken_twice() {
        let mut readings = glued();
        readings.push(look("scale", "body", "dark"));
        let at = AtTheCounter::new(stone(readings)).expect("answers");
        let mut ids: Vec<&str> = at.on_file.iter().map(|r| r.id.as_str()).collect();
        let n = ids.len();
        ids.sort_unstable();
        ids.dedup();
        assert_eq!(ids.len(), n, "{ids:?}");
    }

    fn said(id: &str, what: Description) -> Described {
        Described {
            id: id.to_owned(),
            what,
            by: Some("the seller".to_owned()),
            at: None,
        }
    }

    #[test]
    fn what_is_said_stands_on_the_card_with_who_said_it() {
        let mut stone = stone(glued());
        stone.described = vec![
            said("told", Description::Origin("Field A".to_owned())),
            said("under", Description::Back("black glass".to_owned())),
        ];
        let at = AtTheCounter::new(stone).expect("answers");
        let doc = at.disclosure_doc("international").expect("papers");
        let line = |words: &str| doc.card.iter().find(|line| line.text.contains(words));
        let origin = line("Field A, as told by the seller").expect("a line");
        assert_eq!(origin.rests_on, ["told"]);
        assert!(
            line("glued to black glass").is_some_and(|l| l.rests_on.contains(&"under".to_owned()))
        );
        assert_eq!(at.by(), ["the seller"]);
    }

    #[test]
    fn what_is_said_against_the_looks_is_told() {
        let solid = vec![
            look("edge", "side-view", "uneven-potch"),
            look("back", "back", "potch"),
            look("body", "body", "light"),
        ];
        let mut stone = stone(solid);
        let tone = BodyTone::new(3).expect("a tone");
        stone.described = vec![
            said("tone", Description::BodyTone(tone, Viewed::FaceUp)),
            said("cap", Description::Cap("quartz".to_owned())),
        ];
        let at = AtTheCounter::new(stone).expect("answers");
        assert!(
            at.notes.iter().any(|note| note.contains("N3")),
            "{:?}",
            at.notes
        );
        assert!(at.notes.iter().any(|note| note.contains("cap is on file")));
        assert_eq!(at.named_as(), "natural-dark");
    }

    #[test]
    fn no_look_no_paper_and_no_market_no_paper() {
        let mut bare = stone(Vec::new());
        bare.weighings = None;
        let at = AtTheCounter::new(bare).expect("answers");
        let none = at.disclosure_doc("australia");
        assert!(matches!(none, Err(JobError::NothingLookedAt)));
        let at = AtTheCounter::new(stone(glued())).expect("answers");
        let nowhere = at.disclosure_doc("the moon");
        assert!(matches!(nowhere, Err(JobError::Disclose(_))));
    }
}
