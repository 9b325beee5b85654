//! A bar's edge, followed on a photo of the stone's side: sightings for its evidence.

use opal_evidence::{Fault, Faults};
use opal_geom::Outline;
use opal_photo::{Grey, Picture, live_wire_within, nearest_edge, trace_outline};
use opal_report::json::{BAR_TRACE_FORMAT, BarTraceDoc, EstimateDoc, SidePlaceDoc};
use opal_units::Length;

/// How far from where it was put a point is drawn to an edge, and how far the line between
/// two points may stray, as shares of the longer side of the photo. Chosen: below the
/// thickness of a bar that is worth a photo, whose other edge is as strong.
const SNAP_SHARE: f64 = 0.004;
const STRAY_SHARE: f64 = 0.01;
/// How surely an edge that was followed, and one that a finger put, is placed, pixels.
/// Chosen.
const FOLLOWED_SIGMA_PX: f64 = 1.0;
const PUT_SIGMA_PX: f64 = 2.0;
/// What a camera that looks a little from above does to a height, as a share of it.
/// Chosen: five degrees off a face that bulges by a fifth.
const TILT_SHARE: f64 = 0.02;
/// From where on across and upward differ by more than a hand held camera explains.
/// Chosen.
const ASKEW: f64 = 0.1;
/// So near to either end of the stone its side turns away, as a share of its width.
/// Chosen.
const TURNED_AWAY: f64 = 0.06;
/// Places so near to one another say the same, mm. Chosen.
const APART_MM: f64 = 1.0;
/// How far in from the outline a place is noted, so that it lies in the stone.
const INWARD: f64 = 0.985;
/// Most points of a line, and most places. Chosen: more than a patient hand sets.
const POINTS_MAX: usize = 64;
const PLACES_MAX: usize = 24;
/// To the hundredth of a millimetre: the rest is noise.
const TIDY: f64 = 100.0;

/// From where a side was looked at; the stone lies as its outline is drawn from above.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum SeenFrom {
    /// From below the drawing: x runs to the right.
    Front,
    /// From above the drawing: x runs to the left.
    Back,
    /// From the left of the drawing: y runs to the left.
    Left,
    /// From the right of the drawing: y runs to the right.
    Right,
}

impl SeenFrom {
    /// The axis that runs across the photo, and whether it runs to the right.
    fn across(self) -> (usize, bool) {
        match self {
            Self::Front => (0, true),
            Self::Back => (0, false),
            Self::Left => (1, false),
            Self::Right => (1, true),
        }
    }

    /// Whether the side that is seen is the one of the lesser coordinates.
    fn on_the_low_side(self) -> bool {
        matches!(self, Self::Front | Self::Left)
    }
}

/// What is to be traced.
#[derive(Clone, Copy, Debug)]
pub struct BarTraceAsk<'a> {
    /// What the photo is called, for faults.
    pub name: &'a str,
    /// Its pixels, the stone's foot down.
    pub picture: &'a Picture,
    /// From where it was taken.
    pub from: SeenFrom,
    /// The stone from above, mm.
    pub outline_mm: &'a [[f64; 2]],
    /// How high it stands.
    pub height: Length,
    /// Two opposite corners of the stone's box in the photo, pixels; found on a plain
    /// ground where they are not told.
    pub stone_px: Option<[[f64; 2]; 2]>,
    /// Points on the bar's upper edge, in any order, pixels.
    pub upper_px: &'a [[f64; 2]],
    /// Points on its lower edge.
    pub lower_px: &'a [[f64; 2]],
    /// Draw the points to the edge seen near them, and follow it between them.
    pub follow: bool,
    /// Most places to make of it.
    pub places: usize,
    /// Beyond both ends of the upper edge there is no bar.
    pub none_beyond: bool,
}

/// Traces a bar on a photo of the stone's side.
///
/// # Method
/// The photo needs no scale: the stone's box in it is as wide as the outline seen from
/// there and as high as the stone. A place across the photo is one across the outline, on
/// the side that is seen; heights count from the foot. How far the two scales disagree goes
/// into the spread.
///
/// # Errors
/// Everything that is wrong with what was asked, in plain words.
pub fn trace_bar(ask: &BarTraceAsk<'_>) -> Result<BarTraceDoc, Faults> {
    let outline = checked(ask)?;
    let stone = match ask.stone_px {
        Some(corners) => stone_box(corners),
        None => found_box(ask)?,
    };
    let (axis, _) = ask.from.across();
    let [low, high] = outline.bounds();
    let size_px = [stone[1][0] - stone[0][0], stone[1][1] - stone[0][1]];
    let mm_per_px = [
        (high[axis] - low[axis]) / size_px[0],
        ask.height.mm() / size_px[1],
    ];
    let grey = ask.picture.grey();
    let side = Side {
        ask,
        outline: &outline,
        stone,
        mm_per_px,
        askew: (mm_per_px[0] / mm_per_px[1]).ln().abs(),
    };
    let upper = line(&grey, ask.upper_px, ask.follow);
    let lower = line(&grey, ask.lower_px, ask.follow);
    let places = side.places(&upper, &lower)?;
    Ok(BarTraceDoc {
        format: BAR_TRACE_FORMAT.to_owned(),
        photo_px: [ask.picture.width(), ask.picture.height()],
        stone_px: stone,
        mm_per_px,
        upper_px: upper,
        lower_px: lower,
        places,
        notes: side.notes(),
    })
}

/// What is wrong with the numbers; else the outline.
fn checked(ask: &BarTraceAsk<'_>) -> Result<Outline, Faults> {
    let mut faults = Vec::new();
    let size = [ask.picture.width(), ask.picture.height()];
    let within = |p: &[f64; 2]| (0..2).all(|d| p[d] >= 0.0 && p[d] <= size[d] as f64 - 1.0);
    let inside = format!(
        "it must lie in the photo's {} × {} pixels",
        size[0], size[1]
    );
    let corners = ask.stone_px.iter().flatten().collect::<Vec<_>>();
    for (field, points) in [
        ("stone_px", corners),
        ("upper_px", ask.upper_px.iter().collect()),
        ("lower_px", ask.lower_px.iter().collect()),
    ] {
        for (k, p) in points.iter().enumerate().filter(|(_, p)| !within(p)) {
            let value = format!("{}, {}", p[0], p[1]);
            faults.push(Fault::new(format!("{field}[{k}]"), value, &inside));
        }
        if points.len() > POINTS_MAX {
            let limit = format!("there may be {POINTS_MAX} points at most");
            faults.push(Fault::new(field, points.len(), limit));
        }
        if points.len() == 1 {
            let limit = "it takes two points, one at each end";
            faults.push(Fault::new(field, "one point", limit));
        }
    }
    if ask.upper_px.is_empty() && !ask.lower_px.is_empty() {
        let limit = "put points on the upper edge first";
        faults.push(Fault::new("upper_px", "no point", limit));
    }
    if ask
        .stone_px
        .map(stone_box)
        .is_some_and(|[a, b]| b[0] - a[0] < 2.0 || b[1] - a[1] < 2.0)
    {
        let limit = "two opposite corners of the stone's box must lie apart";
        faults.push(Fault::new("stone_px", "no box", limit));
    }
    let height = ask.height.mm();
    if !(height > 0.0 && height.is_finite()) {
        faults.push(Fault::new("height_mm", height, "it must be above 0 mm"));
    }
    if !(1..=PLACES_MAX).contains(&ask.places) {
        let limit = format!("it must lie between 1 and {PLACES_MAX}");
        faults.push(Fault::new("places", ask.places, limit));
    }
    let outline = Outline::new(ask.outline_mm.to_vec());
    if outline.is_none() {
        let value = format!("{} points", ask.outline_mm.len());
        faults.push(Fault::new("outline_mm", value, "it must go around an area"));
    }
    match outline {
        Some(outline) if faults.is_empty() => Ok(outline),
        _ => Err(Faults(faults)),
    }
}

/// Upper left and lower right of two opposite corners.
fn stone_box([p, q]: [[f64; 2]; 2]) -> [[f64; 2]; 2] {
    [
        [0, 1].map(|d| p[d].min(q[d])),
        [0, 1].map(|d| p[d].max(q[d])),
    ]
}

fn found_box(ask: &BarTraceAsk<'_>) -> Result<[[f64; 2]; 2], Faults> {
    let no_use = |why: String| {
        Faults::from(Fault::new(
            format!("photo '{}'", ask.name),
            "of no use",
            why,
        ))
    };
    let traced = trace_outline(ask.picture, None).map_err(|why| no_use(why.to_string()))?;
    let found = Outline::new(traced.points_px)
        .ok_or_else(|| no_use("the stone's edge goes around no area".to_owned()))?;
    Ok(found.bounds())
}

/// The points from left to right; where the edge is to be followed, the seen edge between
/// them.
fn line(grey: &Grey, points: &[[f64; 2]], follow: bool) -> Vec<[f64; 2]> {
    let longer = grey.width.max(grey.height) as f64;
    let mut points = points.to_vec();
    if follow {
        for p in &mut points {
            *p = nearest_edge(grey, *p, SNAP_SHARE * longer).unwrap_or(*p);
        }
    }
    points.sort_by(|p, q| p[0].total_cmp(&q[0]));
    if !follow {
        return points;
    }
    let mut line: Vec<[f64; 2]> = points.iter().take(1).copied().collect();
    for pair in points.windows(2) {
        let path = live_wire_within(grey, pair[0], pair[1], STRAY_SHARE * longer);
        let inner = path.unwrap_or_default();
        let inner = inner
            .get(1..inner.len().saturating_sub(1))
            .unwrap_or_default();
        line.extend_from_slice(inner);
        line.push(pair[1]);
    }
    line
}

/// Where a line crosses a place across, the mean where it does so several times.
fn crossing(line: &[[f64; 2]], across: f64) -> Option<f64> {
    let (mut sum, mut n) = (0.0, 0.0);
    for pair in line.windows(2) {
        let [p, q] = [pair[0], pair[1]];
        if (p[0] <= across) != (q[0] <= across) {
            sum += p[1] + (q[1] - p[1]) * (across - p[0]) / (q[0] - p[0]);
            n += 1.0;
        }
    }
    (n > 0.0).then(|| sum / n)
}

/// A photo of a side, tied to the stone.
struct Side<'a> {
    ask: &'a BarTraceAsk<'a>,
    outline: &'a Outline,
    stone: [[f64; 2]; 2],
    mm_per_px: [f64; 2],
    /// How far the scales across and upward disagree, as a logarithm.
    askew: f64,
}

impl Side<'_> {
    fn places(&self, upper: &[[f64; 2]], lower: &[[f64; 2]]) -> Result<Vec<SidePlaceDoc>, Faults> {
        let ends = |line: &[[f64; 2]]| Some([line.first()?[0], line.last()?[0]]);
        let Some(seen) = ends(upper) else {
            return Ok(Vec::new());
        };
        let [left, right] = [self.stone[0][0], self.stone[1][0]];
        let turned = TURNED_AWAY * (right - left);
        let whole = [left + turned, right - turned];
        let both = ends(lower).unwrap_or(seen);
        let from = seen[0].max(both[0]).max(whole[0]);
        let to = seen[1].min(both[1]).min(whole[1]);
        let fit = ((to - from) * self.mm_per_px[0] / APART_MM).max(0.0) as usize;
        let n = self.ask.places.min(fit.max(1));
        if to <= from {
            let limit = "both edges must be seen at the same places, away from the stone's ends";
            return Err(Fault::new("lower_px", "beside the upper edge", limit).into());
        }
        let mut places = Vec::new();
        let mut faults = Vec::new();
        for k in 0..n {
            let across = from + (to - from) * (k as f64 + 0.5) / n as f64;
            match self.bar_at(across, upper, lower) {
                Ok(place) => places.extend(place),
                Err(fault) => faults.push(fault),
            }
        }
        if !faults.is_empty() {
            return Err(Faults(faults));
        }
        if self.ask.none_beyond {
            let gaps = [[whole[0], seen[0]], [seen[1], whole[1]]];
            for (k, [a, b]) in gaps.into_iter().enumerate() {
                if (b - a) * self.mm_per_px[0] < 2.0 * APART_MM {
                    continue;
                }
                let beyond = self.absent_at(0.5 * (a + b), upper);
                places.splice(
                    if k == 0 {
                        0..0
                    } else {
                        places.len()..places.len()
                    },
                    beyond,
                );
            }
        }
        Ok(places)
    }

    fn bar_at(
        &self,
        across: f64,
        upper: &[[f64; 2]],
        lower: &[[f64; 2]],
    ) -> Result<Option<SidePlaceDoc>, Fault> {
        let (Some(top), Some(at_mm)) = (crossing(upper, across), self.place_on_side(across)) else {
            return Ok(None);
        };
        let foot = self.stone[1][1];
        let edge = self.mm_per_px[1]
            * if self.ask.follow {
                FOLLOWED_SIGMA_PX
            } else {
                PUT_SIGMA_PX
            };
        let share = TILT_SHARE.hypot(0.5 * self.askew);
        let height = (foot - top) * self.mm_per_px[1];
        let thickness = match crossing(lower, across) {
            None => None,
            Some(bottom) if bottom > top => {
                let value = (bottom - top) * self.mm_per_px[1];
                let sigma = (std::f64::consts::SQRT_2 * edge).hypot(share * value);
                Some(EstimateDoc {
                    value: tidy(value),
                    sigma: tidy(sigma).max(1.0 / TIDY),
                })
            }
            Some(bottom) => {
                let value = format!("{bottom:.0} px down at {across:.0} px across");
                let limit = format!("it must lie below the upper one, which is at {top:.0} px");
                return Err(Fault::new("lower_px", value, limit));
            }
        };
        Ok(Some(SidePlaceDoc {
            at_mm,
            at_px: [across, top],
            absent: false,
            top_mm: Some(EstimateDoc {
                value: tidy(height),
                sigma: tidy(edge.hypot(share * height)).max(1.0 / TIDY),
            }),
            thickness_mm: thickness,
        }))
    }

    fn absent_at(&self, across: f64, upper: &[[f64; 2]]) -> Option<SidePlaceDoc> {
        let nearest = upper
            .iter()
            .min_by(|p, q| (p[0] - across).abs().total_cmp(&(q[0] - across).abs()))?;
        Some(SidePlaceDoc {
            at_mm: self.place_on_side(across)?,
            at_px: [across, nearest[1]],
            absent: true,
            top_mm: None,
            thickness_mm: None,
        })
    }

    /// The place on the side that is seen, mm, of one across the photo.
    fn place_on_side(&self, across: f64) -> Option<[f64; 2]> {
        let (axis, rightward) = self.ask.from.across();
        let [low, high] = self.outline.bounds();
        let share = (across - self.stone[0][0]) / (self.stone[1][0] - self.stone[0][0]);
        let share = if rightward { share } else { 1.0 - share };
        let along = low[axis] + share * (high[axis] - low[axis]);
        let other = 1 - axis;
        let sides = self.outline.sides();
        let crossings = sides.filter(|(p, q)| (p[axis] <= along) != (q[axis] <= along));
        let depths = crossings.map(|(p, q)| {
            p[other] + (q[other] - p[other]) * (along - p[axis]) / (q[axis] - p[axis])
        });
        let depth = if self.ask.from.on_the_low_side() {
            depths.min_by(f64::total_cmp)
        } else {
            depths.max_by(f64::total_cmp)
        }?;
        let middle = self.outline.centroid();
        let mut at = [0.0; 2];
        at[axis] = along;
        at[other] = depth;
        Some([0, 1].map(|d| tidy(middle[d] + INWARD * (at[d] - middle[d]))))
    }

    fn notes(&self) -> Vec<String> {
        let mut notes = Vec::new();
        if self.askew > ASKEW {
            notes.push(format!(
                "Across and upward do not agree by {:.0} %: is this the side you chose, is the \
                 camera square to it, and is the stone's height right? The spread allows for it.",
                100.0 * (self.askew.exp() - 1.0)
            ));
        }
        notes
    }
}

fn tidy(mm: f64) -> f64 {
    (TIDY * mm).round() / TIDY
}
