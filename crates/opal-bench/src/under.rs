//! One possible inside below a planned face: what shows, and what the stone is,
//! when the face is ground to some level.

use crate::face::{Face, quantile};
use opal_plan::StoneDraw;
use opal_stone::Spot;
use opal_units::{Area, Length, Volume};

/// How the face is shaped.
#[derive(Clone, Copy, Debug)]
pub(crate) enum Shaped<'a> {
    /// The planned dome, this far above where it was planned, mm; with a dish in it.
    Dome {
        lift_mm: f64,
        dish: Option<(&'a Spot, f64)>,
    },
    /// Kept whole: the face follows the bar, backing is left under it, mm.
    Whole { backing_mm: f64 },
}

/// What can be seen with the face at a level: nothing of what lies below.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct Visible {
    /// Share of the face that shows colour.
    pub(crate) colour: f64,
    /// Share over which potch still lies on the bar.
    pub(crate) covered: f64,
    /// Share at which the bar is gone.
    pub(crate) through: f64,
    /// Share that specks take.
    pub(crate) specks: f64,
    /// Mean thickness of colour left below the face at the edge, mm.
    pub(crate) edge_mm: f64,
    /// The least of it (a tenth of the edge has less), mm.
    pub(crate) thin_edge_mm: f64,
}

/// One node of the face with what stands there, heights in mm.
struct Column {
    at_mm: [f64; 2],
    /// The rough between its skins.
    top: f64,
    bottom: f64,
    /// The bar's top and bottom; the same where it is absent.
    bar: [f64; 2],
    plane: f64,
    dome: f64,
    on_edge: bool,
}

/// A speck within the outline, heights in mm.
struct Ball {
    at_mm: [f64; 2],
    height: f64,
    radius: f64,
    top: f64,
    bar_top: f64,
    dome: f64,
}

/// One possible inside below a planned face.
pub(crate) struct Under<'a> {
    face: &'a Face<'a>,
    i: usize,
    columns: Vec<Column>,
    balls: Vec<Ball>,
    /// Room for the values of one level, so that a walk down asks for none.
    depths: Vec<f64>,
}

impl<'a> Under<'a> {
    pub(crate) fn new(face: &'a Face<'a>, i: usize) -> Self {
        let interiors = face.interiors;
        let cells = interiors.cells();
        let inset = f64::from(interiors.skin_inset_mm[i]).max(0.0);
        let bar = interiors.bars.get(face.cut.bar);
        let bar = bar.map(|bar| (bar.top(i, cells), bar.thickness(i, cells)));
        let mut columns = Vec::with_capacity(face.nodes.len());
        for node in &face.nodes {
            let top = f64::from(face.stone.top_mm[node.index]) - inset;
            let bottom = f64::from(face.stone.bottom_mm[node.index]) + inset;
            // No stone in this column.
            if !(top.is_finite() && bottom.is_finite()) {
                continue;
            }
            let bar = bar.map_or([f64::NAN; 2], |(tops, thick)| {
                let top = f64::from(tops[node.index]);
                [top, top - f64::from(thick[node.index])]
            });
            columns.push(Column {
                at_mm: node.at_mm,
                top,
                bottom,
                bar,
                plane: node.plane_mm,
                dome: node.dome_mm,
                on_edge: node.on_edge,
            });
        }
        let balls = interiors.specks.of(i).iter().filter_map(|speck| {
            let [x, y, height] = speck.at_mm.map(f64::from);
            let dome = face.dome_at([x, y])?;
            let k = face.stone.grid.nearest([x, y])?;
            Some(Ball {
                at_mm: [x, y],
                height,
                radius: f64::from(speck.radius_mm),
                top: f64::from(face.stone.top_mm[k]),
                bar_top: bar.map_or(f64::NAN, |(tops, _)| f64::from(tops[k])),
                dome,
            })
        });
        Self {
            face,
            i,
            columns,
            balls: balls.collect(),
            depths: Vec::with_capacity(face.nodes.len()),
        }
    }

    /// What shows with the dome at this lift.
    pub(crate) fn seen(&mut self, lift_mm: f64) -> Visible {
        let mut seen = Visible::default();
        self.depths.clear();
        let mut edge = 0.0;
        for column in &self.columns {
            let face = column.dome + lift_mm;
            let back = column.plane + lift_mm - self.face.cut.back.wall.mm();
            let (high, low) = (face.min(column.top), back.max(column.bottom));
            let [bar_top, bar_bottom] = column.bar;
            if !(high > low && bar_top > bar_bottom) {
                continue;
            }
            if high > bar_top {
                seen.covered += 1.0;
            } else if high > bar_bottom.max(low) {
                seen.colour += 1.0;
            } else if face < column.top {
                // Ground away; not merely missing below a thin skin.
                seen.through += 1.0;
            }
            if column.on_edge {
                let left = (high.min(bar_top) - bar_bottom).max(0.0);
                edge += left;
                self.depths.push(left);
            }
        }
        let nodes = self.face.nodes.len() as f64;
        seen.colour /= nodes;
        seen.covered /= nodes;
        seen.through /= nodes;
        if !self.depths.is_empty() {
            seen.edge_mm = edge / self.depths.len() as f64;
            seen.thin_edge_mm = quantile(&mut self.depths, 0.1).unwrap_or(0.0);
        }
        let shaped = Shaped::Dome {
            lift_mm,
            dish: None,
        };
        seen.specks = (self.specks_mm2(shaped) / self.face.area_mm2).min(1.0);
        seen
    }

    /// The stone that is had with the face shaped like this.
    pub(crate) fn stone(&mut self, shaped: Shaped<'_>) -> StoneDraw {
        let rules = self.face.rules;
        let showing = rules.showing_colour.mm();
        let skin = rules.skin_allowance.mm();
        self.depths.clear();
        let (mut height, mut colour, mut solid, mut shown) = (0.0, 0.0, 0_usize, 0.0);
        for column in &self.columns {
            let (face, back) = match shaped {
                Shaped::Dome { lift_mm, dish } => {
                    let dug = dish.map_or(0.0, |(spot, depth)| depth * spot.share(column.at_mm));
                    let back = column.plane + lift_mm - self.face.cut.back.wall.mm();
                    (column.dome + lift_mm - dug, back)
                }
                Shaped::Whole { backing_mm } => {
                    let [bar_top, bar_bottom] = column.bar;
                    ((column.top - skin).min(bar_top), bar_bottom - backing_mm)
                }
            };
            let (high, low) = (face.min(column.top), back.max(column.bottom));
            if high <= low {
                continue;
            }
            solid += 1;
            height += high - low;
            let [bar_top, bar_bottom] = column.bar;
            // Absent, or in none of the insides (NaN).
            let present = bar_top > bar_bottom;
            let bar_bottom = bar_bottom.max(low);
            if !present {
                continue;
            } else if high > bar_top {
                colour += (bar_top - bar_bottom).max(0.0);
            } else if high > bar_bottom {
                let left = high - bar_bottom;
                colour += left;
                if left >= showing {
                    shown += left;
                    self.depths.push(left);
                }
            }
        }
        let face = self.face;
        let nodes = face.nodes.len() as f64;
        let count = self.depths.len() as f64;
        let specks = self.specks_mm2(shaped) / face.area_mm2;
        let bevel = rules.bevel.mm();
        let bevelled = face.perimeter_mm * bevel * bevel / 2.0;
        let volume = (height * face.node_area - bevelled).max(0.0);
        let mass = |mm3: f64| Volume::from_mm3(mm3) * face.stone.gravity.value;
        let area = solid as f64 * face.node_area;
        let whole = (1.0 - rules.breakage) * face.sound[self.i];
        StoneDraw {
            weight: mass(volume),
            colour: mass((colour * face.node_area).min(volume)),
            face: Area::from_mm2(area),
            clean_share: (count / nodes - specks).max(0.0),
            least_colour: Length::from_mm(quantile(&mut self.depths, 0.05).unwrap_or(0.0)),
            mean_colour: Length::from_mm(shown / count.max(1.0)),
            thickness: Length::from_mm(if solid > 0 { volume / area } else { 0.0 }),
            whole: face.luck[self.i] < whole && solid as f64 > 0.5 * nodes,
        }
    }

    /// Area that specks take on the face, mm².
    fn specks_mm2(&self, shaped: Shaped<'_>) -> f64 {
        let disc = |ball: &Ball| {
            let face = match shaped {
                Shaped::Dome { lift_mm, dish } => {
                    let dug = dish.map_or(0.0, |(spot, d)| d * spot.share(ball.at_mm));
                    ball.dome + lift_mm - dug
                }
                Shaped::Whole { .. } => ball.bar_top,
            };
            let away = ball.height - face.min(ball.top);
            (ball.radius * ball.radius - away * away).max(0.0)
        };
        std::f64::consts::PI * self.balls.iter().map(disc).sum::<f64>()
    }
}
