//! Bench events as the store keeps them: a kind, and a JSON object.
//!
//! Shapes are only ever added to; a field that is missing has its old meaning.

use crate::records::{EventRecord, NewEvent};
use opal_bench::{Event, Ground, Removed, Sight};
use opal_evidence::{Fault, Faults, Reading, SpeckKind};
use opal_geom::CutPlane;
use opal_stone::Spot;
use opal_units::{Angle, Area, Length, Mass};
use serde::{Deserialize, Serialize};
use serde_json::{Value, json};

/// Error of a height or thickness read at the bench where none is told, mm, one
/// standard deviation. Common practice, no source: callipers by hand.
const SIGMA_MM: f64 = 0.1;
/// The smallest speck seen where nobody said, mm (common practice, no source).
const SMALLEST_SEEN_MM: f64 = 0.2;
/// Dip of a crack where nobody said: upright.
const DIP_DEG: f64 = 90.0;

fn sigma() -> f64 {
    SIGMA_MM
}
fn smallest() -> f64 {
    SMALLEST_SEEN_MM
}
fn upright() -> f64 {
    DIP_DEG
}
fn kerf() -> f64 {
    0.5
}
fn main_bar() -> usize {
    1
}

/// Where an event's body keeps the mark that a device gave it.
pub(crate) const ONCE: &str = "once";

#[derive(Clone, Debug, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "kebab-case", deny_unknown_fields)]
enum EventDoc {
    Weighed {
        weight_ct: f64,
    },
    Sawn {
        point_mm: [f64; 3],
        normal: [f64; 3],
        #[serde(default = "kerf")]
        kerf_mm: f64,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        offcut: Option<String>,
    },
    Ground {
        place: PlaceDoc,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        depth_mm: Option<f64>,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        weights_ct: Option<[f64; 2]>,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        at_mm: Option<[f64; 2]>,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        radius_mm: Option<f64>,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        toward: Option<[f64; 2]>,
    },
    WindowOpened {
        at_mm: [f64; 2],
        radius_mm: f64,
        depth_mm: f64,
    },
    Seen {
        /// Counted from 1, as people count.
        #[serde(default = "main_bar")]
        bar: usize,
        at_mm: [f64; 2],
        what: SightDoc,
    },
    WheelChanged {
        to: String,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        minutes: Option<f64>,
    },
    Photo {
        file: String,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        sha256: Option<String>,
    },
    Note {
        text: String,
    },
    Dropped {},
    Broken {
        #[serde(default, skip_serializing_if = "Option::is_none")]
        point_mm: Option<[f64; 3]>,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        normal: Option<[f64; 3]>,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        other: Option<String>,
    },
    Undone {
        event: usize,
    },
}

#[derive(Clone, Copy, Debug, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
enum PlaceDoc {
    Face,
    Flat,
    Back,
    Side,
}

#[derive(Clone, Copy, Debug, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
enum SightDoc {
    BarTop {
        mm: f64,
        #[serde(default = "sigma")]
        sigma_mm: f64,
    },
    Thickness {
        mm: f64,
        #[serde(default = "sigma")]
        sigma_mm: f64,
    },
    ColourLeft {
        mm: f64,
        #[serde(default = "sigma")]
        sigma_mm: f64,
    },
    AtLeast {
        mm: f64,
    },
    Absent,
    StillCovered,
    Speck {
        speck: SpeckDoc,
        diameter_mm: f64,
    },
    Crack {
        to_mm: [f64; 2],
        #[serde(default = "upright")]
        dip_deg: f64,
        depth_mm: f64,
    },
    Hazy,
    Clean {
        #[serde(default, skip_serializing_if = "Option::is_none")]
        area_mm2: Option<f64>,
        #[serde(default = "smallest")]
        smallest_seen_mm: f64,
    },
}

#[derive(Clone, Copy, Debug, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
enum SpeckDoc {
    Potch,
    Sand,
    Lens,
}

/// An event as JSON: its `kind`, and its particulars beside it.
///
/// # Errors
/// None that is known: every field is text, a number or a list.
pub fn event_to_json(event: &Event) -> Result<Value, serde_json::Error> {
    serde_json::to_value(doc_of(event))
}

/// An event from JSON.
///
/// # Errors
/// No such kind, a field that is missing, unknown or of another kind.
pub fn event_from_json(value: &Value) -> Result<Event, Faults> {
    let doc: EventDoc = serde_json::from_value(value.clone())
        .map_err(|error| Faults::from(Fault::new("event", value.to_string(), error.to_string())))?;
    event_of(doc)
}

/// What the store keeps of an event.
pub(crate) fn kept(event: &Event) -> Result<NewEvent, serde_json::Error> {
    let mut value = event_to_json(event)?;
    let kind = value
        .as_object_mut()
        .and_then(|object| object.remove("kind"))
        .and_then(|kind| kind.as_str().map(str::to_owned))
        .unwrap_or_default();
    Ok(NewEvent {
        kind,
        body: value.to_string(),
    })
}

/// The bench event in a record; `None` for a record of another kind.
pub(crate) fn of_record(record: &EventRecord) -> Option<Result<Event, Faults>> {
    const KINDS: [&str; 11] = [
        "weighed",
        "sawn",
        "ground",
        "window-opened",
        "seen",
        "wheel-changed",
        "photo",
        "note",
        "dropped",
        "broken",
        "undone",
    ];
    let kind = record.event.kind.as_str();
    if !KINDS.contains(&kind) {
        return None;
    }
    let mut value: Value = serde_json::from_str(&record.event.body).unwrap_or_else(|_| json!({}));
    if let Some(object) = value.as_object_mut() {
        object.insert("kind".to_owned(), json!(kind));
        object.remove(ONCE);
    }
    Some(event_from_json(&value))
}

fn doc_of(event: &Event) -> EventDoc {
    match event {
        Event::Weighed(weight) => EventDoc::Weighed {
            // A carat weight comes back as it was written, not off in the last bit.
            weight_ct: (weight.carats() * 1e9).round() / 1e9,
        },
        Event::Sawn {
            plane,
            kerf,
            offcut,
        } => EventDoc::Sawn {
            point_mm: plane.point_mm,
            normal: plane.normal,
            kerf_mm: kerf.mm(),
            offcut: offcut.clone(),
        },
        Event::Ground { place, removed } => {
            let (name, spot, toward) = match place {
                Ground::Face(spot) => (PlaceDoc::Face, *spot, None),
                Ground::Flat => (PlaceDoc::Flat, None, None),
                Ground::Back(spot) => (PlaceDoc::Back, *spot, None),
                Ground::Side { toward } => (PlaceDoc::Side, None, Some(*toward)),
            };
            let (depth_mm, weights_ct) = match removed {
                Removed::Depth(depth) => (Some(depth.mm()), None),
                Removed::Weights { before, after } => {
                    (None, Some([before.carats(), after.carats()]))
                }
            };
            EventDoc::Ground {
                place: name,
                depth_mm,
                weights_ct,
                at_mm: spot.map(|spot| spot.at_mm),
                radius_mm: spot.map(|spot| spot.radius.mm()),
                toward,
            }
        }
        Event::WindowOpened { spot, depth } => EventDoc::WindowOpened {
            at_mm: spot.at_mm,
            radius_mm: spot.radius.mm(),
            depth_mm: depth.mm(),
        },
        Event::Seen { bar, at_mm, what } => EventDoc::Seen {
            bar: bar + 1,
            at_mm: *at_mm,
            what: sight_doc(what),
        },
        Event::WheelChanged {
            to,
            minutes_on_the_last,
        } => EventDoc::WheelChanged {
            to: to.clone(),
            minutes: *minutes_on_the_last,
        },
        Event::Photo { file, sha256 } => EventDoc::Photo {
            file: file.clone(),
            sha256: sha256.clone(),
        },
        Event::Note(text) => EventDoc::Note { text: text.clone() },
        Event::Dropped => EventDoc::Dropped {},
        Event::Broken { along, other } => EventDoc::Broken {
            point_mm: along.map(|plane| plane.point_mm),
            normal: along.map(|plane| plane.normal),
            other: other.clone(),
        },
        Event::Undone { event } => EventDoc::Undone { event: *event },
    }
}

fn sight_doc(what: &Sight) -> SightDoc {
    match *what {
        Sight::BarTop(reading) => SightDoc::BarTop {
            mm: reading.value.mm(),
            sigma_mm: reading.sigma.mm(),
        },
        Sight::Thickness(reading) => SightDoc::Thickness {
            mm: reading.value.mm(),
            sigma_mm: reading.sigma.mm(),
        },
        Sight::ColourLeft(reading) => SightDoc::ColourLeft {
            mm: reading.value.mm(),
            sigma_mm: reading.sigma.mm(),
        },
        Sight::AtLeast(thickness) => SightDoc::AtLeast { mm: thickness.mm() },
        Sight::Absent => SightDoc::Absent,
        Sight::StillCovered => SightDoc::StillCovered,
        Sight::Speck { kind, diameter } => SightDoc::Speck {
            speck: match kind {
                SpeckKind::Potch => SpeckDoc::Potch,
                SpeckKind::Sand => SpeckDoc::Sand,
                SpeckKind::Lens => SpeckDoc::Lens,
            },
            diameter_mm: diameter.mm(),
        },
        Sight::Crack { to_mm, dip, depth } => SightDoc::Crack {
            to_mm,
            dip_deg: dip.degrees(),
            depth_mm: depth.mm(),
        },
        Sight::Hazy => SightDoc::Hazy,
        Sight::Clean {
            area,
            smallest_seen,
        } => SightDoc::Clean {
            area_mm2: area.map(Area::mm2),
            smallest_seen_mm: smallest_seen.mm(),
        },
    }
}

fn event_of(doc: EventDoc) -> Result<Event, Faults> {
    Ok(match doc {
        EventDoc::Weighed { weight_ct } => Event::Weighed(Mass::from_carats(weight_ct)),
        EventDoc::Sawn {
            point_mm,
            normal,
            kerf_mm,
            offcut,
        } => Event::Sawn {
            plane: CutPlane { point_mm, normal },
            kerf: Length::from_mm(kerf_mm),
            offcut,
        },
        EventDoc::Ground {
            place,
            depth_mm,
            weights_ct,
            at_mm,
            radius_mm,
            toward,
        } => {
            let spot = match (at_mm, radius_mm) {
                (Some(at_mm), Some(radius_mm)) => Some(Spot {
                    at_mm,
                    radius: Length::from_mm(radius_mm),
                }),
                (None, None) => None,
                _ => {
                    let limit = "at_mm and radius_mm go together";
                    return Err(Fault::new("at_mm", "half a spot", limit).into());
                }
            };
            let place = match (place, toward) {
                (PlaceDoc::Face, _) => Ground::Face(spot),
                (PlaceDoc::Flat, _) => Ground::Flat,
                (PlaceDoc::Back, _) => Ground::Back(spot),
                (PlaceDoc::Side, Some(toward)) => Ground::Side { toward },
                (PlaceDoc::Side, None) => {
                    return Err(Fault::new("toward", "missing", "a side looks some way").into());
                }
            };
            let removed = match (depth_mm, weights_ct) {
                (Some(mm), None) => Removed::Depth(Length::from_mm(mm)),
                (None, Some([before, after])) => Removed::Weights {
                    before: Mass::from_carats(before),
                    after: Mass::from_carats(after),
                },
                _ => {
                    let limit = "give depth_mm or weights_ct, one of the two";
                    return Err(Fault::new("depth_mm", "not told once", limit).into());
                }
            };
            Event::Ground { place, removed }
        }
        EventDoc::WindowOpened {
            at_mm,
            radius_mm,
            depth_mm,
        } => Event::WindowOpened {
            spot: Spot {
                at_mm,
                radius: Length::from_mm(radius_mm),
            },
            depth: Length::from_mm(depth_mm),
        },
        EventDoc::Seen { bar, at_mm, what } => Event::Seen {
            bar: bar
                .checked_sub(1)
                .ok_or_else(|| Fault::new("bar", bar, "bars are counted from 1"))?,
            at_mm,
            what: sight_of(what),
        },
        EventDoc::WheelChanged { to, minutes } => Event::WheelChanged {
            to,
            minutes_on_the_last: minutes,
        },
        EventDoc::Photo { file, sha256 } => Event::Photo { file, sha256 },
        EventDoc::Note { text } => Event::Note(text),
        EventDoc::Dropped {} => Event::Dropped,
        EventDoc::Broken {
            point_mm,
            normal,
            other,
        } => Event::Broken {
            along: point_mm
                .zip(normal)
                .map(|(point_mm, normal)| CutPlane { point_mm, normal }),
            other,
        },
        EventDoc::Undone { event } => Event::Undone { event },
    })
}

fn sight_of(doc: SightDoc) -> Sight {
    let reading = |mm: f64, sigma_mm: f64| Reading {
        value: Length::from_mm(mm),
        sigma: Length::from_mm(sigma_mm),
    };
    match doc {
        SightDoc::BarTop { mm, sigma_mm } => Sight::BarTop(reading(mm, sigma_mm)),
        SightDoc::Thickness { mm, sigma_mm } => Sight::Thickness(reading(mm, sigma_mm)),
        SightDoc::ColourLeft { mm, sigma_mm } => Sight::ColourLeft(reading(mm, sigma_mm)),
        SightDoc::AtLeast { mm } => Sight::AtLeast(Length::from_mm(mm)),
        SightDoc::Absent => Sight::Absent,
        SightDoc::StillCovered => Sight::StillCovered,
        SightDoc::Speck { speck, diameter_mm } => Sight::Speck {
            kind: match speck {
                SpeckDoc::Potch => SpeckKind::Potch,
                SpeckDoc::Sand => SpeckKind::Sand,
                SpeckDoc::Lens => SpeckKind::Lens,
            },
            diameter: Length::from_mm(diameter_mm),
        },
        SightDoc::Crack {
            to_mm,
            dip_deg,
            depth_mm,
        } => Sight::Crack {
            to_mm,
            dip: Angle::from_degrees(dip_deg),
            depth: Length::from_mm(depth_mm),
        },
        SightDoc::Hazy => Sight::Hazy,
        SightDoc::Clean {
            area_mm2,
            smallest_seen_mm,
        } => Sight::Clean {
            area: area_mm2.map(Area::from_mm2),
            smallest_seen: Length::from_mm(smallest_seen_mm),
        },
    }
}

/// An event in plain words.
pub(crate) fn words(event: &Event) -> String {
    match event {
        Event::Weighed(weight) => format!("weighed: {:.2} ct", weight.carats()),
        Event::Sawn { offcut, .. } => match offcut {
            Some(name) => format!("sawn; what came off is kept as {name}"),
            None => "sawn".to_owned(),
        },
        Event::Ground { place, removed } => {
            let place = match place {
                Ground::Face(None) => "the whole face".to_owned(),
                Ground::Flat => "the top, flat".to_owned(),
                Ground::Face(Some(spot)) => {
                    format!("the face at {:.1}, {:.1}", spot.at_mm[0], spot.at_mm[1])
                }
                Ground::Back(_) => "the back".to_owned(),
                Ground::Side { .. } => "a side".to_owned(),
            };
            match removed {
                Removed::Depth(depth) => format!("ground: {:.2} mm off {place}", depth.mm()),
                Removed::Weights { before, after } => format!(
                    "ground: {:.2} ct off {place}",
                    before.carats() - after.carats()
                ),
            }
        }
        Event::WindowOpened { spot, depth } => format!(
            "window opened at {:.1}, {:.1}, {:.1} mm deep",
            spot.at_mm[0],
            spot.at_mm[1],
            depth.mm()
        ),
        Event::Seen { at_mm, what, .. } => {
            let what = match what {
                Sight::BarTop(r) => format!("top of the bar at {:.2} mm", r.value.mm()),
                Sight::Thickness(r) => format!("bar {:.2} mm thick", r.value.mm()),
                Sight::ColourLeft(r) => format!("{:.2} mm of colour left", r.value.mm()),
                Sight::AtLeast(t) => format!("bar at least {:.2} mm thick", t.mm()),
                Sight::Absent => "no colour".to_owned(),
                Sight::StillCovered => "still potch".to_owned(),
                Sight::Speck { kind, diameter } => {
                    format!("speck ({}), {:.1} mm", kind.word(), diameter.mm())
                }
                Sight::Crack { .. } => "crack".to_owned(),
                Sight::Hazy => "hazy".to_owned(),
                Sight::Clean { .. } => "looked over, clean".to_owned(),
            };
            format!("seen at {:.1}, {:.1}: {what}", at_mm[0], at_mm[1])
        }
        Event::WheelChanged {
            to,
            minutes_on_the_last,
        } => match minutes_on_the_last {
            Some(minutes) => format!("wheel changed to {to} after {minutes:.0} min"),
            None => format!("wheel: {to}"),
        },
        Event::Photo { file, .. } => format!("photo: {file}"),
        Event::Note(text) => format!("note: {text}"),
        Event::Dropped => "dropped".to_owned(),
        Event::Broken { .. } => "broken".to_owned(),
        Event::Undone { event } => format!("event {event} undone"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn events_go_round() {
        for text in [
            r#"{"kind":"weighed","weight_ct":41.2}"#,
            r#"{"kind":"ground","place":"face","depth_mm":0.2}"#,
            r#"{"kind":"ground","place":"side","depth_mm":0.2,"toward":[1.0,0.0]}"#,
            r#"{"kind":"seen","bar":1,"at_mm":[3.0,4.0],"what":"still-covered"}"#,
            r#"{"kind":"seen","bar":1,"at_mm":[3.0,4.0],"what":{"bar-top":{"mm":7.0,"sigma_mm":0.1}}}"#,
            r#"{"kind":"dropped"}"#,
            r#"{"kind":"undone","event":2}"#,
        ] {
            let value: Value = serde_json::from_str(text).expect("JSON");
            let event = event_from_json(&value).expect("an event");
            assert_eq!(event_to_json(&event).expect("JSON"), value);
            let record = EventRecord {
                at: "2026-01-02T03:04:05Z".parse().expect("a time"),
                event: kept(&event).expect("kept"),
            };
            let back = of_record(&record).expect("a bench event").expect("reads");
            assert_eq!(back, event);
        }
    }

    #[test]
    fn faults_name_the_field() {
        let half = json!({"kind": "ground", "place": "side", "depth_mm": 0.2});
        let faults = event_from_json(&half).expect_err("no direction");
        assert_eq!(faults.0[0].field, "toward");
        let unknown = json!({"kind": "ground", "place": "face", "deep": 0.2});
        assert!(event_from_json(&unknown).is_err());
    }
}
