//! The use cases: what a person does with stones, on the command line and in
//! the browser alike.

use crate::ask::Ask;
use crate::error::JobError;
use crate::field::FieldLook;
use crate::job::Job;
use crate::parting::withdrawn;
use crate::ports::{Holdings, Ports, StoreError, StoreFault};
use crate::records::{
    EventRecord, EvidenceFile, Imported, NewEvent, NewRun, StoneNo, StoneRecord, fingerprint,
};
use crate::settings::Settings;
use crate::stone_file::StoneFile;
use jiff::Timestamp;
use opal_evidence::{Evidence, Fault, Faults};
use opal_interior::OriginPrior;
use serde_json::{Value, json};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, PoisonError};

/// Key under which the price book's text is kept.
const PRICES_KEY: &str = "prices";

/// Kind of the record of what the books say where a stone came from.
const BOOKS_ELSEWHERE: &str = "books-elsewhere";

/// The version that kept runs carry.
pub const VERSION: &str = env!("CARGO_PKG_VERSION");

/// Middles of planned weights, ct, that were looked up; `None` where none was planned.
type PlannedWeights = Arc<Mutex<BTreeMap<(StoneNo, Timestamp, String), Option<f64>>>>;

/// A bench: the store, the clock and the readers, ready for use cases.
#[derive(Clone)]
pub struct Bench {
    ports: Ports,
    /// What was seen of stones, by mark and revision: evidence is not read again for it.
    looks: Arc<Mutex<BTreeMap<(String, u32), FieldLook>>>,
    /// What old plans forecast, ct, by stone, by when it was described and by its outline.
    pub(crate) planned: PlannedWeights,
}

/// A piece of evidence that was opened: out of the store, or from a file.
#[derive(Clone, Debug, PartialEq)]
pub struct Opened {
    /// Its record, where it stands in the store.
    pub record: Option<StoneRecord>,
    /// The file as it came.
    pub file: EvidenceFile,
    /// What it says.
    pub evidence: Evidence,
}

/// The prices in force.
#[derive(Clone, Debug, PartialEq)]
pub struct PricesInForce {
    /// The text of the price file.
    pub text: String,
    /// True while it is the shipped, invented example.
    pub example: bool,
    /// What it says.
    pub settings: Settings,
}

/// Whether a stone is new, or was taken in before.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum TakeIn {
    /// It is a new stone.
    New {
        /// True for the invented example.
        invented: bool,
    },
    /// Newer evidence of the stone of this number.
    Again(StoneNo),
}

impl Bench {
    /// A bench on these ports.
    #[must_use]
    pub fn new(ports: Ports) -> Self {
        Self {
            ports,
            looks: Arc::default(),
            planned: Arc::default(),
        }
    }

    /// The ports.
    #[must_use]
    pub fn ports(&self) -> &Ports {
        &self.ports
    }

    /// Looks a file over without storing anything.
    ///
    /// # Errors
    /// All that is wrong with it.
    pub fn look_over(&self, file: EvidenceFile) -> Result<Opened, JobError> {
        let evidence = self.ports.reader.read(&file)?;
        Ok(Opened {
            record: None,
            file,
            evidence,
        })
    }

    /// Takes a stone in: nothing is stored when anything is wrong, the shape
    /// included.
    ///
    /// # Errors
    /// All that is wrong with the evidence; a taken name; the store fails.
    pub fn take_in(&self, file: EvidenceFile, how: &TakeIn) -> Result<Opened, JobError> {
        let opened = self.look_over(file)?;
        // A shape that cannot be built is refused at the door.
        opal_stone::Stone::from_evidence(&opened.evidence, opal_stone::GridChoice::Auto)?;
        let now = self.ports.clock.now();
        let store = &self.ports.store;
        let (no, kind) = match how {
            TakeIn::New { invented } => {
                let name = &opened.evidence.piece.name;
                let no = store.add_stone(name, *invented, &opened.file, now)?;
                (no, "taken-in")
            }
            TakeIn::Again(no) => {
                if store.evidence(*no)?.file == opened.file {
                    return Ok(Opened {
                        record: Some(self.record(*no)?),
                        ..opened
                    });
                }
                store.add_evidence(*no, &opened.file, now)?;
                (*no, "evidence-added")
            }
        };
        let body = json!({
            "file": opened.file.file_name,
            "fingerprint": opened.file.fingerprint(),
        });
        store.add_event(
            no,
            &NewEvent {
                kind: kind.to_owned(),
                body: body.to_string(),
            },
            now,
        )?;
        Ok(Opened {
            record: Some(self.record(no)?),
            ..opened
        })
    }

    fn record(&self, no: StoneNo) -> Result<StoneRecord, StoreError> {
        let stones = self.ports.store.stones()?;
        stones
            .into_iter()
            .find(|stone| stone.no == no)
            .ok_or_else(|| {
                StoreError::new(
                    StoreFault::NoStone,
                    format!("there is no stone number {no} in the store"),
                )
            })
    }

    /// All stones, by number; a piece whose cut was undone is none.
    ///
    /// # Errors
    /// The store fails.
    pub fn stones(&self) -> Result<Vec<StoneRecord>, JobError> {
        let store = &self.ports.store;
        let mut stones = store.stones()?;
        let mut gone = Vec::new();
        for stone in &stones {
            if withdrawn(&store.events(stone.no)?) {
                gone.push(stone.no);
            }
        }
        stones.retain(|stone| !gone.contains(&stone.no));
        Ok(stones)
    }

    /// The number of the stone of this name or number.
    ///
    /// # Errors
    /// No such stone; the store fails.
    pub fn number(&self, name_or_no: &str) -> Result<StoneNo, JobError> {
        Ok(self.ports.store.find(name_or_no)?.no)
    }

    /// Opens a stone of the store by its name or number.
    ///
    /// # Errors
    /// No such stone; the store fails; evidence of an older version that this
    /// one refuses.
    pub fn open(&self, name_or_no: &str) -> Result<Opened, JobError> {
        let record = self.ports.store.find(name_or_no)?;
        let file = self.ports.store.evidence(record.no)?.file;
        let evidence = self.ports.reader.read(&file)?;
        Ok(Opened {
            record: Some(record),
            file,
            evidence,
        })
    }

    /// Opens a stone of the store by its number alone.
    ///
    /// # Errors
    /// As [`Bench::open`].
    pub fn open_number(&self, no: StoneNo) -> Result<Opened, JobError> {
        let record = self.record(no)?;
        let file = self.ports.store.evidence(no)?.file;
        let evidence = self.ports.reader.read(&file)?;
        Ok(Opened {
            record: Some(record),
            file,
            evidence,
        })
    }

    /// The prices in force: the cutter's own, or the invented example as long as
    /// there are none.
    ///
    /// # Errors
    /// The store fails; a price book that this version refuses.
    pub fn prices(&self) -> Result<PricesInForce, JobError> {
        let prices = self.price_book()?;
        Ok(PricesInForce {
            settings: self.with_own_sales(prices.settings)?,
            ..prices
        })
    }

    /// The price book alone, before the cutter's own sales correct it.
    pub(crate) fn price_book(&self) -> Result<PricesInForce, JobError> {
        let own = self.ports.store.setting(PRICES_KEY)?;
        let example = own.is_none();
        let text = own.unwrap_or_else(|| self.ports.prices.example().to_owned());
        let settings = self.ports.prices.read("prices.toml", &text)?;
        Ok(PricesInForce {
            text,
            example,
            settings,
        })
    }

    /// All stones, the invented example left out where the cutter has stones
    /// of their own; true where it was not.
    ///
    /// # Errors
    /// The store fails.
    pub(crate) fn rough(&self) -> Result<(Vec<StoneRecord>, bool), JobError> {
        let mut stones = self.stones()?;
        let own = stones.iter().any(|stone| !stone.invented);
        if own {
            stones.retain(|stone| !stone.invented);
        }
        Ok((stones, !own))
    }

    /// Puts the cutter's own price book in force; the older ones stay on record.
    ///
    /// # Errors
    /// All that is wrong with it (nothing is changed then); the store fails.
    pub fn set_prices(&self, file_name: &str, text: &str) -> Result<PricesInForce, JobError> {
        let settings = self.ports.prices.read(file_name, text)?;
        self.ports
            .store
            .set_setting(PRICES_KEY, text, self.ports.clock.now())?;
        Ok(PricesInForce {
            text: text.to_owned(),
            example: false,
            settings,
        })
    }

    /// Changes fields of the price book in force (the example's, where the cutter has
    /// none yet); the rest of the text stays as it was written.
    ///
    /// # Errors
    /// Every path that leads nowhere, all that is wrong with what comes of it (nothing
    /// is changed then); the store fails.
    pub fn change_prices(
        &self,
        changes: &[(String, Option<serde_json::Value>)],
    ) -> Result<PricesInForce, JobError> {
        let text = self
            .ports
            .prices
            .change(&self.price_book()?.text, changes)?;
        self.set_prices("prices.toml", &text)
    }

    /// The price book in force as a document, for a form.
    ///
    /// # Errors
    /// The store fails.
    pub fn prices_document(&self) -> Result<Option<serde_json::Value>, JobError> {
        Ok(self.ports.prices.document(&self.price_book()?.text))
    }

    /// A job on what was opened.
    ///
    /// # Errors
    /// What is asked is out of its range; the store fails.
    pub fn job(&self, opened: &Opened, prices: &PricesInForce, ask: Ask) -> Result<Job, JobError> {
        let mut job = Job::new(opened.evidence.clone(), prices.settings.clone(), ask)?;
        job.set_origin(self.origin_prior_of(opened)?);
        Ok(job)
    }

    /// What the cutter's other stones of the same field say of this one's inside.
    ///
    /// # Errors
    /// The store fails.
    pub fn origin_prior_of(&self, opened: &Opened) -> Result<Option<OriginPrior>, JobError> {
        let itself = opened.record.as_ref().map(|record| record.no);
        self.origin_prior(&opened.evidence, itself)
    }

    /// What was seen of a stone, as it was remembered or as `look` finds it.
    pub(crate) fn remembered(
        &self,
        stone: &StoneRecord,
        look: impl FnOnce() -> Result<FieldLook, JobError>,
    ) -> Result<FieldLook, JobError> {
        let key = (stone.mark.clone(), stone.revisions);
        let there = || self.looks.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(known) = there().get(&key) {
            return Ok(known.clone());
        }
        let found = look()?;
        there().insert(key, found.clone());
        Ok(found)
    }

    /// The fingerprint of everything that an answer rests on.
    ///
    /// # Errors
    /// The store fails.
    pub fn inputs(
        &self,
        opened: &Opened,
        prices: &PricesInForce,
        ask: &Ask,
    ) -> Result<String, JobError> {
        let origin = self.origin_prior_of(opened)?;
        Ok(fingerprint(&[
            opened.file.fingerprint().as_bytes(),
            prices.text.as_bytes(),
            format!("{:?}", prices.settings.sales).as_bytes(),
            format!("{:?}", prices.settings.weights).as_bytes(),
            format!("{origin:?}").as_bytes(),
            format!("{ask:?}").as_bytes(),
            VERSION.as_bytes(),
        ]))
    }

    /// Keeps an answer of a stone in the store, once for the same inputs; does
    /// nothing for evidence that is not in the store.
    ///
    /// # Errors
    /// The store fails.
    pub fn keep(
        &self,
        opened: &Opened,
        what: &str,
        inputs: &str,
        ask: &Ask,
        output: &str,
    ) -> Result<(), JobError> {
        let Some(record) = &opened.record else {
            return Ok(());
        };
        let store = &self.ports.store;
        if store.last_run(record.no, what, inputs)?.is_some() {
            return Ok(());
        }
        let run = NewRun {
            what: what.to_owned(),
            inputs: inputs.to_owned(),
            seed: ask.seed,
            n_interiors: ask.n_interiors as u64,
            version: VERSION.to_owned(),
            output: output.to_owned(),
        };
        Ok(store.add_run(record.no, &run, self.ports.clock.now())?)
    }

    /// A whole stone as a file.
    ///
    /// # Errors
    /// No such stone; the store fails.
    pub fn export(&self, name_or_no: &str) -> Result<StoneFile, JobError> {
        self.whole(self.ports.store.find(name_or_no)?)
    }

    /// A whole stone as a file, by its number alone.
    ///
    /// # Errors
    /// As [`Bench::export`].
    pub fn export_number(&self, no: StoneNo) -> Result<StoneFile, JobError> {
        self.whole(self.record(no)?)
    }

    fn whole(&self, record: StoneRecord) -> Result<StoneFile, JobError> {
        let store = &self.ports.store;
        let no = record.no;
        let evidence = match record.revisions {
            0 => Vec::new(),
            _ => store.evidence_all(no)?,
        };
        let books = self.books_of(&record)?;
        Ok(StoneFile {
            books,
            ..StoneFile::new(
                record,
                evidence,
                store.runs(no)?,
                store.events(no)?,
                store.photos(no)?,
            )
        })
    }

    /// Takes a whole stone out of a file, under another name where one is given.
    /// Never overwrites.
    ///
    /// # Errors
    /// All that is wrong with the file, the evidence in it included; a taken
    /// name; the store fails.
    pub fn import(
        &self,
        file_name: &str,
        text: &str,
        under: Option<&str>,
    ) -> Result<Imported, JobError> {
        let mut stone = StoneFile::from_text(file_name, text)?;
        if let Some(name) = under {
            let name = name.trim();
            if name.is_empty() {
                return Err(
                    Faults::from(Fault::new("name", "empty", "give the stone a name")).into(),
                );
            }
            name.clone_into(&mut stone.name);
        }
        if let Some(last) = stone.evidence.last() {
            self.ports.reader.read(&last.file)?;
        }
        // What other books say is kept as it came, and booked in none of ours: its costs
        // would count twice.
        let books = stone.books.take();
        let strange = match &books {
            Some(books) => !self.has_booked(&stone.mark, books)?,
            None => false,
        };
        if let Some(books) = books.filter(|_| strange) {
            let last = books["entries"]
                .as_array()
                .and_then(|entries| entries.last());
            let recorded = last.and_then(|entry| entry["recorded"].as_str()?.parse().ok());
            stone.events.push(EventRecord {
                // The same however often the file comes.
                at: recorded.unwrap_or(stone.taken_in),
                event: NewEvent {
                    kind: BOOKS_ELSEWHERE.to_owned(),
                    body: books.to_string(),
                },
            });
        }
        Ok(self.ports.store.import(&stone)?)
    }

    /// Whether those entries of a stone's file are this bench's own: the file was saved
    /// here, and its books are no others.
    fn has_booked(&self, mark: &str, books: &Value) -> Result<bool, JobError> {
        let stones = self.ports.store.stones()?;
        let Some(here) = stones.into_iter().find(|stone| stone.mark == mark) else {
            return Ok(false);
        };
        let own = self.books_of(&here)?;
        // A number is given once, at a moment; what was said of an entry since may differ.
        let entries = |books: &Value| -> Vec<(Value, Value)> {
            let all = books["entries"].as_array().into_iter().flatten();
            all.map(|entry| (entry["number"].clone(), entry["recorded"].clone()))
                .collect()
        };
        let own = own.as_ref().map(entries).unwrap_or_default();
        Ok(entries(books).iter().all(|entry| own.contains(entry)))
    }

    /// Copies the whole store to a new file while it is in use.
    ///
    /// # Errors
    /// The file exists or cannot be written.
    pub fn backup(&self, to: &Path) -> Result<(), JobError> {
        Ok(self.ports.store.backup(to)?)
    }

    /// What stands here, and what a backup would put in its place.
    ///
    /// # Errors
    /// The backup cannot be used.
    pub fn look_into_backup(&self, from: &Path) -> Result<(Holdings, Holdings), JobError> {
        let store = &self.ports.store;
        Ok((store.holdings()?, store.holdings_of(from)?))
    }

    /// Puts a backup in place of everything; gives the path of the copy that was
    /// kept of what stood there. `here` names settings that belong to this bench and
    /// not to its records: they stay as they are.
    ///
    /// # Errors
    /// The backup cannot be used; nothing is changed then.
    pub fn restore(&self, from: &Path, here: &[&str]) -> Result<PathBuf, JobError> {
        let (store, now) = (&self.ports.store, self.ports.clock.now());
        let mut stay = Vec::new();
        for key in here {
            stay.push((*key, store.setting(key)?));
        }
        let kept = store.restore(from, now)?;
        for (key, text) in stay {
            if store.setting(key)? != text {
                store.set_setting(key, text.as_deref().unwrap_or_default(), now)?;
            }
        }
        Ok(kept)
    }
}
