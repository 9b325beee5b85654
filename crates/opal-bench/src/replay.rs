//! From the evidence as it was taken in, and what happened since, to the stone
//! as it is now.

use crate::{Event, Ground, Removed, Sight};
use opal_evidence::{
    BarEvidence, CrackTrace, Evidence, Exposure, ExposureKind, Fault, Faults, Reading, Seen,
    Sighting, SpeckSeen, TorchLook,
};
use opal_geom::CutPlane;
use opal_stone::Stone;
use opal_units::{Length, Mass, Volume};

/// How far the work has come.
#[derive(Clone, Copy, Debug, Default, Eq, Ord, PartialEq, PartialOrd)]
pub enum Stage {
    /// As it was taken in; at most windows were opened.
    #[default]
    Rough,
    /// Sawn.
    Sawn,
    /// The face is being ground.
    FaceOpen,
}

/// A piece that came off and is a stone of its own now.
#[derive(Clone, Debug, PartialEq)]
pub struct Offcut {
    /// The event that made it, counted from 1.
    pub event: usize,
    /// What it is called.
    pub name: String,
    /// It, in the frame of the stone that it came from.
    pub stone: Stone,
}

/// What one wheel did between two changes.
#[derive(Clone, Debug, PartialEq)]
pub struct Stint {
    /// Which wheel.
    pub wheel: String,
    /// What it took off.
    pub removed: Volume,
    /// How long it ran.
    pub minutes: f64,
}

/// The stone as it is now.
#[derive(Clone, Debug, PartialEq)]
pub struct Worked {
    /// The solid.
    pub stone: Stone,
    /// Everything known of it: what was taken in, and what was seen since.
    pub evidence: Evidence,
    /// How far the work has come.
    pub stage: Stage,
    /// Pieces that came off.
    pub offcuts: Vec<Offcut>,
    /// What each wheel did, for the beliefs about its rate.
    pub stints: Vec<Stint>,
    /// The wheel on the spindle.
    pub wheel: Option<String>,
    /// Places where the face still shows potch: x, y and the face's height, mm.
    pub covered_mm: Vec<[f64; 3]>,
    /// It broke into pieces that need looking over anew.
    pub broken: bool,
    /// For each event, whether it stands (was not undone).
    pub standing: Vec<bool>,
    /// What the cutter should know, in plain words.
    pub notes: Vec<String>,
    /// The solid without windows and dishes: what the wheel rides on when the
    /// whole face is ground.
    ridden: Stone,
    /// Floors of windows and dishes at each node, mm; infinite elsewhere.
    floor_mm: Vec<f32>,
}

/// Deepest that one event takes off, mm. Chosen: because more than that off an
/// opal is a slip of the pen.
const DEEPEST_MM: f64 = 30.0;
/// The smallest speck seen on a face where nobody said, mm: what a loupe shows
/// at a glance (common practice, no source).
const SMALLEST_SEEN_MM: f64 = 0.2;

/// Carries out events on a stone as it was taken in. The same events give the
/// same stone.
///
/// # Errors
/// Every event that cannot have happened, with its number: a place off the
/// stone, more taken off than stood there, a depth or weight that is none, an
/// undo of what does not stand.
pub fn replay(evidence: &Evidence, stone: &Stone, events: &[Event]) -> Result<Worked, Faults> {
    let (standing, mut faults) = standing(events);
    let mut worked = Worked {
        stone: stone.clone(),
        evidence: evidence.clone(),
        stage: Stage::Rough,
        offcuts: Vec::new(),
        stints: Vec::new(),
        wheel: None,
        covered_mm: Vec::new(),
        broken: false,
        standing: standing.clone(),
        notes: Vec::new(),
        ridden: stone.clone(),
        floor_mm: vec![f32::INFINITY; stone.grid.len()],
    };
    let mut since_change = Volume::ZERO;
    for (k, event) in events.iter().enumerate() {
        if standing[k]
            && let Err(mut fault) = worked.take(k + 1, event, &mut since_change)
        {
            fault.field = format!("event[{}].{}", k + 1, fault.field);
            faults.push(fault);
        }
    }
    if faults.is_empty() {
        Ok(worked)
    } else {
        Err(Faults(faults))
    }
}

/// Which events stand. An undo that was undone itself has no effect; every undo
/// looks back only, so one pass from the last settles it.
fn standing(events: &[Event]) -> (Vec<bool>, Vec<Fault>) {
    let mut standing = vec![true; events.len()];
    let mut faults = Vec::new();
    for k in (0..events.len()).rev() {
        let (Event::Undone { event }, true) = (&events[k], standing[k]) else {
            continue;
        };
        let field = format!("event[{}].undoes", k + 1);
        if *event == 0 || *event > k {
            let limit = format!("it must be an earlier event, 1 to {k}");
            faults.push(Fault::new(field, event, limit));
        } else if standing[event - 1] {
            standing[event - 1] = false;
        } else {
            faults.push(Fault::new(field, event, "that one is undone already"));
        }
    }
    (standing, faults)
}

impl Worked {
    fn take(&mut self, no: usize, event: &Event, since_change: &mut Volume) -> Result<(), Fault> {
        let before = self.stone.layered_volume();
        match event {
            Event::Weighed(weight) => {
                let ct = weight.carats();
                if !(ct > 0.0 && ct.is_finite()) {
                    return Err(Fault::new("weight_ct", ct, "it must be above 0"));
                }
                self.stone = self.stone.weighed_again(*weight);
                if let Some(check) = self.stone.check.as_ref().filter(|check| !check.agrees()) {
                    self.notes.push(check.verdict.clone());
                }
            }
            Event::Sawn {
                plane,
                kerf,
                offcut,
            } => {
                length("kerf_mm", *kerf, 0.0, 10.0)?;
                self.part(no, plane, *kerf, offcut.as_deref())?;
                self.stage = self.stage.max(Stage::Sawn);
            }
            Event::Ground { place, removed } => {
                self.grind(place, removed)?;
                if matches!(place, Ground::Face(_) | Ground::Flat) {
                    self.stage = Stage::FaceOpen;
                }
                *since_change = *since_change + (before - self.stone.layered_volume());
            }
            Event::WindowOpened { spot, depth } => {
                self.on_stone("at_mm", spot.at_mm)?;
                let place = Ground::Face(Some(*spot));
                self.grind(&place, &Removed::Depth(*depth))?;
            }
            Event::Seen { bar, at_mm, what } => self.see(*bar, *at_mm, what)?,
            Event::WheelChanged {
                to,
                minutes_on_the_last,
            } => {
                if let Some(minutes) = *minutes_on_the_last {
                    if !(minutes > 0.0 && minutes < 1440.0) {
                        let limit = "it must lie between 0 and 1440";
                        return Err(Fault::new("minutes", minutes, limit));
                    }
                    if let Some(wheel) = self.wheel.take()
                        && *since_change > Volume::ZERO
                    {
                        self.stints.push(Stint {
                            wheel,
                            removed: *since_change,
                            minutes,
                        });
                    }
                }
                *since_change = Volume::ZERO;
                self.wheel = Some(to.clone());
            }
            Event::Dropped => self.notes.push(
                "It was dropped: look all round under the loupe for new cracks before the next \
                 cut, and log what you find."
                    .to_owned(),
            ),
            Event::Broken { along, other } => match along {
                Some(plane) => self.part(no, plane, Length::ZERO, other.as_deref())?,
                None => {
                    self.broken = true;
                    self.notes.push(
                        "It broke: take the pieces that are worth it in as stones of their own."
                            .to_owned(),
                    );
                }
            },
            Event::Photo { .. } | Event::Note(_) | Event::Undone { .. } => {}
        }
        Ok(())
    }

    /// Parts the stone; what came off becomes a stone of its own where it was named.
    fn part(
        &mut self,
        no: usize,
        plane: &CutPlane,
        kerf: Length,
        name: Option<&str>,
    ) -> Result<(), Fault> {
        let normal = plane.normal;
        let size = normal.iter().map(|v| v * v).sum::<f64>().sqrt();
        if !(size > 0.0 && size.is_finite()) {
            let limit = "it needs a direction of its own";
            return Err(Fault::new("normal", format!("{normal:?}"), limit));
        }
        let point = plane.point_mm;
        if !point.iter().all(|v| v.is_finite()) {
            return Err(Fault::new(
                "point_mm",
                format!("{point:?}"),
                "three numbers",
            ));
        }
        let kept = self
            .ridden
            .sawn(plane)
            .and_then(|ridden| Some((self.with_floors(&ridden, &self.floor_mm)?, ridden)));
        let Some((kept, ridden)) = kept else {
            let limit = "some stone must be left on the kept side";
            return Err(Fault::new("point_mm", format!("{point:?}"), limit));
        };
        if let Some(name) = name {
            let beyond = CutPlane {
                point_mm: std::array::from_fn(|d| point[d] + kerf.mm() * normal[d] / size),
                normal: normal.map(|v| -v),
            };
            let Some(stone) = self.stone.sawn(&beyond) else {
                return Err(Fault::new("offcut", name, "nothing comes off on that side"));
            };
            self.offcuts.push(Offcut {
                event: no,
                name: name.to_owned(),
                stone,
            });
        }
        self.stone = kept;
        self.ridden = ridden;
        Ok(())
    }

    /// The solid with its windows and dishes; weight and volume go on from those
    /// of the stone as it is, by what the layers hold.
    fn with_floors(&self, ridden: &Stone, floor_mm: &[f32]) -> Option<Stone> {
        let mut stone = ridden.lowered_to(floor_mm)?;
        let share = stone.layered_volume().mm3() / self.stone.layered_volume().mm3();
        stone.weight = (self.stone.weight.0 * share, self.stone.weight.1 * share);
        stone.volume = (self.stone.volume.0 * share, self.stone.volume.1 * share);
        Some(stone)
    }

    fn grind(&mut self, place: &Ground, removed: &Removed) -> Result<(), Fault> {
        if let Ground::Face(Some(spot)) | Ground::Back(Some(spot)) = place {
            self.on_stone("at_mm", spot.at_mm)?;
            length("radius_mm", spot.radius, 0.1, 200.0)?;
        }
        let depth = match removed {
            Removed::Depth(depth) => *depth,
            Removed::Weights { before, after } => self.depth_by_weight(place, *before, *after)?,
        };
        length("depth_mm", depth, 0.0, DEEPEST_MM)?;
        let Some((stone, ridden, floor_mm)) = self.ground(place, depth) else {
            let value = format!("{:.2}", depth.mm());
            return Err(Fault::new("depth_mm", value, "some stone must be left"));
        };
        (self.stone, self.ridden, self.floor_mm) = (stone, ridden, floor_mm);
        Ok(())
    }

    /// The stone, what the wheel rides on, and the floors, after this much was
    /// ground off; `None` where nothing is left.
    ///
    /// A wheel on the whole face touches high ground only: the floor of a window
    /// stays until the face comes down to it.
    fn ground(&self, place: &Ground, depth: Length) -> Option<(Stone, Stone, Vec<f32>)> {
        let mut floor_mm = self.floor_mm.clone();
        let ridden = match place {
            Ground::Flat => {
                let level = (self.stone.height_range_mm().1 - depth.mm()) as f32;
                self.ridden.lowered_to(&vec![level; self.floor_mm.len()])?
            }
            Ground::Face(None) => self.ridden.ground_from_above(depth, None)?,
            Ground::Face(Some(spot)) => {
                let dished = self.stone.ground_from_above(depth, Some(spot))?;
                for (k, floor) in floor_mm.iter_mut().enumerate() {
                    if spot.share(dished.grid.at_index(k)) > 0.0 && self.stone.inside(k) {
                        // Dug through: no stone is left in this column.
                        let top = dished.top_mm[k];
                        *floor = floor.min(if top.is_finite() {
                            top
                        } else {
                            f32::NEG_INFINITY
                        });
                    }
                }
                self.ridden.clone()
            }
            Ground::Back(spot) => self.ridden.ground_from_below(depth, spot.as_ref())?,
            Ground::Side { toward } => self.ridden.ground_from_the_side(*toward, depth)?,
        };
        Some((self.with_floors(&ridden, &floor_mm)?, ridden, floor_mm))
    }

    /// Bisection: what comes off grows with the depth.
    fn depth_by_weight(&self, place: &Ground, before: Mass, after: Mass) -> Result<Length, Fault> {
        let (b, a) = (before.carats(), after.carats());
        let refuse =
            |limit: &str| Fault::new("weights_ct", format!("{b} before, {a} after"), limit);
        if !(a > 0.0 && b > a && b.is_finite()) {
            return Err(refuse(
                "it must weigh less after than before, and more than nothing",
            ));
        }
        let wanted = (before - after).volume_at(self.stone.gravity.value);
        let whole = self.stone.layered_volume();
        if wanted >= whole {
            return Err(refuse("that is more than stands there"));
        }
        let (mut low, mut high) = (0.0, DEEPEST_MM);
        for _ in 0..40 {
            let middle = 0.5 * (low + high);
            let left = self
                .ground(place, Length::from_mm(middle))
                .map_or(Volume::ZERO, |(stone, ..)| stone.layered_volume());
            if whole - left < wanted {
                low = middle;
            } else {
                high = middle;
            }
        }
        Ok(Length::from_mm(0.5 * (low + high)))
    }

    fn see(&mut self, bar: usize, at_mm: [f64; 2], what: &Sight) -> Result<(), Fault> {
        let face_mm = self.on_stone("at_mm", at_mm)?;
        match *what {
            Sight::BarTop(top) => self.sighted(
                bar,
                at_mm,
                Seen::Measured {
                    top: Some(top),
                    bottom: None,
                    thickness: None,
                },
            ),
            Sight::Thickness(thickness) => {
                length("thickness_mm", thickness.value, 0.0, DEEPEST_MM)?;
                self.sighted(
                    bar,
                    at_mm,
                    Seen::Measured {
                        top: None,
                        bottom: None,
                        thickness: Some(thickness),
                    },
                )
            }
            Sight::ColourLeft(left) => {
                length("colour_left_mm", left.value, 0.0, DEEPEST_MM)?;
                let bottom = Reading {
                    value: Length::from_mm(face_mm) - left.value,
                    sigma: left.sigma,
                };
                self.sighted(
                    bar,
                    at_mm,
                    Seen::Measured {
                        top: None,
                        bottom: Some(bottom),
                        thickness: None,
                    },
                )
            }
            Sight::AtLeast(thickness) => {
                length("at_least_mm", thickness, 0.0, DEEPEST_MM)?;
                self.sighted(
                    bar,
                    at_mm,
                    Seen::AtLeast {
                        thickness,
                        top: None,
                    },
                )
            }
            Sight::Absent => self.sighted(bar, at_mm, Seen::Absent),
            Sight::StillCovered => {
                self.covered_mm.push([at_mm[0], at_mm[1], face_mm]);
                Ok(())
            }
            Sight::Speck { kind, diameter } => {
                length("diameter_mm", diameter, 0.01, 20.0)?;
                self.face_look().specks.push(SpeckSeen {
                    kind,
                    at_mm: Some([at_mm[0], at_mm[1], face_mm]),
                    diameter,
                });
                Ok(())
            }
            Sight::Crack { to_mm, dip, depth } => {
                length("depth_mm", depth, 0.0, 100.0)?;
                self.evidence.cracks.push(CrackTrace {
                    trace_mm: vec![at_mm, to_mm],
                    dip,
                    depth,
                });
                Ok(())
            }
            Sight::Hazy => {
                self.evidence.torch = Some(TorchLook::Hazy);
                Ok(())
            }
            Sight::Clean {
                area,
                smallest_seen,
            } => {
                length("smallest_seen_mm", smallest_seen, 0.01, 5.0)?;
                let area = area.unwrap_or_else(|| self.stone.outline_area());
                self.evidence.exposures.push(Exposure {
                    kind: ExposureKind::Face,
                    area,
                    smallest_seen,
                    specks: Vec::new(),
                });
                Ok(())
            }
        }
    }

    fn sighted(&mut self, bar: usize, at_mm: [f64; 2], seen: Seen) -> Result<(), Fault> {
        let bars = &mut self.evidence.bars;
        if bars.is_empty() {
            bars.push(BarEvidence {
                name: "A".to_owned(),
                sightings: Vec::new(),
                quick: None,
            });
        }
        let count = bars.len();
        let Some(bar) = bars.get_mut(bar) else {
            let limit = format!("this stone has {count}");
            return Err(Fault::new("bar", bar + 1, limit));
        };
        bar.sightings.push(Sighting { at_mm, seen });
        Ok(())
    }

    /// The look over the face that single specks belong to: the last one.
    fn face_look(&mut self) -> &mut Exposure {
        let exposures = &mut self.evidence.exposures;
        let last_is_face = exposures
            .last()
            .is_some_and(|look| look.kind == ExposureKind::Face);
        if !last_is_face {
            exposures.push(Exposure {
                kind: ExposureKind::Face,
                area: self.stone.outline_area(),
                smallest_seen: Length::from_mm(SMALLEST_SEEN_MM),
                specks: Vec::new(),
            });
        }
        exposures.last_mut().expect("one was just added")
    }

    /// The face's height at a place of the stone, mm.
    fn on_stone(&self, field: &str, at_mm: [f64; 2]) -> Result<f64, Fault> {
        self.stone
            .skin_at(at_mm)
            .map(|(top, _)| top)
            .ok_or_else(|| {
                Fault::new(
                    field,
                    format!("{}, {}", at_mm[0], at_mm[1]),
                    "it must lie on the stone as it is now",
                )
            })
    }
}

fn length(field: &str, value: Length, low: f64, high: f64) -> Result<(), Fault> {
    if (low..=high).contains(&value.mm()) {
        Ok(())
    } else {
        let limit = format!("it must lie between {low} and {high} mm");
        Err(Fault::new(field, value.mm(), limit))
    }
}
