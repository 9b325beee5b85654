//! The made-up bench traces a square, whatever the photo, and keeps no wheels.

use super::MadeUpBench;
use opal_evidence::Fault;
use opal_server::{
    BarForm, Download, Housekeeping, Imported, NamedFile, TraceForm, Tracing, WheelsPage,
    WorkbenchError,
};
use serde_json::{Value, json};

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
}
