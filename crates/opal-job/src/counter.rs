//! The use cases at the counter: what a finished stone is, its papers, and what is
//! kept of both.
//!
//! Readings and printed cards are events of a stone: a card that is asked for again
//! is given out as it was printed, not made anew.

use crate::bench::{Bench, VERSION};
use crate::error::JobError;
use crate::records::{NewEvent, fingerprint};
use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use jiff::Timestamp;
use opal_evidence::{Fault, Faults};
use opal_grade::{
    Basis, Claim, Found, GRAVITY, Identity, Observation, Proof, SoakFacts, StoneFacts, StoneSizes,
    WaterWeighing, WeighingSetup, check_text, disclose, gravity_from_sizes, identify,
    weigh_in_water, weight_from_sizes,
};
use opal_reference::disclosure::shipped;
use opal_reference::identity::identity as table;
use opal_report::json::{DisclosureDoc, DisclosureFacts, IdentityDoc, OnFileDoc, WordingDoc};
use opal_units::{Mass, SpecificGravity};
use serde::{Deserialize, Serialize};

/// Readings that were taken, as an event.
const READINGS_KIND: &str = "readings-taken";
/// A card that was printed, as an event.
const CARD_KIND: &str = "card-printed";

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
    /// Notes and photo names, by the observation's name.
    pub notes: Vec<CounterNote>,
    /// Weighings in water and what they were made with.
    pub weighings: Option<(Vec<WaterWeighing>, WeighingSetup)>,
    /// What water could harm.
    pub soak: SoakFacts,
}

/// What stands beside an observation.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct CounterNote {
    /// The observation's name.
    pub id: String,
    /// Free text.
    pub note: Option<String>,
    /// Name of a photo.
    pub photo: Option<String>,
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
    /// Names on file of the weight and the sizes.
    scale_id: String,
    callipers_id: String,
}

/// A card as it was printed.
#[derive(Clone, Debug, Deserialize, Eq, PartialEq, Serialize)]
pub struct PrintedCard {
    /// Key of the market.
    pub market: String,
    /// Fingerprint of the readings that it rests on.
    pub readings: String,
    /// Fingerprint of the printed bytes, so that a change would show.
    pub fingerprint: String,
    /// The version that made it.
    pub version: String,
    /// The document, in its machine form.
    pub document: String,
    /// The printed bytes, in base64 (RFC 4648).
    bytes: String,
}

#[derive(Deserialize, Serialize)]
struct KeptReadings {
    file: String,
    fingerprint: String,
    text: String,
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
        let scale_id = free_id(&observations, "scale");
        let callipers_id = free_id(&observations, "callipers");
        if let Some(read) = gravity_of(&stone, &mut notes) {
            observations.push(read);
        }
        let identity = identify(table(), &observations).map_err(|faults| {
            let faults = faults.into_iter().map(|fault| {
                let path = format!("reading[{}].{}", fault.index, fault.field);
                Fault::new(path, fault.value, fault.limit)
            });
            JobError::Faults(Faults(faults.collect()))
        })?;
        let mut on_file: Vec<OnFileDoc> = observations
            .iter()
            .map(|observation| {
                let words = identity
                    .grounds
                    .iter()
                    .find(|ground| ground.observation == observation.id)
                    .map_or_else(|| observation.look.clone(), |ground| ground.seen.clone());
                let note = stone.notes.iter().find(|note| note.id == observation.id);
                OnFileDoc {
                    id: observation.id.clone(),
                    words,
                    by: observation.by.clone(),
                    at: observation.at.clone(),
                    note: note.and_then(|note| note.note.clone()),
                    photo: note.and_then(|note| note.photo.clone()),
                }
            })
            .collect();
        let mut also = |id: &str, words: String| {
            on_file.push(OnFileDoc {
                id: id.to_owned(),
                words,
                by: None,
                at: None,
                note: None,
                photo: None,
            });
        };
        if let Some(weight) = stone.weight {
            also(&scale_id, format!("{:.2} ct on a scale", weight.carats()));
        }
        if let Some(sizes) = &stone.sizes {
            let [l, w, h] = [sizes.length, sizes.width, sizes.height].map(|s| s.mm());
            also(
                &callipers_id,
                format!("{l:.2} × {w:.2} × {h:.2} mm by callipers"),
            );
        }
        Ok(Self {
            stone,
            identity,
            notes,
            on_file,
            scale_id,
            callipers_id,
        })
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

    /// The key of what its papers name it as: the likeliest of the group that it
    /// counts as.
    #[must_use]
    pub fn class(&self) -> &str {
        let group = self.identity.groups.first().map(|group| group.key.as_str());
        let of_group = |key: &str| table().class(key).map(|class| class.group.as_str()) == group;
        self.identity
            .classes
            .iter()
            .find(|share| of_group(&share.key))
            .map_or("none-of-these", |share| share.key.as_str())
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
        wording_doc(market, self.class(), self.proof(), text)
    }

    /// A laboratory's finding on file allows speaking of one; nothing else that is
    /// kept here proves a place, or that a stone is untreated.
    fn proof(&self) -> Proof {
        Proof {
            laboratory: self
                .stone
                .observations
                .iter()
                .any(|observation| observation.look == "laboratory"),
            ..Proof::default()
        }
    }

    fn facts(&self) -> StoneFacts {
        let class = self.class().to_owned();
        // The paper names the class, so the class's own share counts, not that of
        // the group.
        let share = self
            .identity
            .classes
            .iter()
            .find(|share| share.key == class)
            .map_or(0.0, |share| share.share);
        // The answer was weighed from every look together, so it rests on them all.
        let looks = self.identity.grounds.iter();
        let mut rests_on: Vec<String> = looks.map(|ground| ground.observation.clone()).collect();
        rests_on.sort_by_key(|id| self.on_file.iter().position(|record| record.id == *id));
        let weight = match (self.stone.weight, &self.stone.sizes) {
            (Some(weight), _) => Some(Claim {
                value: (weight, None),
                rests_on: vec![self.scale_id.clone()],
            }),
            (None, Some(sizes)) => gravity_of_class(&class)
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
            basis: Basis::Judged { rests_on, share },
            weight,
            sizes: self.stone.sizes.as_ref().map(|sizes| Claim {
                value: [sizes.length, sizes.width, sizes.height],
                rests_on: vec![self.callipers_id.clone()],
            }),
            body_tone: None,
            brightness: None,
            pattern: None,
            origin: None,
            cap: None,
            back: None,
            not_tested: self.identity.not_tested.clone(),
        }
    }
}

/// A text about a stone of a class, looked over for a market.
///
/// # Errors
/// No such class or market.
pub fn wording_doc(
    market: &str,
    class: &str,
    proof: Proof,
    text: &str,
) -> Result<WordingDoc, JobError> {
    if table().class(class).is_none() {
        return Err(opal_grade::DiscloseError::Class(class.to_owned()).into());
    }
    let rules = shipped()
        .market(market)
        .ok_or_else(|| opal_grade::DiscloseError::Market(market.to_owned()))?;
    let faults = check_text(table(), shipped(), market, class, proof, text);
    Ok(WordingDoc::new(rules, class, text, &faults))
}

/// A name that no observation has.
fn free_id(observations: &[Observation], wanted: &str) -> String {
    let mut id = wanted.to_owned();
    while observations.iter().any(|observation| observation.id == id) {
        id.push_str("-on-file");
    }
    id
}

/// The specific gravity that the stone's own numbers give, as an observation.
fn gravity_of(stone: &CounterStone, notes: &mut Vec<String>) -> Option<Observation> {
    let observation =
        |wanted: &str, gravity: SpecificGravity, sigma: SpecificGravity| Observation {
            id: free_id(&stone.observations, wanted),
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

/// Mean and one standard deviation of the specific gravity of a class.
fn gravity_of_class(class: &str) -> Option<(SpecificGravity, SpecificGravity)> {
    let parts: Vec<_> = table().components(class).collect();
    if parts.is_empty() {
        return None;
    }
    let mean: f64 = parts.iter().map(|part| part.weight * part.gravity).sum();
    let square: f64 = parts
        .iter()
        .map(|part| {
            let off = part.gravity - mean;
            part.weight * (part.gravity_sigma * part.gravity_sigma + off * off)
        })
        .sum();
    Some((
        SpecificGravity::new(mean),
        SpecificGravity::new(square.sqrt()),
    ))
}

impl PrintedCard {
    /// A card that is being printed.
    ///
    /// # Errors
    /// None that is known.
    pub fn new(
        document: &DisclosureDoc,
        readings_text: &str,
        bytes: &[u8],
    ) -> Result<Self, JobError> {
        Ok(Self {
            market: document.market.key.clone(),
            readings: fingerprint(&[readings_text.as_bytes()]),
            fingerprint: fingerprint(&[bytes]),
            version: VERSION.to_owned(),
            document: serde_json::to_string(document)?,
            bytes: STANDARD.encode(bytes),
        })
    }

    /// The printed bytes.
    ///
    /// # Errors
    /// They are not what was printed.
    pub fn bytes(&self) -> Result<Vec<u8>, JobError> {
        let bytes = STANDARD
            .decode(&self.bytes)
            .map_err(|_| JobError::CardChanged)?;
        if fingerprint(&[&bytes]) == self.fingerprint {
            Ok(bytes)
        } else {
            Err(JobError::CardChanged)
        }
    }
}

impl Bench {
    /// Keeps a readings file with its stone, as it came. The same readings again
    /// add nothing.
    ///
    /// # Errors
    /// No such stone; the store fails.
    pub fn keep_readings(&self, stone: &str, file: &str, text: &str) -> Result<(), JobError> {
        let no = self.number(stone)?;
        let mark = fingerprint(&[text.as_bytes()]);
        let store = &self.ports().store;
        let there = store.events(no)?.iter().any(|record| {
            record.event.kind == READINGS_KIND
                && serde_json::from_str::<KeptReadings>(&record.event.body)
                    .is_ok_and(|kept| kept.fingerprint == mark)
        });
        if there {
            return Ok(());
        }
        let body = KeptReadings {
            file: file.to_owned(),
            fingerprint: mark,
            text: text.to_owned(),
        };
        let event = NewEvent {
            kind: READINGS_KIND.to_owned(),
            body: serde_json::to_string(&body)?,
        };
        store.add_event(no, &event, self.ports().clock.now())?;
        Ok(())
    }

    /// Keeps a card as it was printed. The same card again adds nothing.
    ///
    /// # Errors
    /// No such stone; the store fails.
    pub fn keep_card(&self, stone: &str, card: &PrintedCard) -> Result<(), JobError> {
        let there = self.cards(stone)?;
        if there.iter().any(|(_, kept)| kept == card) {
            return Ok(());
        }
        let no = self.number(stone)?;
        let event = NewEvent {
            kind: CARD_KIND.to_owned(),
            body: serde_json::to_string(card)?,
        };
        let now = self.ports().clock.now();
        self.ports().store.add_event(no, &event, now)?;
        Ok(())
    }

    /// All cards that were printed for a stone, oldest first, with when.
    ///
    /// # Errors
    /// No such stone; the store fails; a card on file that cannot be read.
    pub fn cards(&self, stone: &str) -> Result<Vec<(Timestamp, PrintedCard)>, JobError> {
        let no = self.number(stone)?;
        let mut cards = Vec::new();
        for record in self.ports().store.events(no)? {
            if record.event.kind == CARD_KIND {
                let card =
                    serde_json::from_str(&record.event.body).map_err(|_| JobError::CardChanged)?;
                cards.push((record.at, card));
            }
        }
        Ok(cards)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
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

    #[test]
    fn a_card_that_was_changed_is_not_given_out() {
        let at = AtTheCounter::new(stone(glued())).expect("answers");
        let doc = at.disclosure_doc("australia").expect("papers");
        let mut card = PrintedCard::new(&doc, "readings", b"%PDF-").expect("kept");
        assert_eq!(card.bytes().expect("its own"), b"%PDF-");
        card.bytes = STANDARD.encode(b"%PDF-2");
        assert!(matches!(card.bytes(), Err(JobError::CardChanged)));
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
