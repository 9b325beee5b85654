//! The made-up bench traces a square, whatever the photo, keeps no wheels, takes for a
//! copy what begins as one, and studies nothing.

use super::MadeUpBench;
use opal_evidence::Fault;
use opal_server::{
    BarForm, CopyView, Download, HoldingsView, Housekeeping, Imported, NamedFile, PutBack, Studies,
    StudyForm, StudyFound, TraceForm, Tracing, Watch, WheelsPage, WorkbenchError,
};
use serde_json::{Value, json};
use std::path::Path;

impl Tracing for MadeUpBench {
    fn trace(&self, form: &TraceForm, photos: &[NamedFile]) -> Result<Value, WorkbenchError> {
        if !photos.iter().any(|photo| photo.name == "top") {
            let fault = Fault::new("photo 'top'", "missing", "it must be there");
            return Err(WorkbenchError::Faults(fault.into()));
        }
        Ok(json!({
            "format": "opalwright-trace/1",
            "outline_mm": [[0, 0], [10, 0], [10, 10], [0, 10]],
            "height_mm": form.height_mm.map(|value| json!({ "value": value, "sigma": 0.2 })),
        }))
    }

    fn trace_bar(&self, form: &BarForm, photos: &[NamedFile]) -> Result<Value, WorkbenchError> {
        if !photos.iter().any(|photo| photo.name == "side") {
            let fault = Fault::new("photo 'side'", "missing", "it must be there");
            return Err(WorkbenchError::Faults(fault.into()));
        }
        Ok(json!({ "format": "opalwright-bar-trace/1", "upper_px": form.upper_px }))
    }

    fn scale_card(&self, _: bool) -> Result<Download, WorkbenchError> {
        Ok(Download {
            name: "scale-card.pdf".to_owned(),
            media_type: "application/pdf",
            bytes: b"%PDF-1.7".to_vec(),
        })
    }
}

impl Housekeeping for MadeUpBench {
    fn wheels(&self) -> Result<WheelsPage, WorkbenchError> {
        Ok(WheelsPage {
            set: json!({ "format": "opalwright-wheel-set/1", "own": false, "wheels": [] }),
            file: json!({ "format": "opalwright-wheels/1" }),
            currency: "AUD".to_owned(),
        })
    }

    fn set_wheels(&self, fields: &Value) -> Result<(), WorkbenchError> {
        if fields["title"].is_string() {
            return Ok(());
        }
        let fault = Fault::new("title", "missing", "it must be there");
        Err(WorkbenchError::Faults(fault.into()))
    }

    fn copy_of_everything(&self) -> Result<Download, WorkbenchError> {
        Ok(Download {
            name: "copy.db".to_owned(),
            media_type: "application/vnd.sqlite3",
            bytes: b"SQLite format 3\0".to_vec(),
        })
    }

    fn import(&self, file: &NamedFile, under: Option<&str>) -> Result<Imported, WorkbenchError> {
        let added = under.is_none() && !file.bytes.is_empty();
        Ok(Imported { number: 1, added })
    }

    fn look_into_copy(&self, copy: &Path) -> Result<CopyView, WorkbenchError> {
        let length = sent(copy)?;
        let held = |stones| HoldingsView {
            stones,
            entries: 0,
            last: None,
        };
        Ok(CopyView {
            copy: held(length),
            here: held(self.taken.lock().unwrap().len()),
        })
    }

    fn put_back(&self, copy: &Path) -> Result<PutBack, WorkbenchError> {
        let stones = sent(copy)?;
        self.taken.lock().unwrap().clear();
        Ok(PutBack {
            stones,
            kept: "elsewhere".to_owned(),
        })
    }
}

/// The length of a copy that was sent, if it begins as one.
fn sent(copy: &Path) -> Result<usize, WorkbenchError> {
    let bytes = std::fs::read(copy).unwrap();
    if bytes.starts_with(b"SQLite format 3\0") {
        return Ok(bytes.len());
    }
    let fault = Fault::new("copy", "the file", "it must be a copy");
    Err(WorkbenchError::Faults(fault.into()))
}

/// Runs as long as a run of a stone pretends to.
impl Studies for MadeUpBench {
    fn studies(&self) -> Result<Vec<StudyFound>, WorkbenchError> {
        Ok(self.studied.lock().unwrap().clone())
    }

    fn look_over_study(&self, asked: &StudyForm) -> Result<(), WorkbenchError> {
        if asked.stones == Some(0) {
            let fault = Fault::new("stones", 0, "at least 1");
            return Err(WorkbenchError::Faults(fault.into()));
        }
        Ok(())
    }

    fn run_study(&self, asked: &StudyForm, watch: &dyn Watch) -> Result<(), WorkbenchError> {
        for part in 0..20 {
            if watch.cancelled() {
                return Err(WorkbenchError::Cancelled);
            }
            watch.at("drawing possible insides", f64::from(part) / 20.0);
            std::thread::sleep(self.dawdle / 20);
        }
        self.studied.lock().unwrap().push(StudyFound {
            asked: asked.clone(),
            at: "2026-01-02T03:04:05Z".to_owned(),
            version: "0".to_owned(),
            table: "made up\n".to_owned(),
            drawing: "<svg xmlns=\"http://www.w3.org/2000/svg\"/>".to_owned(),
            document: serde_json::json!({ "format": "made up" }),
        });
        Ok(())
    }
}
