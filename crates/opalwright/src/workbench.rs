//! The workbench of the browser, on the same use cases as the command line.

use crate::commands::entries_csv;
use opal_evidence::{Fault, Faults};
use opal_finish::DryingError;
use opal_job::{
    Bench, EvidenceFile, HeldInsides, Job, JobError, MeshFile, NoProgress, Opened, Paper, Period,
    PricesInForce, Progress, SheetPrint, Stage, StoneNo, StoneRecord, StoreError, StoreFault,
    Syntax, TakeIn,
};
use opal_report::books::{BooksPaper, books};
use opal_report::json::{SlipDoc, WishesDoc, form_key};
use opal_server::{
    BidView, Download, Forecast, NamedFile, PlanView, PriceBookText, PriceLook, Scene, StoneCard,
    StoneNumber, StonePage, Watch, Workbench, WorkbenchError,
};
use opal_stone::{GridChoice, Stone};
use opal_units::Money;
use serde_json::Value;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError, TryLockError};

/// Jobs whose results stay in memory. Chosen: because a thousand insides of one
/// stone take a quarter of a gigabyte, and a cutter looks at one stone and
/// perhaps compares it with another.
const N_JOBS_KEPT: usize = 2;

/// A stone's job, held while somebody works with it.
type SharedJob = Arc<Mutex<Job>>;

/// The workbench on a bench.
pub(crate) struct BenchWorkbench {
    pub(crate) bench: Bench,
    /// The most recent first.
    jobs: Mutex<Vec<(StoneNo, SharedJob)>>,
    /// Held while an event is checked against those before it, and added.
    logging: Mutex<()>,
    /// The insides of the stone at the wheel, held between events.
    insides: Mutex<HeldInsides>,
    /// Held while photos are looked at.
    tracing: Mutex<()>,
    /// The bids on all lots, with the fingerprint of what they rest on.
    lots: Mutex<Option<(String, Value)>>,
}

fn locked<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    // A job whose work panicked keeps only results that were finished.
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

/// The job, unless somebody works on it.
fn at_rest(job: &Mutex<Job>) -> Option<MutexGuard<'_, Job>> {
    match job.try_lock() {
        Ok(held) => Some(held),
        Err(TryLockError::Poisoned(held)) => Some(held.into_inner()),
        Err(TryLockError::WouldBlock) => None,
    }
}

pub(crate) fn job_error(error: JobError) -> WorkbenchError {
    match error {
        JobError::Store(error) => store_error(error),
        JobError::Faults(faults) => WorkbenchError::Faults(faults),
        JobError::Weighing(error) => {
            WorkbenchError::Faults(Fault::new("weighing", "in water", error.to_string()).into())
        }
        JobError::Drying(why) => WorkbenchError::Faults(Faults::from(match why {
            DryingError::TooFew(n) => {
                Fault::new("weights", n, "at least 3 on different days are needed")
            }
            DryingError::Order(k) => {
                let limit = "each must be on a later day than the one before";
                Fault::new(format!("weights[{k}]"), "out of order", limit)
            }
        })),
        JobError::Cancelled => WorkbenchError::Cancelled,
        JobError::NoSuchPlan { .. } => WorkbenchError::NotFound(error.to_string()),
        JobError::Pooling(_)
        | JobError::Score(_)
        | JobError::Draws(_)
        | JobError::Document(_)
        | JobError::Sheet(_)
        | JobError::Card(_) => WorkbenchError::Internal(error.to_string()),
        JobError::Interior(_)
        | JobError::Plan(_)
        | JobError::Price(_)
        | JobError::Bid(_)
        | JobError::Tender(_)
        | JobError::Sales(_)
        | JobError::Waiting(_)
        | JobError::Money(_)
        | JobError::Now(_)
        | JobError::Disclose(_)
        | JobError::NothingLookedAt
        | JobError::CardChanged
        | JobError::Finish(_) => WorkbenchError::NotNow(error.to_string()),
    }
}

/// Faults of what was typed on a form, which has fields and no lines.
fn on_a_form(faults: Faults) -> Faults {
    let placeless = |fault| Fault {
        file: None,
        line: None,
        ..fault
    };
    Faults(faults.0.into_iter().map(placeless).collect())
}

fn store_error(error: StoreError) -> WorkbenchError {
    match error.fault {
        StoreFault::NoStone => WorkbenchError::NotFound(error.message),
        StoreFault::Exists => {
            WorkbenchError::Faults(Fault::new("piece.name", "taken", error.message).into())
        }
        _ => WorkbenchError::Store(error.message),
    }
}

/// Tells the page what the job is doing, as a share of the whole.
struct Told<'a>(&'a dyn Watch);

impl Progress for Told<'_> {
    fn at(&self, stage: Stage, share: f64) {
        // How much of the whole each stage takes, by measurement on the
        // examples, roughly: only the bar on the page hangs on it.
        let (start, length) = match stage {
            Stage::Evidence | Stage::Stone => (0.0, 0.05),
            Stage::Interiors => (0.05, 0.35),
            Stage::Plans => (0.4, 0.58),
            Stage::Bid | Stage::Sheet => (0.98, 0.02),
            Stage::Lots => (0.0, 1.0),
        };
        self.0.at(stage.words(), start + length * share);
    }

    fn cancelled(&self) -> bool {
        self.0.cancelled()
    }
}

pub(crate) fn document_value(document: &impl serde::Serialize) -> Result<Value, WorkbenchError> {
    serde_json::to_value(document).map_err(|error| WorkbenchError::Internal(error.to_string()))
}

impl BenchWorkbench {
    pub(crate) fn new(bench: Bench) -> Self {
        Self {
            bench,
            jobs: Mutex::default(),
            logging: Mutex::default(),
            tracing: Mutex::default(),
            insides: Mutex::default(),
            lots: Mutex::default(),
        }
    }

    fn open(&self, stone: StoneNumber) -> Result<Opened, WorkbenchError> {
        self.bench.open_number(StoneNo(stone)).map_err(job_error)
    }

    /// The stone's job, as it was left.
    fn job(&self, stone: StoneNumber, opened: &Opened) -> Result<SharedJob, WorkbenchError> {
        let no = StoneNo(stone);
        let mut jobs = locked(&self.jobs);
        let job = match jobs.iter().position(|(there, _)| *there == no) {
            Some(place) => jobs.remove(place).1,
            None => {
                let prices = self.bench.prices().map_err(job_error)?;
                let ask = self.bench.usual_ask(no).map_err(job_error)?;
                let job = self.bench.job(opened, &prices, ask);
                Arc::new(Mutex::new(job.map_err(job_error)?))
            }
        };
        jobs.insert(0, (no, Arc::clone(&job)));
        jobs.truncate(N_JOBS_KEPT);
        Ok(job)
    }

    /// Brings a job up to date with the store; results that still hold are kept.
    fn refresh(&self, job: &mut Job, opened: &Opened) -> Result<(), WorkbenchError> {
        let prices = self.bench.prices().map_err(job_error)?;
        job.set_evidence(opened.evidence.clone());
        job.set_settings(prices.settings);
        job.set_origin(self.bench.origin_prior_of(opened).map_err(job_error)?);
        if let Some(record) = &opened.record {
            let ask = self.bench.usual_ask(record.no).map_err(job_error)?;
            job.set_ask(ask).map_err(job_error)?;
        }
        Ok(())
    }

    /// The job where its answer is there and still holds. A job that is being
    /// worked on is not waited for: its answer is not there yet.
    fn finished(&self, stone: StoneNumber) -> Result<Option<SharedJob>, WorkbenchError> {
        let opened = self.open(stone)?;
        let there = locked(&self.jobs)
            .iter()
            .any(|(no, _)| *no == StoneNo(stone));
        if !there {
            return Ok(None);
        }
        let job = self.job(stone, &opened)?;
        let fresh = match at_rest(&job) {
            Some(mut held) => {
                self.refresh(&mut held, &opened)?;
                held.stale().is_empty()
            }
            None => false,
        };
        Ok(fresh.then_some(job))
    }

    /// The stone as a solid, and whether the forecast is there. While the
    /// forecast is being worked out the solid is built beside it, so that the
    /// page need not wait.
    fn solid(
        &self,
        stone: StoneNumber,
        opened: &Opened,
    ) -> Result<(Arc<Stone>, bool), WorkbenchError> {
        let job = self.job(stone, opened)?;
        match at_rest(&job) {
            Some(mut held) => {
                self.refresh(&mut held, opened)?;
                let solid = held.stone(&NoProgress).map_err(job_error)?;
                Ok((solid, held.stale().is_empty()))
            }
            None => {
                let solid = Stone::from_evidence(&opened.evidence, GridChoice::Auto)
                    .map_err(WorkbenchError::Faults)?;
                Ok((Arc::new(solid), false))
            }
        }
    }

    fn must_be_finished(&self, stone: StoneNumber) -> Result<SharedJob, WorkbenchError> {
        self.finished(stone)?.ok_or_else(|| {
            WorkbenchError::NotNow("work the forecast out first; it is not there yet".to_owned())
        })
    }

    fn card(
        &self,
        record: &StoneRecord,
        opened: &Opened,
        prices: &PricesInForce,
    ) -> Result<StoneCard, WorkbenchError> {
        let piece = &opened.evidence.piece;
        let (bid, chance_of_loss) = self.kept_bid(record, opened, prices)?;
        Ok(StoneCard {
            number: record.no.0,
            name: record.name.clone(),
            form: form_key(piece.form).to_owned(),
            origin: piece.origin.clone(),
            weight_ct: piece.weight.map(opal_units::Mass::carats),
            taken_in: record.taken_in.to_string(),
            asking: piece.asking.map(Into::into),
            bid,
            chance_of_loss,
            invented: record.invented,
        })
    }

    /// The bid that was kept for exactly this evidence and these prices.
    fn kept_bid(
        &self,
        record: &StoneRecord,
        opened: &Opened,
        prices: &PricesInForce,
    ) -> Result<(Option<opal_server::Amount>, Option<f64>), WorkbenchError> {
        let ask = self.bench.usual_ask(record.no).map_err(job_error)?;
        let inputs = self.bench.inputs(opened, prices, &ask).map_err(job_error)?;
        let kept = self
            .bench
            .ports()
            .store
            .last_run(record.no, "bid", &inputs)
            .map_err(store_error)?;
        let Some(kept) = kept.and_then(|run| serde_json::from_str::<Value>(&run.run.output).ok())
        else {
            return Ok((None, None));
        };
        let text = |field: &str| kept["bid"][field].as_str().map(str::to_owned);
        let bid = text("amount")
            .zip(text("currency"))
            .map(|(amount, currency)| opal_server::Amount { amount, currency });
        Ok((bid, kept["chance_of_loss"].as_f64()))
    }
}

/// The document of the page as an evidence file.
fn evidence_file(evidence: &Value, files: &[NamedFile]) -> EvidenceFile {
    EvidenceFile {
        file_name: "evidence.json".to_owned(),
        syntax: Syntax::Json,
        text: format!("{evidence:#}\n"),
        meshes: files
            .iter()
            .map(|file| MeshFile {
                name: file.name.clone(),
                bytes: file.bytes.clone(),
            })
            .collect(),
    }
}

/// The file's own document as JSON, for the page's form.
fn document(opened: &Opened) -> Value {
    match opened.file.syntax {
        Syntax::Json => serde_json::from_str(&opened.file.text).unwrap_or(Value::Null),
        Syntax::Toml => opal_files::evidence_to_json(&opened.evidence),
    }
}

/// A period as the end of a file's name.
fn ending(period: Option<&str>) -> String {
    period.map_or_else(String::new, |period| format!("-{period}"))
}

/// The days that count, as the page names them.
fn days(period: Option<&str>) -> Result<Period, WorkbenchError> {
    period.map_or(Ok(Period::default()), |text| {
        Period::parse(text).map_err(WorkbenchError::Faults)
    })
}
mod dealing;
mod devices;
pub(crate) use devices::SETTINGS_OF_THIS_BENCH;
mod housekeeping;
mod studies;
mod tracing;
mod wheel;

impl Workbench for BenchWorkbench {
    fn stones(&self) -> Result<Vec<StoneCard>, WorkbenchError> {
        let prices = self.bench.prices().map_err(job_error)?;
        let mut cards = Vec::new();
        let mut stones = self.bench.stones().map_err(job_error)?;
        stones.reverse();
        for record in stones {
            let opened = self.open(record.no.0)?;
            cards.push(self.card(&record, &opened, &prices)?);
        }
        Ok(cards)
    }

    fn take_in(
        &self,
        evidence: &Value,
        files: &[NamedFile],
    ) -> Result<StoneNumber, WorkbenchError> {
        let opened = self
            .bench
            .take_in(
                evidence_file(evidence, files),
                &TakeIn::New { invented: false },
            )
            .map_err(job_error)?;
        opened.record.map(|record| record.no.0).ok_or_else(|| {
            WorkbenchError::Internal("the stone was taken in without a record".to_owned())
        })
    }

    fn take_in_again(
        &self,
        stone: StoneNumber,
        evidence: &Value,
        files: &[NamedFile],
    ) -> Result<(), WorkbenchError> {
        let mut file = evidence_file(evidence, files);
        // A scan that stands in the store need not be sent again.
        for mesh in self.open(stone)?.file.meshes {
            if file.meshes.iter().all(|there| there.name != mesh.name) {
                file.meshes.push(mesh);
            }
        }
        self.bench
            .take_in(file, &TakeIn::Again(StoneNo(stone)))
            .map(|_| ())
            .map_err(job_error)
    }

    fn stone(&self, stone: StoneNumber) -> Result<StonePage, WorkbenchError> {
        let opened = self.open(stone)?;
        let record = opened
            .record
            .clone()
            .ok_or_else(|| WorkbenchError::Internal("a stone without a record".to_owned()))?;
        let (solid, forecast_ready) = self.solid(stone, &opened)?;
        let prices = self.bench.prices().map_err(job_error)?;
        Ok(StonePage {
            card: self.card(&record, &opened, &prices)?,
            wishes: document_value(&self.bench.wishes(record.no).map_err(job_error)?)?,
            evidence: document(&opened),
            scene: Scene::new(&solid, None, &opened.evidence),
            check: solid.check.as_ref().map(|check| check.verdict.clone()),
            notes: solid.notes.clone(),
            forecast_ready,
        })
    }

    fn set_wishes(&self, stone: StoneNumber, wishes: &Value) -> Result<(), WorkbenchError> {
        let wishes: WishesDoc = serde_json::from_value(wishes.clone()).map_err(|error| {
            WorkbenchError::Faults(Fault::new("wishes", "not readable", error.to_string()).into())
        })?;
        self.bench
            .set_wishes(StoneNo(stone), &wishes)
            .map_err(job_error)
    }

    fn run(&self, stone: StoneNumber, watch: &dyn Watch) -> Result<(), WorkbenchError> {
        let opened = self.open(stone)?;
        let job = self.job(stone, &opened)?;
        let mut job = locked(&job);
        self.refresh(&mut job, &opened)?;
        let told = Told(watch);
        let plan = job.plan_doc(&told).map_err(job_error)?;
        let bid = job.bid_doc(&told).map_err(job_error)?;
        let prices = self.bench.prices().map_err(job_error)?;
        let inputs = self.bench.inputs(&opened, &prices, job.ask());
        let inputs = inputs.map_err(job_error)?;
        let texts = [
            ("plan", serde_json::to_string(&plan)),
            ("bid", serde_json::to_string(&bid)),
        ];
        for (what, output) in texts {
            let output = output.map_err(|error| WorkbenchError::Internal(error.to_string()))?;
            self.bench
                .keep(&opened, what, &inputs, job.ask(), &output)
                .map_err(job_error)?;
        }
        Ok(())
    }

    fn forecast(&self, stone: StoneNumber) -> Result<Option<Forecast>, WorkbenchError> {
        let Some(job) = self.finished(stone)? else {
            return Ok(None);
        };
        let mut job = locked(&job);
        let solid = job.stone(&NoProgress).map_err(job_error)?;
        let interiors = job.interiors(&NoProgress).map_err(job_error)?;
        let plans = job.plans(&NoProgress).map_err(job_error)?;
        let answer = job.bid(&NoProgress).map_err(job_error)?;
        Ok(Some(Forecast {
            format: opal_server::FORMAT,
            seed: job.ask().seed.0,
            n_interiors: job.ask().n_interiors,
            currency: job.settings().currency().code().to_owned(),
            prices_invented: job.settings().prices_invented(),
            bid: BidView::new(&answer.bid, &answer.limits, answer.sentence.clone()),
            plans: plans
                .plans
                .iter()
                .enumerate()
                .map(|(k, plan)| PlanView::new(plan, Some(plans.mean_cost[k]), plans.price_by[k]))
                .collect(),
            scene: Scene::new(&solid, Some(&interiors), job.evidence()),
            rests_on: answer.rests_on.clone(),
            warnings: answer.warnings.clone(),
        }))
    }

    fn at_price(&self, stone: StoneNumber, amount: &str) -> Result<PriceLook, WorkbenchError> {
        let job = self.must_be_finished(stone)?;
        let mut job = locked(&job);
        let price = Money::parse(amount, job.settings().currency()).map_err(|error| {
            WorkbenchError::Faults(Faults::from(Fault::new(
                "amount",
                format!("'{amount}'"),
                error.to_string(),
            )))
        })?;
        let worst_share = job.settings().limits.worst_share;
        let at = job.at_price(price, &NoProgress).map_err(job_error)?;
        Ok(PriceLook::new(price, &at.gain, worst_share))
    }

    fn sheet(&self, stone: StoneNumber, plan: usize) -> Result<Download, WorkbenchError> {
        let opened = self.open(stone)?;
        let job = self.must_be_finished(stone)?;
        let mut job = locked(&job);
        let now = self.bench.ports().clock.now().to_string();
        let invented = opened.record.is_some_and(|record| record.invented);
        let wheels = self.bench.wheels().map_err(job_error)?;
        let bytes = job
            .sheet_pdf(
                plan,
                &SheetPrint {
                    wheels: &wheels,
                    paper: Paper::A4,
                    date: now.get(..10).unwrap_or(&now),
                    invented,
                },
                &NoProgress,
            )
            .map_err(job_error)?;
        Ok(Download {
            name: format!(
                "{}-sheet-{}.pdf",
                crate::commands::file_stem(&job.evidence().piece.name),
                plan + 1
            ),
            media_type: "application/pdf",
            bytes,
        })
    }

    fn export(&self, stone: StoneNumber) -> Result<Download, WorkbenchError> {
        let file = self
            .bench
            .export_number(StoneNo(stone))
            .map_err(job_error)?;
        Ok(Download {
            name: format!("{}.opalwright.json", crate::commands::file_stem(&file.name)),
            media_type: "application/json",
            bytes: file.to_text().into_bytes(),
        })
    }

    fn scan(&self, stone: StoneNumber) -> Result<Option<Arc<opal_geom::TriMesh>>, WorkbenchError> {
        let opened = self.open(stone)?;
        let (solid, _) = self.solid(stone, &opened)?;
        Ok(solid.mesh.clone())
    }

    fn ledger(&self, period: Option<&str>) -> Result<Value, WorkbenchError> {
        let doc = self.bench.ledger_doc(days(period)?);
        document_value(&doc.map_err(job_error)?)
    }

    fn entries(&self, period: Option<&str>) -> Result<Value, WorkbenchError> {
        let doc = self.bench.entries_doc(days(period)?);
        document_value(&doc.map_err(job_error)?)
    }

    fn ledger_pdf(&self, period: Option<&str>, held: bool) -> Result<Download, WorkbenchError> {
        let doc = self.bench.ledger_doc(days(period)?).map_err(job_error)?;
        let (which, name) = if held {
            (BooksPaper::Held, "held")
        } else {
            (BooksPaper::Report, "books")
        };
        let bytes = books(&doc, which, Paper::A4)
            .map_err(|error| WorkbenchError::Internal(error.to_string()))?;
        Ok(Download {
            name: format!("{name}{}.pdf", ending(period)),
            media_type: "application/pdf",
            bytes,
        })
    }

    fn entries_csv(&self, period: Option<&str>) -> Result<Download, WorkbenchError> {
        let doc = self.bench.entries_doc(days(period)?).map_err(job_error)?;
        Ok(Download {
            name: format!("entries{}.csv", ending(period)),
            media_type: "text/csv; charset=utf-8",
            bytes: entries_csv(&doc).into_bytes(),
        })
    }

    fn book(&self, slips: &Value, after: Option<u64>) -> Result<Value, WorkbenchError> {
        let slips: Vec<SlipDoc> = serde_json::from_value(slips.clone()).map_err(|error| {
            let limit = format!("it must be a list of slips: {error}");
            WorkbenchError::Faults(Fault::new("slips", "not readable", limit).into())
        })?;
        let booked = match after {
            Some(after) => self.bench.book_after(&slips, after),
            None => self.bench.book(&slips),
        };
        document_value(&booked.map_err(job_error)?)
    }

    fn price_book(&self) -> Result<PriceBookText, WorkbenchError> {
        let prices = self.bench.prices().map_err(job_error)?;
        Ok(PriceBookText {
            text: prices.text,
            fields: self.bench.prices_document().map_err(job_error)?,
            example: prices.example,
            currency: prices.settings.currency().code().to_owned(),
        })
    }

    fn change_price_book(&self, changes: &[(String, Option<Value>)]) -> Result<(), WorkbenchError> {
        self.bench
            .change_prices(changes)
            .map(|_| ())
            .map_err(job_error)
    }

    fn set_price_book(&self, text: &str) -> Result<(), WorkbenchError> {
        self.bench
            .set_prices("prices.toml", text)
            .map(|_| ())
            .map_err(job_error)
    }
}
