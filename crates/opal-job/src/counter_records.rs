//! What is kept at the counter: readings with their photos, and printed cards.
//!
//! All are events of a stone, and only ever added: a card that is asked for again is
//! given out as it was printed, not made anew. A stone that a customer brought has a
//! record of its own, without rough.

use crate::bench::{Bench, VERSION};
use crate::counter::AtTheCounter;
use crate::error::JobError;
use crate::photo::{self, Photo};
use crate::ports::{StoreError, StoreFault};
use crate::records::{EventRecord, NewEvent, StoneNo, StoneRecord, fingerprint};
use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use jiff::Timestamp;
use opal_evidence::{Fault, Faults};
use opal_report::json::{
    DisclosureDoc, KeptCardDoc, KeptDoc, KeptReadingsDoc, KeptStoneDoc, PhotoDoc,
};
use serde::{Deserialize, Serialize};

/// Whose a stone is that never was rough here, as an event.
const CUSTOMER_KIND: &str = "customer-named";
/// Readings that were taken, as an event.
const READINGS_KIND: &str = "readings-taken";
/// A card that was printed, as an event.
const CARD_KIND: &str = "card-printed";
/// Longest name of a customer or a stone. Chosen: a full name with a firm's.
const NAME_MAX: usize = 200;

/// Whose stone something is kept with.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum Whose<'a> {
    /// A stone of the store, by its name or number.
    Stone(&'a str),
    /// A stone that a customer brought; its record is opened at the first time.
    Customer {
        /// Who brought it.
        customer: &'a str,
        /// What the stone is called.
        stone: &'a str,
    },
}

/// A readings file as it came.
#[derive(Clone, Copy, Debug)]
pub struct ReadingsTaken<'a> {
    /// What it was called.
    pub file: &'a str,
    /// Its text.
    pub text: &'a str,
    /// The stone that it tells of.
    pub at: &'a AtTheCounter,
    /// The photos that came with it.
    pub photos: &'a [Photo],
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
struct CustomerNamed {
    customer: String,
    stone: String,
}

#[derive(Deserialize, Serialize)]
struct KeptReadings {
    file: String,
    fingerprint: String,
    text: String,
    #[serde(default)]
    by: Vec<String>,
    #[serde(default)]
    photos: Vec<KeptPhoto>,
}

#[derive(Deserialize, Serialize)]
struct KeptPhoto {
    name: String,
    sha256: String,
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

    /// What the stone is called on it.
    #[must_use]
    pub fn stone(&self) -> String {
        self.said("/stone")
    }

    /// A text of the card's document.
    fn said(&self, pointer: &str) -> String {
        serde_json::from_str::<serde_json::Value>(&self.document)
            .ok()
            .and_then(|document| document.pointer(pointer)?.as_str().map(str::to_owned))
            .unwrap_or_default()
    }
}

impl Bench {
    /// The number of the stone that something is kept with. A customer's stone gets
    /// its record at the first time; the same customer's stone of the same name is
    /// the same stone.
    ///
    /// # Errors
    /// No such stone; a name that is empty, too long, or taken by rough; the store
    /// fails.
    pub fn stone_of(&self, whose: Whose<'_>) -> Result<StoneNo, JobError> {
        let (customer, stone) = match whose {
            Whose::Stone(name_or_no) => return self.number(name_or_no),
            Whose::Customer { customer, stone } => (customer.trim(), stone.trim()),
        };
        let mut faults = Vec::new();
        for (field, name) in [("customer", customer), ("stone.name", stone)] {
            let n = name.chars().count();
            if !(1..=NAME_MAX).contains(&n) {
                let limit = format!("must be 1 to {NAME_MAX} characters");
                faults.push(Fault::new(field, format!("{n} characters"), limit));
            }
        }
        if !faults.is_empty() {
            return Err(Faults(faults).into());
        }
        let name = format!("{stone} ({customer})");
        let store = &self.ports().store;
        let there = store.all_stones()?;
        let same = |record: &&StoneRecord| record.name.to_lowercase() == name.to_lowercase();
        if let Some(record) = there.iter().find(same) {
            if record.revisions > 0 {
                let why =
                    format!("'{name}' is the name of rough in the store: give the stone another");
                return Err(StoreError::new(StoreFault::Exists, why).into());
            }
            return Ok(record.no);
        }
        let now = self.ports().clock.now();
        let body = CustomerNamed {
            customer: customer.to_owned(),
            stone: stone.to_owned(),
        };
        let event = event(CUSTOMER_KIND, &body)?;
        Ok(store.add_finished_stone(&name, &event, now)?)
    }

    /// Keeps a readings file with its stone, as it came, and the photos that it
    /// names. The same readings again add nothing.
    ///
    /// # Errors
    /// A photo that is missing or cannot be kept; no such stone; the store fails.
    pub fn keep_readings(&self, no: StoneNo, taken: &ReadingsTaken<'_>) -> Result<(), JobError> {
        photo::check(taken.photos)?;
        let photos = self.photos_named(no, taken)?;
        let mark = fingerprint(&[taken.text.as_bytes()]);
        let store = &self.ports().store;
        let now = self.ports().clock.now();
        // Photos first: readings on file never name one that is not.
        let named = |photo: &&Photo| photos.iter().any(|named| named.name == photo.name);
        for photo in taken.photos.iter().filter(named) {
            store.add_photo(no, photo, now)?;
        }
        let same = |record: &EventRecord| {
            read_readings(record).is_some_and(|kept| kept.fingerprint == mark)
        };
        if store.events(no)?.iter().any(same) {
            return Ok(());
        }
        let body = KeptReadings {
            file: taken.file.to_owned(),
            fingerprint: mark,
            text: taken.text.to_owned(),
            by: taken.at.by(),
            photos,
        };
        Ok(store.add_event(no, &event(READINGS_KIND, &body)?, now)?)
    }

    /// The photos that readings name: each came along, or is kept with the stone.
    fn photos_named(
        &self,
        no: StoneNo,
        taken: &ReadingsTaken<'_>,
    ) -> Result<Vec<KeptPhoto>, JobError> {
        let mut photos: Vec<KeptPhoto> = Vec::new();
        let mut faults = Vec::new();
        for (name, stated) in taken.at.photos() {
            if photos.iter().any(|photo| photo.name == name) {
                continue;
            }
            let came = taken.photos.iter().find(|photo| photo.name == name);
            let sha256 = came.map(Photo::sha256).or_else(|| {
                let there = |sha256: &&str| self.ports().store.photo(no, sha256).is_ok();
                stated.filter(there).map(str::to_owned)
            });
            match sha256 {
                Some(sha256) => photos.push(KeptPhoto {
                    name: name.to_owned(),
                    sha256,
                }),
                None => faults.push(Fault::new(
                    format!("photo '{name}'"),
                    "not there",
                    "it must come along with the readings, so that its bytes are kept",
                )),
            }
        }
        if faults.is_empty() {
            Ok(photos)
        } else {
            Err(Faults(faults).into())
        }
    }

    /// Readings that were kept, by their fingerprint: what their file was called, and
    /// its text.
    ///
    /// # Errors
    /// No such readings; the store fails.
    pub fn kept_readings(&self, no: StoneNo, mark: &str) -> Result<(String, String), JobError> {
        let events = self.ports().store.events(no)?;
        let mut kept = events.iter().filter_map(read_readings);
        let found = kept.find(|kept| kept.fingerprint == mark);
        found
            .map(|kept| (kept.file, kept.text))
            .ok_or_else(|| nothing_kept("no such readings of this stone are kept"))
    }

    /// Keeps a card as it was printed. The same card again adds nothing.
    ///
    /// # Errors
    /// No such stone; the store fails.
    pub fn keep_card(&self, no: StoneNo, card: &PrintedCard) -> Result<(), JobError> {
        if self.cards(no)?.iter().any(|(_, kept)| kept == card) {
            return Ok(());
        }
        let now = self.ports().clock.now();
        Ok(self
            .ports()
            .store
            .add_event(no, &event(CARD_KIND, card)?, now)?)
    }

    /// All cards that were printed for a stone, oldest first, with when.
    ///
    /// # Errors
    /// The store fails; a card on file that cannot be read.
    pub fn cards(&self, no: StoneNo) -> Result<Vec<(Timestamp, PrintedCard)>, JobError> {
        let mut cards = Vec::new();
        for record in self.ports().store.events(no)? {
            cards.extend(read_card(&record)?);
        }
        Ok(cards)
    }

    /// A card that was kept, by its fingerprint.
    ///
    /// # Errors
    /// No such card; the store fails.
    pub fn kept_card(&self, no: StoneNo, mark: &str) -> Result<PrintedCard, JobError> {
        let mut cards = self.cards(no)?.into_iter().map(|(_, card)| card);
        let found = cards.find(|card| card.fingerprint == mark);
        found.ok_or_else(|| nothing_kept("no such card of this stone is kept"))
    }

    /// Everything that was kept at the counter, the stones touched last first: of
    /// every stone, or of those whose name, number or customer has these words in it.
    ///
    /// # Errors
    /// The store fails; a card on file that cannot be read.
    pub fn kept(&self, words: Option<&str>) -> Result<KeptDoc, JobError> {
        let words = words.map(|words| words.trim().to_lowercase());
        let mut stones = Vec::new();
        for record in self.ports().store.all_stones()? {
            let kept = self.kept_of(&record)?;
            let empty =
                kept.customer.is_none() && kept.readings.is_empty() && kept.cards.is_empty();
            let wanted = words.as_ref().is_none_or(|words| {
                let customer = kept.customer.iter().map(String::as_str);
                let number = record.no.to_string();
                number == *words
                    || [kept.stone.as_str()]
                        .into_iter()
                        .chain(customer)
                        .any(|name| name.to_lowercase().contains(words.as_str()))
            });
            if wanted && !empty {
                stones.push(kept);
            }
        }
        let last = |stone: &KeptStoneDoc| {
            let readings = stone.readings.iter().map(|one| one.at.clone());
            readings
                .chain(stone.cards.iter().map(|one| one.at.clone()))
                .max()
        };
        stones.sort_by(|a, b| last(b).cmp(&last(a)).then(b.number.cmp(&a.number)));
        Ok(KeptDoc::new(stones))
    }

    fn kept_of(&self, stone: &StoneRecord) -> Result<KeptStoneDoc, JobError> {
        let mut kept = KeptStoneDoc {
            number: stone.no.0,
            stone: stone.name.clone(),
            customer: None,
            readings: Vec::new(),
            cards: Vec::new(),
        };
        for record in self.ports().store.events(stone.no)? {
            if record.event.kind == CUSTOMER_KIND
                && let Ok(named) = serde_json::from_str::<CustomerNamed>(&record.event.body)
            {
                kept.stone = named.stone;
                kept.customer = Some(named.customer);
            }
            if let Some(readings) = read_readings(&record) {
                kept.readings.push(KeptReadingsDoc {
                    at: record.at.to_string(),
                    file: readings.file,
                    fingerprint: readings.fingerprint,
                    by: readings.by,
                    photos: readings
                        .photos
                        .into_iter()
                        .map(|photo| PhotoDoc {
                            name: photo.name,
                            sha256: photo.sha256,
                        })
                        .collect(),
                });
            }
            if let Some((at, card)) = read_card(&record)? {
                kept.cards.push(KeptCardDoc {
                    at: at.to_string(),
                    market: card.market.clone(),
                    market_name: card.said("/market/name"),
                    title: card.said("/title"),
                    fingerprint: card.fingerprint.clone(),
                    readings: card.readings.clone(),
                    version: card.version.clone(),
                });
            }
        }
        Ok(kept)
    }
}

fn event(kind: &str, body: &impl Serialize) -> Result<NewEvent, JobError> {
    Ok(NewEvent {
        kind: kind.to_owned(),
        body: serde_json::to_string(body)?,
    })
}

fn read_readings(record: &EventRecord) -> Option<KeptReadings> {
    let ours = record.event.kind == READINGS_KIND;
    ours.then(|| serde_json::from_str(&record.event.body).ok())?
}

fn read_card(record: &EventRecord) -> Result<Option<(Timestamp, PrintedCard)>, JobError> {
    if record.event.kind != CARD_KIND {
        return Ok(None);
    }
    let card = serde_json::from_str(&record.event.body).map_err(|_| JobError::CardChanged)?;
    Ok(Some((record.at, card)))
}

fn nothing_kept(why: &str) -> JobError {
    StoreError::new(StoreFault::NoStone, why).into()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::counter::CounterStone;
    use opal_grade::{Found, Observation, SoakFacts};

    #[test]
    fn a_card_that_was_changed_is_not_given_out() {
        let look = Observation {
            id: "edge".to_owned(),
            look: "side-view".to_owned(),
            found: Found::Word("straight-join".to_owned()),
            by: None,
            at: None,
        };
        let at = AtTheCounter::new(CounterStone {
            name: "Ring stone".to_owned(),
            described_as: None,
            weight: None,
            sizes: None,
            observations: vec![look],
            described: Vec::new(),
            notes: Vec::new(),
            weighings: None,
            soak: SoakFacts::default(),
        });
        let doc = at
            .and_then(|at| at.disclosure_doc("australia"))
            .expect("papers");
        let mut card = PrintedCard::new(&doc, "readings", b"%PDF-").expect("kept");
        assert_eq!(card.bytes().expect("its own"), b"%PDF-");
        assert_eq!(card.said("/market/name"), "Australia");
        card.bytes = STANDARD.encode(b"%PDF-2");
        assert!(matches!(card.bytes(), Err(JobError::CardChanged)));
    }
}
