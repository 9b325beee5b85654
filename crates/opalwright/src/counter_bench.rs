//! The counter of the browser, on the same use cases as the command line.

use crate::commands::file_stem;
use crate::readings_argument;
use crate::workbench::{BenchWorkbench, document_value, job_error};
use opal_job::{AtTheCounter, JobError, Paper, Photo, PrintedCard, ReadingsTaken, StoneNo, Whose};
use opal_report::text::PaperKind;
use opal_server::{Counter, Download, KeepWith, NamedFile, StoneNumber, WorkbenchError};
use serde_json::{Value, json};

/// What readings from the page are called.
const FILE: &str = "readings.json";

/// The stone on the counter, weighed and identified.
fn counter(readings: &Value, photos: &[Photo]) -> Result<AtTheCounter, WorkbenchError> {
    readings_argument::counter(FILE, &text(readings), photos).map_err(job_error)
}

/// Readings from the page as the text that is kept: the same readings, the same text.
fn text(readings: &Value) -> String {
    format!("{readings:#}\n")
}

/// The paper that printers hold where the market is.
fn paper_of(market: &str) -> Paper {
    match market {
        "united-states" => Paper::Letter,
        _ => Paper::A4,
    }
}

fn pdf(name: &str, bytes: Vec<u8>) -> Download {
    Download {
        name: format!("{}-card.pdf", file_stem(name)),
        media_type: "application/pdf",
        bytes,
    }
}

impl Counter for BenchWorkbench {
    fn looks(&self) -> Value {
        let looks = &opal_reference::identity::identity().looks;
        looks
            .iter()
            .map(|look| {
                let values: Vec<Value> = look
                    .values
                    .iter()
                    .map(|value| json!({ "key": value.key, "name": value.name }))
                    .collect();
                json!({
                    "key": look.key,
                    "name": look.name,
                    "question": look.question,
                    "values": values,
                })
            })
            .collect()
    }

    fn identify(&self, readings: &Value) -> Result<Value, WorkbenchError> {
        document_value(&counter(readings, &[])?.identity_doc())
    }

    fn weigh(&self, readings: &Value) -> Result<Value, WorkbenchError> {
        let weighed = counter(readings, &[])?.weighing_doc();
        document_value(&weighed.map_err(job_error)?)
    }

    fn papers(&self, readings: &Value, market: &str) -> Result<Value, WorkbenchError> {
        let doc = counter(readings, &[])?.disclosure_doc(market);
        document_value(&doc.map_err(job_error)?)
    }

    fn look_over_words(
        &self,
        readings: &Value,
        market: &str,
        text: &str,
    ) -> Result<Value, WorkbenchError> {
        let doc = counter(readings, &[])?.wording_doc(market, text);
        document_value(&doc.map_err(job_error)?)
    }

    fn card(
        &self,
        readings: &Value,
        market: &str,
        kept_with: Option<StoneNumber>,
    ) -> Result<Download, WorkbenchError> {
        let doc = counter(readings, &[])?
            .disclosure_doc(market)
            .map_err(job_error)?;
        let bytes = opal_report::card::paper_pdf(&doc, PaperKind::Card, paper_of(market))
            .map_err(|error| WorkbenchError::Internal(error.to_string()))?;
        if let Some(stone) = kept_with {
            PrintedCard::new(&doc, &text(readings), &bytes)
                .and_then(|card| self.bench.keep_card(StoneNo(stone), &card))
                .map_err(job_error)?;
        }
        Ok(pdf(&doc.stone, bytes))
    }

    fn keep_readings(
        &self,
        readings: &Value,
        whose: &KeepWith,
        photos: &[NamedFile],
    ) -> Result<StoneNumber, WorkbenchError> {
        let photos: Vec<Photo> = photos
            .iter()
            .map(|file| Photo {
                name: file.name.clone(),
                bytes: file.bytes.clone(),
            })
            .collect();
        let at = counter(readings, &photos)?;
        let text = text(readings);
        let taken = ReadingsTaken {
            file: FILE,
            text: &text,
            at: &at,
            photos: &photos,
        };
        let keep = || -> Result<StoneNo, JobError> {
            let no = match whose {
                KeepWith::Stone { stone } => StoneNo(*stone),
                KeepWith::Customer { customer } => self.bench.stone_of(Whose::Customer {
                    customer,
                    stone: &at.stone.name,
                })?,
            };
            self.bench.keep_readings(no, &taken)?;
            Ok(no)
        };
        keep().map(|no| no.0).map_err(job_error)
    }

    fn kept(&self, words: Option<&str>) -> Result<Value, WorkbenchError> {
        document_value(&self.bench.kept(words).map_err(job_error)?)
    }

    fn kept_readings(&self, stone: StoneNumber, mark: &str) -> Result<Value, WorkbenchError> {
        let kept = self.bench.kept_readings(StoneNo(stone), mark);
        let (file, text) = kept.map_err(job_error)?;
        opal_files::readings_to_json(&file, &text)
            .map_err(|faults| job_error(JobError::from(faults)))
    }

    fn kept_card(&self, stone: StoneNumber, mark: &str) -> Result<Download, WorkbenchError> {
        let card = self
            .bench
            .kept_card(StoneNo(stone), mark)
            .map_err(job_error)?;
        let bytes = card.bytes().map_err(job_error)?;
        Ok(pdf(&card.stone(), bytes))
    }

    fn kept_photo(&self, stone: StoneNumber, sha256: &str) -> Result<Download, WorkbenchError> {
        let photo = self.bench.ports().store.photo(StoneNo(stone), sha256);
        let photo = photo.map_err(|error| job_error(error.into()))?;
        Ok(Download {
            media_type: photo.media_type().unwrap_or("application/octet-stream"),
            name: photo.name,
            bytes: photo.bytes,
        })
    }
}
