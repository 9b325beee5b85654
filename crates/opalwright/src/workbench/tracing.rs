//! The workbench tracing photos, on the use cases of `trace` and `scale-card`.

use super::{BenchWorkbench, document_value, job_error, locked};
use opal_evidence::{Fault, Faults};
use opal_files::read_picture;
use opal_job::{JobError, Paper, PhotoToTrace, ScaleBy, TraceAsk};
use opal_photo::Picture;
use opal_report::scale_card::scale_card_pdf;
use opal_server::{Download, NamedFile, TraceForm, TraceScale, Tracing, WorkbenchError};
use opal_units::Length;
use serde_json::Value;

/// Most points of an outline that was corrected; evidence takes as many.
const POINTS_MAX: usize = 5000;

impl Tracing for BenchWorkbench {
    fn trace(&self, form: &TraceForm, photos: &[NamedFile]) -> Result<Value, WorkbenchError> {
        // A photo takes a few hundred megabytes while it is looked at: one at a time.
        let _turn = locked(&self.tracing);
        let mut faults = Vec::new();
        let top = picture(photos, "top", &mut faults);
        if top.is_none() && faults.is_empty() {
            let limit = "the form must carry it as a file called 'top'";
            faults.push(Fault::new("photo 'top'", "missing", limit));
        }
        let side = picture(photos, "side", &mut faults);
        let top_scale = scale(&form.top, "top", &mut faults);
        let side_scale = scale(&form.side, "side", &mut faults);
        let n = form.corrected_px.as_ref().map_or(3, Vec::len);
        if !(3..=POINTS_MAX).contains(&n) {
            let limit = format!("it must have 3 to {POINTS_MAX} points");
            faults.push(Fault::new("the outline", format!("of {n} points"), limit));
        }
        let (Some(top), true) = (&top, faults.is_empty()) else {
            return Err(WorkbenchError::Faults(Faults(faults)));
        };
        let traced = opal_job::trace(&TraceAsk {
            top: PhotoToTrace {
                name: "top",
                picture: top,
                scale: top_scale,
            },
            side: side.as_ref().map(|picture| PhotoToTrace {
                name: "side",
                picture,
                scale: side_scale,
            }),
            height: form.height_mm.map(Length::from_mm),
            camera: form.camera_mm.map(Length::from_mm),
            corrected_px: form.corrected_px.as_deref(),
            follow: form.follow,
        });
        document_value(&traced.map_err(WorkbenchError::Faults)?)
    }

    fn scale_card(&self, letter: bool) -> Result<Download, WorkbenchError> {
        let paper = if letter { Paper::Letter } else { Paper::A4 };
        let bytes = scale_card_pdf(paper).map_err(|why| job_error(JobError::from(why)))?;
        Ok(Download {
            name: "scale-card.pdf".to_owned(),
            media_type: "application/pdf",
            bytes,
        })
    }
}

fn picture(photos: &[NamedFile], name: &str, faults: &mut Vec<Fault>) -> Option<Picture> {
    let photo = photos.iter().find(|photo| photo.name == name)?;
    read_picture(name, &photo.bytes)
        .map_err(|found| faults.extend(found.0))
        .ok()
}

fn scale(form: &TraceScale, name: &str, faults: &mut Vec<Fault>) -> ScaleBy {
    match (form.points_px, form.apart_mm) {
        (Some(px), Some(apart)) => ScaleBy::TwoPoints {
            px,
            apart: Length::from_mm(apart),
        },
        (None, None) => ScaleBy::Card {
            rule: form.rule_mm.map(Length::from_mm),
        },
        _ => {
            faults.push(Fault::new(
                format!("the scale of photo '{name}'"),
                "half of it",
                "two points and their distance go together",
            ));
            ScaleBy::Card { rule: None }
        }
    }
}
