//! A stone's outline from photos, for its evidence.

use opal_evidence::{
    Evidence, Fault, Faults, Form, GravityEstimate, Look, OutlineShape, Piece, Shape,
};
use opal_geom::Outline;
use opal_photo::{CardFound, Picture, card, find_card, retraced, trace_outline};
use opal_report::json::{EstimateDoc, PhotoScaleDoc, TRACE_FORMAT, TraceDoc};
use opal_units::{Length, Mass};

/// How far a camera was over the card where nobody said, mm; only the spread counts
/// with it. Chosen: where a telephone fills its picture with the card.
const USUAL_CAMERA_MM: f64 = 300.0;
/// How surely a hand tells how far the camera was, as a share. Chosen.
const CAMERA_SIGMA: f64 = 0.1;
/// At what share of its height a stone is widest, and how surely. Chosen: anywhere from
/// a fifth to four fifths.
const WIDEST_AT: f64 = 0.5;
const WIDEST_SIGMA: f64 = 0.17;
/// How surely callipers tell a height, mm. Chosen.
const CALLIPER_SIGMA_MM: f64 = 0.2;
/// Most points that an outline is handed on with. Chosen: enough for a point each
/// degree; evidence takes 5,000.
const POINTS_MAX: usize = 400;
/// How far from where it was put a point is drawn to an edge, as a share of the longer
/// side of the photo. Chosen: what a fingertip hides on a tablet.
const SNAP_SHARE: f64 = 0.012;
/// What a photo may tell of sizes, mm; evidence takes as much.
const LENGTH_MAX_MM: f64 = 2000.0;

/// What ties a photo to millimetres.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum ScaleBy {
    /// The printed card; its rule as it was measured on this print.
    Card {
        /// What the 50 mm rule measures.
        rule: Option<Length>,
    },
    /// Two points, pixels, and how far they are apart.
    TwoPoints {
        /// The points.
        px: [[f64; 2]; 2],
        /// Their distance.
        apart: Length,
    },
}

/// A photo that was decoded, with its name and scale.
#[derive(Clone, Copy, Debug)]
pub struct PhotoToTrace<'a> {
    /// What it is called, for faults.
    pub name: &'a str,
    /// Its pixels.
    pub picture: &'a Picture,
    /// What ties it to millimetres.
    pub scale: ScaleBy,
}

/// What is to be traced.
#[derive(Clone, Copy, Debug)]
pub struct TraceAsk<'a> {
    /// The stone from above.
    pub top: PhotoToTrace<'a>,
    /// The stone from the side, its foot down in the photo (with a card: on the card).
    pub side: Option<PhotoToTrace<'a>>,
    /// Its height where it was measured; counts before the side's.
    pub height: Option<Length>,
    /// How far the camera was over the card or table.
    pub camera: Option<Length>,
    /// The outline in the photo from above where a person has corrected it, pixels.
    pub corrected_px: Option<&'a [[f64; 2]]>,
    /// Which point of the corrected outline was moved last, between which two others: it
    /// is drawn to the edge seen near it, and the outline follows that edge between them.
    pub follow: Option<[usize; 3]>,
}

/// Traces a stone: the outline from above in mm, its sizes and area with their
/// spread, and its height.
///
/// What stands nearer to the camera than the card looks larger. Where the camera's
/// distance and the stone's height are known, sizes are set right for the height at
/// which stones are widest; else the spread covers it.
///
/// # Errors
/// Everything that is wrong with both photos, in plain words.
pub fn trace(ask: &TraceAsk<'_>) -> Result<TraceDoc, Faults> {
    let mut faults = numbers(ask);
    let top = seen(&ask.top, ask.corrected_px, ask.follow).map_err(|f| faults.push(f));
    let side = ask
        .side
        .as_ref()
        .map(|side| seen(side, None, None).map_err(|f| faults.push(f)));
    let (Ok(top), true) = (top, faults.is_empty()) else {
        return Err(Faults(faults));
    };
    let side = side.and_then(Result::ok);
    let height = height(ask, side.as_ref());
    Ok(told(ask, &top, side.as_ref(), height))
}

/// Evidence of a stone that was traced: its name and weight, its outline and one
/// height. The form is left open.
///
/// # Errors
/// No height is known.
pub fn traced_evidence(
    name: &str,
    weight: Option<Mass>,
    traced: &TraceDoc,
) -> Result<Evidence, Faults> {
    let outline = Outline::new(traced.outline_mm.clone());
    let (Some(height), Some(outline)) = (traced.height_mm, outline) else {
        return Err(Faults::from(Fault::new(
            "the stone's height",
            "not known",
            "measure it with callipers, or add a photo from the side",
        )));
    };
    let [x, y] = outline.centroid();
    Ok(Evidence {
        piece: Piece {
            name: name.to_owned(),
            form: Form::Unknown,
            origin: None,
            weight,
            gravity: GravityEstimate::default_for(Form::Unknown),
            asking: None,
        },
        shape: Shape::Outline(OutlineShape {
            points_mm: traced.outline_mm.clone(),
            heights_mm: vec![[tidy(x), tidy(y), tidy(height.value)]],
            base_mm: vec![[tidy(x), tidy(y), 0.0]],
        }),
        bars: Vec::new(),
        exposures: Vec::new(),
        cracks: Vec::new(),
        step: None,
        torch: None,
        look: Look::default(),
    })
}

/// What is wrong with the numbers that came along.
fn numbers(ask: &TraceAsk<'_>) -> Vec<Fault> {
    let mut faults = Vec::new();
    let mut check = |field: String, value: Option<Length>, least: f64| {
        let Some(mm) = value.map(Length::mm) else {
            return;
        };
        if !(mm.is_finite() && mm > least && mm <= LENGTH_MAX_MM) {
            let limit = format!("it must be above {least} and at most {LENGTH_MAX_MM} mm");
            faults.push(Fault::new(field, format!("{mm} mm"), limit));
        }
    };
    check("the stone's height".to_owned(), ask.height, 0.0);
    check("the camera's distance".to_owned(), ask.camera, 50.0);
    for photo in [Some(ask.top), ask.side].into_iter().flatten() {
        match photo.scale {
            ScaleBy::Card { rule } => {
                check(format!("the rule in photo '{}'", photo.name), rule, 25.0);
            }
            ScaleBy::TwoPoints { apart, .. } => check(
                format!("the distance in photo '{}'", photo.name),
                Some(apart),
                0.0,
            ),
        }
    }
    faults
}

/// What a photo shows.
struct Shown {
    scale: PhotoScaleDoc,
    px: Vec<[f64; 2]>,
    mm: Outline,
    /// How far its edge may be off, mm, one standard deviation.
    edge_mm: f64,
}

fn seen(
    photo: &PhotoToTrace<'_>,
    corrected: Option<&[[f64; 2]]>,
    follow: Option<[usize; 3]>,
) -> Result<Shown, Fault> {
    let no_use = |why: String| Fault::new(format!("photo '{}'", photo.name), "of no use", why);
    let picture = photo.picture;
    let size = [picture.width(), picture.height()];
    let (scale, found) = match photo.scale {
        ScaleBy::Card { rule } => {
            let found = find_card(&picture.grey(), rule.map(Length::mm))
                .map_err(|why| no_use(why.to_string()))?;
            (found.scale, Some(found))
        }
        ScaleBy::TwoPoints { px, apart } => {
            let within = |p: &[f64; 2]| (0..2).all(|d| p[d] >= 0.0 && p[d] <= size[d] as f64 - 1.0);
            if !px.iter().all(within) {
                let limit = format!(
                    "both points must lie in its {} × {} pixels",
                    size[0], size[1]
                );
                return Err(no_use(limit));
            }
            let scale = opal_photo::PhotoScale::from_two_points(size, px, apart)
                .ok_or_else(|| no_use("the two points must lie apart".to_owned()))?;
            (scale, None)
        }
    };
    let (px, sigma_px) = match corrected {
        // Chosen: a hand sets a point within two pixels.
        Some(points) => (drawn_to_edge(picture, points, follow)?, 2.0),
        None => {
            let ground = found.as_ref().map(|card| card.window_px.as_slice());
            let traced = trace_outline(picture, ground).map_err(|why| no_use(why.to_string()))?;
            (traced.points_px, traced.sigma_px)
        }
    };
    let mm = Outline::new(px.iter().map(|p| scale.to_mm(*p)).collect())
        .ok_or_else(|| no_use("its outline goes around no area".to_owned()))?;
    let middle = scale.to_px(mm.centroid());
    let mm_per_px = scale.mm_per_px(middle);
    let blur_mm = found.as_ref().map_or(0.0, |card| card.blur_mm);
    Ok(Shown {
        scale: scale_doc(&scale, found.as_ref(), mm_per_px),
        px,
        mm,
        // A blurred edge is still placed to a fraction of its blur. Chosen: a quarter.
        edge_mm: (sigma_px * mm_per_px).hypot(0.25 * blur_mm),
    })
}

/// A corrected outline, the point that was moved last drawn to the edge near it.
fn drawn_to_edge(
    picture: &Picture,
    points: &[[f64; 2]],
    follow: Option<[usize; 3]>,
) -> Result<Vec<[f64; 2]>, Fault> {
    let Some(places) = follow else {
        return Ok(points.to_vec());
    };
    let longer = picture.width().max(picture.height());
    let reach = SNAP_SHARE * longer as f64;
    retraced(&picture.grey(), points, places, reach).ok_or_else(|| {
        let limit = format!(
            "it must name three different points of the outline's {}, all in the photo",
            points.len()
        );
        Fault::new("the point that was moved", format!("{places:?}"), limit)
    })
}

fn scale_doc(
    scale: &opal_photo::PhotoScale,
    found: Option<&CardFound>,
    mm_per_px: f64,
) -> PhotoScaleDoc {
    PhotoScaleDoc {
        by: if found.is_some() {
            "card"
        } else {
            "two points"
        }
        .to_owned(),
        mm_per_px,
        sigma_share: scale.relative_sigma,
        corners: found.map(|card| [card.corners_px.len(), card.corners_on_card]),
        tilt_deg: found.map(|card| card.tilt_deg),
        blur_mm: found.map(|card| card.blur_mm),
        card_px: found.map(|card| card.rim_px),
    }
}

fn height(ask: &TraceAsk<'_>, side: Option<&Shown>) -> Option<EstimateDoc> {
    let measured = ask.height.map(|height| EstimateDoc {
        value: height.mm(),
        sigma: CALLIPER_SIGMA_MM,
    });
    measured.or_else(|| {
        side.map(|shown| {
            let [low, high] = shown.mm.bounds();
            let value = high[1] - low[1];
            let edges = std::f64::consts::SQRT_2 * shown.edge_mm;
            EstimateDoc {
                value,
                sigma: edges.hypot(shown.scale.sigma_share * value),
            }
        })
    })
}

/// How many times larger than it is the stone looks, less one, and how surely.
fn nearness(ask: &TraceAsk<'_>, height: Option<EstimateDoc>) -> (f64, f64) {
    let Some(height) = height else {
        return (0.0, 0.0);
    };
    let camera = ask.camera.map_or(USUAL_CAMERA_MM, Length::mm);
    let share = WIDEST_AT * height.value / camera;
    match ask.camera {
        Some(_) => (
            share,
            (WIDEST_SIGMA * height.value / camera).hypot(CAMERA_SIGMA * share),
        ),
        None => (0.0, share),
    }
}

fn told(
    ask: &TraceAsk<'_>,
    top: &Shown,
    side: Option<&Shown>,
    height: Option<EstimateDoc>,
) -> TraceDoc {
    let (nearer, nearer_sigma) = nearness(ask, height);
    let [low, _] = top.mm.bounds();
    let shrink = 1.0 - nearer;
    let true_size = |p: &[f64; 2]| [0, 1].map(|d| shrink * (p[d] - low[d]));
    let whole = Outline::new(top.mm.points().iter().map(true_size).collect())
        .unwrap_or_else(|| top.mm.clone());
    let share = top.scale.sigma_share.hypot(nearer_sigma);
    let sizes = whole.calliper_sizes();
    let length = |value: f64| EstimateDoc {
        value,
        sigma: (std::f64::consts::SQRT_2 * top.edge_mm).hypot(share * value),
    };
    TraceDoc {
        format: TRACE_FORMAT.to_owned(),
        photo_px: [ask.top.picture.width(), ask.top.picture.height()],
        scale: top.scale.clone(),
        outline_px: top.px.clone(),
        outline_mm: thinned(&whole)
            .points()
            .iter()
            .map(|p| p.map(tidy))
            .collect(),
        area_mm2: EstimateDoc {
            value: whole.area(),
            // All of the edge off the same way: the worst that one cause can do.
            sigma: (whole.perimeter() * top.edge_mm).hypot(2.0 * share * whole.area()),
        },
        length_mm: length(sizes.length),
        width_mm: length(sizes.width),
        height_mm: height,
        side_scale: side.map(|shown| shown.scale.clone()),
        notes: notes(ask, height),
    }
}

fn notes(ask: &TraceAsk<'_>, height: Option<EstimateDoc>) -> Vec<String> {
    let mut notes = Vec::new();
    let card = |photo: &PhotoToTrace<'_>| matches!(photo.scale, ScaleBy::Card { rule: None });
    if card(&ask.top) || ask.side.as_ref().is_some_and(card) {
        notes.push(format!(
            "The print's rule was not measured: lengths may be off by half a percent. Measure it \
             with callipers; it should be {:.0} mm.",
            card::RULE_MM
        ));
    }
    match (ask.camera, height) {
        (_, None) => notes.push(
            "What stands up toward the camera looks larger than it is. The stone's height is not \
             known: neither sizes nor their spread allow for it."
                .to_owned(),
        ),
        (None, Some(_)) => notes.push(
            "What stands up toward the camera looks larger than it is. How far the camera was is \
             not known: the spread allows for 300 mm."
                .to_owned(),
        ),
        (Some(_), Some(_)) => {}
    }
    notes
}

/// With no more points than evidence needs; what is left out is far below the edge's
/// own unsureness.
fn thinned(outline: &Outline) -> Outline {
    let mut most_mm = 0.01;
    let mut thin = outline.simplified(most_mm);
    while thin.points().len() > POINTS_MAX {
        most_mm *= 1.5;
        thin = outline.simplified(most_mm);
    }
    thin
}

/// To the thousandth of a millimetre: the rest is noise.
fn tidy(mm: f64) -> f64 {
    (1e3 * mm).round() / 1e3
}
