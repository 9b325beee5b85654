//! What a photo told, in words.

use crate::json::{EstimateDoc, PhotoScaleDoc, TraceDoc};

/// The answer of `trace`.
#[must_use]
pub fn trace(doc: &TraceDoc) -> String {
    let mut text = format!(
        "Outline of {} points, {} × {} mm, area {} mm².\n",
        doc.outline_mm.len(),
        with_spread(doc.length_mm),
        with_spread(doc.width_mm),
        with_spread(doc.area_mm2),
    );
    if let Some(height) = doc.height_mm {
        text.push_str(&format!("Height {} mm.\n", with_spread(height)));
    }
    text.push_str(&scale("Scale", &doc.scale));
    if let Some(side) = &doc.side_scale {
        text.push_str(&scale("Scale from the side", side));
    }
    for note in &doc.notes {
        text.push_str(&format!("Note: {note}\n"));
    }
    text
}

fn with_spread(estimate: EstimateDoc) -> String {
    let digits = if estimate.sigma < 0.1 { 2 } else { 1 };
    format!("{:.digits$} ± {:.digits$}", estimate.value, estimate.sigma)
}

fn scale(label: &str, doc: &PhotoScaleDoc) -> String {
    let mut text = format!(
        "{label}: {:.4} mm to a pixel, ± {:.2} %, by {}",
        doc.mm_per_px,
        100.0 * doc.sigma_share,
        if doc.by == "card" {
            "the card"
        } else {
            "two points"
        },
    );
    if let Some([seen, of]) = doc.corners {
        text.push_str(&format!(" ({seen} of {of} corners)"));
    }
    if let Some(tilt) = doc.tilt_deg {
        text.push_str(&format!("; the camera leaned by {tilt:.0} degrees"));
    }
    text.push_str(".\n");
    text
}
