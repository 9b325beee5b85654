//! What the types of single fields cannot say: places outside the stone, tops
//! below bottoms, looks that contradict each other.

use super::shape::{EvidenceFile, SightingTable};
use crate::document::FaultList;
use opal_evidence::{OutlineShape, Shape, StoneFromMesh};
use opal_geom::{Bounds, Outline};
use std::collections::HashMap;

/// A place may lie this far outside before it is a fault, mm, plus a share of
/// the longest size. Chosen: because a sighting on the edge is read from
/// outside, and three sizes are only about right.
const OUTSIDE_MM: f64 = 1.0;
/// See [`OUTSIDE_MM`].
const OUTSIDE_SHARE: f64 = 0.03;
/// Two looks nearer than this are at one place, mm.
/// Chosen: because nobody marks a place more finely at the bench.
const SAME_PLACE_MM: f64 = 0.2;
/// Beyond so many standard deviations, three readings of one place disagree.
const APART: f64 = 4.0;
/// Outlines of more points than this are not searched for crossings.
const MOST_SEARCHED: usize = 5000;

/// Names that must differ.
pub(super) fn names(file: &EvidenceFile, faults: &mut FaultList) {
    let mut seen: HashMap<String, usize> = HashMap::new();
    for (i, bar) in file.bar.iter().enumerate() {
        let Some(name) = &bar.name else { continue };
        match seen.get(&name.trim().to_lowercase()) {
            Some(first) => faults.add(
                format!("bar[{i}].name"),
                format!("{name:?}, the name of bar[{first}] too"),
                "must differ from bar to bar",
            ),
            None => {
                seen.insert(name.trim().to_lowercase(), i);
            }
        }
    }
}

/// The outside of a stone, as far as places are held against it.
pub(super) struct Outside {
    low_mm: [f64; 3],
    high_mm: [f64; 3],
    outline: Option<Outline>,
    slack_mm: f64,
}

impl Outside {
    /// From the shape, in the stone frame.
    pub(super) fn of(shape: &Shape) -> Option<Self> {
        let (low_mm, high_mm, outline) = match shape {
            Shape::Callipers(c) => ([0.0; 3], [c.length.mm(), c.width.mm(), c.height.mm()], None),
            Shape::Outline(o) => {
                let rows = o.points_mm.iter().map(|p| [p[0], p[1], o.base_mm[0][2]]);
                let rows = rows.chain(o.heights_mm.iter().chain(&o.base_mm).copied());
                let bounds = Bounds::around(rows)?;
                let outline = Outline::new(o.points_mm.clone());
                (bounds.min_mm, bounds.max_mm, outline)
            }
            Shape::Scan(scan) => {
                let turn = scan.stone_from_mesh.unwrap_or(StoneFromMesh::IDENTITY);
                let corners = scan.mesh.vertices.iter().map(|&p| turn.apply(p));
                let bounds = Bounds::around(corners)?;
                (bounds.min_mm, bounds.max_mm, None)
            }
        };
        let longest = (0..3)
            .map(|k| high_mm[k] - low_mm[k])
            .fold(0.0_f64, f64::max);
        Some(Self {
            low_mm,
            high_mm,
            outline,
            slack_mm: OUTSIDE_MM + OUTSIDE_SHARE * longest,
        })
    }

    /// How far a place lies beyond the slack, and what the limit is.
    fn complaint(&self, at: &[f64]) -> Option<String> {
        for (k, &x) in at.iter().enumerate() {
            if x < self.low_mm[k] - self.slack_mm || x > self.high_mm[k] + self.slack_mm {
                return Some(format!(
                    "lies outside the stone, whose {} runs from {:.1} to {:.1} mm",
                    ["x", "y", "z"][k],
                    self.low_mm[k],
                    self.high_mm[k]
                ));
            }
        }
        let outline = self.outline.as_ref()?;
        let [x, y] = [at[0], at[1]];
        let away = distance_outside(outline, [x, y]);
        (away > self.slack_mm).then(|| format!("lies {away:.1} mm outside the outline"))
    }
}

/// Places and heights of everything that was seen.
pub(super) fn places(file: &EvidenceFile, outside: Option<&Outside>, faults: &mut FaultList) {
    for (i, bar) in file.bar.iter().enumerate() {
        for (j, sighting) in bar.sighting.iter().enumerate() {
            let path = format!("bar[{i}].sighting[{j}]");
            if let (Some(at), Some(outside)) = (sighting.at_mm, outside) {
                place(&format!("{path}.at_mm"), &at, outside, faults);
            }
            for (field, z) in [
                ("top_mm", sighting.top_mm),
                ("bottom_mm", sighting.bottom_mm),
            ] {
                height(&format!("{path}.{field}"), z, outside, faults);
            }
        }
        contradictions(&bar.sighting, &format!("bar[{i}]"), faults);
        if let Some(quick) = &bar.quick {
            height(
                &format!("bar[{i}].quick.top_mm"),
                quick.top_mm,
                outside,
                faults,
            );
        }
    }
    let Some(outside) = outside else { return };
    for (i, exposure) in file.exposure.iter().enumerate() {
        for (j, speck) in exposure.specks.iter().enumerate() {
            if let Some(at) = speck.at_mm {
                place(
                    &format!("exposure[{i}].specks[{j}].at_mm"),
                    &at,
                    outside,
                    faults,
                );
            }
        }
    }
    for (i, crack) in file.crack.iter().enumerate() {
        for (j, at) in crack.trace_mm.iter().flatten().enumerate() {
            place(&format!("crack[{i}].trace_mm[{j}]"), at, outside, faults);
        }
    }
    for (j, at) in file
        .step
        .iter()
        .flat_map(|s| &s.trace_mm)
        .flatten()
        .enumerate()
    {
        place(&format!("step.trace_mm[{j}]"), at, outside, faults);
    }
}

fn place(field: &str, at: &[f64], outside: &Outside, faults: &mut FaultList) {
    if let Some(limit) = outside.complaint(at) {
        let shown: Vec<String> = at.iter().map(ToString::to_string).collect();
        faults.add(field, format!("[{}]", shown.join(", ")), limit);
    }
}

fn height(field: &str, z: Option<f64>, outside: Option<&Outside>, faults: &mut FaultList) {
    let (Some(z), Some(outside)) = (z, outside) else {
        return;
    };
    let (low, high) = (outside.low_mm[2], outside.high_mm[2]);
    if z < low - outside.slack_mm || z > high + outside.slack_mm {
        faults.add(
            field,
            z,
            format!("lies outside the stone, whose z runs from {low:.1} to {high:.1} mm"),
        );
    }
}

/// The readings of one look; false when they cannot all be true.
pub(super) fn one_sighting(s: &SightingTable, path: &str, faults: &mut FaultList) -> bool {
    let measured = [
        ("top_mm", s.top_mm),
        ("bottom_mm", s.bottom_mm),
        ("thickness_mm", s.thickness_mm),
        ("thickness_at_least_mm", s.thickness_at_least_mm),
    ];
    let mut good = true;
    if s.absent == Some(true)
        && let Some((field, _)) = measured.iter().find(|(_, value)| value.is_some())
    {
        faults.add(
            format!("{path}.absent"),
            format!("true beside {field}"),
            "a bar that is absent has no top, bottom or thickness here",
        );
        good = false;
    }
    if let Some(least) = s.thickness_at_least_mm {
        for (field, value) in [("thickness_mm", s.thickness_mm), ("bottom_mm", s.bottom_mm)] {
            if value.is_some() {
                faults.add(
                    format!("{path}.thickness_at_least_mm"),
                    format!("{least} beside {field}"),
                    "give what was measured, or a least thickness (with top_mm if it was read)",
                );
                good = false;
            }
        }
    }
    if let (Some(top), Some(bottom)) = (s.top_mm, s.bottom_mm) {
        if bottom > top {
            faults.add(
                format!("{path}.bottom_mm"),
                bottom,
                format!("must lie below top_mm, which is {top}; z runs up toward the face"),
            );
            good = false;
        } else if let Some(thickness) = s.thickness_mm {
            let sigma = s.sigma_mm.unwrap_or(0.3);
            let of = |own: Option<f64>| own.unwrap_or(sigma);
            let sd = of(s.top_sigma_mm)
                .hypot(of(s.bottom_sigma_mm))
                .hypot(of(s.thickness_sigma_mm));
            if (top - bottom - thickness).abs() > APART * sd {
                faults.add(
                    format!("{path}.thickness_mm"),
                    thickness,
                    format!(
                        "top_mm less bottom_mm is {:.2}; they may differ by their errors only",
                        top - bottom
                    ),
                );
                good = false;
            }
        }
    }
    good
}

/// Absent and present at one place.
fn contradictions(sightings: &[SightingTable], path: &str, faults: &mut FaultList) {
    let absent = |s: &SightingTable| s.absent == Some(true);
    // A bar of thickness 0 touches absence; only what must be there contradicts it.
    let present = |s: &SightingTable| {
        !absent(s)
            && (s.thickness_mm.is_some()
                || s.thickness_at_least_mm.is_some()
                || (s.top_mm.is_some() && s.bottom_mm.is_some()))
    };
    for (j, one) in sightings.iter().enumerate().filter(|(_, s)| absent(s)) {
        for (k, other) in sightings.iter().enumerate().filter(|(_, s)| present(s)) {
            let (Some(a), Some(b)) = (one.at_mm, other.at_mm) else {
                continue;
            };
            if (a[0] - b[0]).hypot(a[1] - b[1]) <= SAME_PLACE_MM {
                faults.add(
                    format!("{path}.sighting[{j}].absent"),
                    format!("true where sighting[{k}] saw the bar"),
                    format!(
                        "two looks within {SAME_PLACE_MM} mm cannot find it absent and present"
                    ),
                );
            }
        }
    }
}

/// The rows of an outline; false when no stone can be made of them.
pub(super) fn outline(shape: &OutlineShape, faults: &mut FaultList) -> bool {
    let Some(outline) = Outline::new(shape.points_mm.clone()) else {
        faults.add(
            "shape.outline.points_mm",
            "around no area",
            "must go round the stone: three points or more that do not lie on one line",
        );
        return false;
    };
    let mut good = true;
    if let Some((a, b)) = crossing(outline.points()) {
        faults.add(
            "shape.outline.points_mm",
            format!("crossing itself between points {a} and {b}"),
            "must go round the stone once",
        );
        good = false;
    }
    let size = Bounds::around(shape.points_mm.iter().map(|p| [p[0], p[1], 0.0]));
    let slack = OUTSIDE_MM + OUTSIDE_SHARE * size.map_or(0.0, |b| b.longest_mm());
    // A flat base is one row that stands for everywhere.
    let base_rows = if shape.base_mm.len() > 1 {
        shape.base_mm.as_slice()
    } else {
        &[]
    };
    for (field, rows) in [
        ("heights_mm", shape.heights_mm.as_slice()),
        ("base_heights_mm", base_rows),
    ] {
        for (i, row) in rows.iter().enumerate() {
            let away = distance_outside(&outline, [row[0], row[1]]);
            if away > slack {
                faults.add(
                    format!("shape.outline.{field}[{i}]"),
                    format!("[{}, {}, {}]", row[0], row[1], row[2]),
                    format!("lies {away:.1} mm outside the outline"),
                );
                good = false;
            }
        }
    }
    let base_high = shape.base_mm.iter().map(|r| r[2]).fold(f64::MIN, f64::max);
    if shape.base_mm.len() == 1 {
        for (i, row) in shape.heights_mm.iter().enumerate() {
            if row[2] <= base_high {
                faults.add(
                    format!("shape.outline.heights_mm[{i}]"),
                    format!("[{}, {}, {}]", row[0], row[1], row[2]),
                    format!("its z must lie above the base, which is at {base_high}"),
                );
                good = false;
            }
        }
    }
    good
}

/// How far outside an outline a point lies, mm; 0 inside.
fn distance_outside(outline: &Outline, at: [f64; 2]) -> f64 {
    if outline.contains(at) {
        return 0.0;
    }
    outline
        .sides()
        .map(|(p, q)| distance_to_side(p, q, at))
        .fold(f64::INFINITY, f64::min)
}

fn distance_to_side(p: [f64; 2], q: [f64; 2], at: [f64; 2]) -> f64 {
    let d = [q[0] - p[0], q[1] - p[1]];
    let length2 = d[0] * d[0] + d[1] * d[1];
    let along = ((at[0] - p[0]) * d[0] + (at[1] - p[1]) * d[1]) / length2;
    let t = if length2 > 0.0 {
        along.clamp(0.0, 1.0)
    } else {
        0.0
    };
    (p[0] + t * d[0] - at[0]).hypot(p[1] + t * d[1] - at[1])
}

/// The first two sides that cross, by the points they begin at.
fn crossing(points: &[[f64; 2]]) -> Option<(usize, usize)> {
    let n = points.len();
    if n > MOST_SEARCHED {
        return None;
    }
    let turn = |a: [f64; 2], b: [f64; 2], c: [f64; 2]| {
        (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])
    };
    for i in 0..n {
        let (a, b) = (points[i], points[(i + 1) % n]);
        let low = [a[0].min(b[0]), a[1].min(b[1])];
        let high = [a[0].max(b[0]), a[1].max(b[1])];
        for j in i + 2..n {
            if i == 0 && j == n - 1 {
                continue;
            }
            let (c, d) = (points[j], points[(j + 1) % n]);
            if c[0].max(d[0]) < low[0]
                || c[0].min(d[0]) > high[0]
                || c[1].max(d[1]) < low[1]
                || c[1].min(d[1]) > high[1]
            {
                continue;
            }
            if turn(a, b, c) * turn(a, b, d) < 0.0 && turn(c, d, a) * turn(c, d, b) < 0.0 {
                return Some((i, j));
            }
        }
    }
    None
}
