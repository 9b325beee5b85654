//! The workbench tracing photos, on the use cases of `trace` and `scale-card`.

use super::{BenchWorkbench, document_value, job_error, locked};
use opal_evidence::{Fault, Faults};
use opal_files::read_picture;
use opal_job::{BarTraceAsk, JobError, Paper, PhotoToTrace, ScaleBy, SeenFrom, TraceAsk};
use opal_photo::Picture;
use opal_report::scale_card::scale_card_pdf;
use opal_server::{
    BarForm, BarSeenFrom, Download, NamedFile, TraceForm, TraceScale, Tracing, WorkbenchError,
};
use opal_units::Length;
use serde_json::Value;

/// Most points of an outline that was corrected; evidence takes as many.
const POINTS_MAX: usize = 5000;
/// Places that a photo of one side gives where nobody said how many.
const PLACES: usize = 6;

impl Tracing for BenchWorkbench {
    fn trace(&self, form: &TraceForm, photos: &[NamedFile]) -> Result<Value, WorkbenchError> {
        // A photo takes a few hundred megabytes while it is looked at: one at a time.
        let _turn = locked(&self.tracing);
        let mut faults = Vec::new();
        let top = needed_picture(photos, "top", &mut faults);
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

    fn trace_bar(&self, form: &BarForm, photos: &[NamedFile]) -> Result<Value, WorkbenchError> {
        let _turn = locked(&self.tracing);
        let mut faults = Vec::new();
        let side = needed_picture(photos, "side", &mut faults);
        if form.outline_mm.len() > POINTS_MAX {
            let limit = format!("it may have {POINTS_MAX} points at most");
            faults.push(Fault::new("outline_mm", form.outline_mm.len(), limit));
        }
        let (Some(side), true) = (&side, faults.is_empty()) else {
            return Err(WorkbenchError::Faults(Faults(faults)));
        };
        let traced = opal_job::trace_bar(&BarTraceAsk {
            name: "side",
            picture: side,
            from: match form.from {
                BarSeenFrom::Front => SeenFrom::Front,
                BarSeenFrom::Back => SeenFrom::Back,
                BarSeenFrom::Left => SeenFrom::Left,
                BarSeenFrom::Right => SeenFrom::Right,
            },
            outline_mm: &form.outline_mm,
            height: Length::from_mm(form.height_mm),
            stone_px: form.stone_px,
            upper_px: &form.upper_px,
            lower_px: &form.lower_px,
            follow: !form.as_put,
            places: form.places.unwrap_or(PLACES),
            none_beyond: form.none_beyond,
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

/// As [`picture`]; it is a fault where it did not come.
fn needed_picture(photos: &[NamedFile], name: &str, faults: &mut Vec<Fault>) -> Option<Picture> {
    let found = picture(photos, name, faults);
    if found.is_none() && faults.is_empty() {
        let limit = format!("the form must carry it as a file called '{name}'");
        faults.push(Fault::new(format!("photo '{name}'"), "missing", limit));
    }
    found
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
