//! `log`: what happened to a stone at the bench.

use super::output::{say, say_json};
use crate::args::Args;
use crate::exit::Failure;
use crate::wire;
use clap::{Args as ClapArgs, Subcommand, ValueEnum};
use opal_bench::{Event, Ground, Removed, Sight};
use opal_evidence::{Reading, SpeckKind};
use opal_geom::CutPlane;
use opal_job::{Ask, AtTheBench};
use opal_stone::Spot;
use opal_units::{Angle, Area, Length, Mass};
use std::path::PathBuf;

#[derive(Debug, ClapArgs)]
pub(crate) struct Log {
    /// The stone, by name or number.
    stone: String,
    #[command(subcommand)]
    event: What,
    /// Answer in the machine form.
    #[arg(long, global = true)]
    json: bool,
}

#[derive(Debug, Subcommand)]
enum What {
    /// Show all that was logged, and what the stone is now.
    List,
    /// It was weighed.
    Weighed {
        /// What the scale said, ct.
        #[arg(value_name = "CT")]
        weight_ct: f64,
    },
    /// It was sawn; the side that the normal points to came off.
    Sawn {
        /// A point of the cut, on the face that stays: x,y,z in mm.
        #[arg(
            long,
            value_name = "X,Y,Z",
            value_delimiter = ',',
            num_args = 1,
            required = true,
            allow_hyphen_values = true
        )]
        point: Vec<f64>,
        /// Which way the piece that came off lies: x,y,z.
        #[arg(
            long,
            value_name = "X,Y,Z",
            value_delimiter = ',',
            num_args = 1,
            required = true,
            allow_hyphen_values = true
        )]
        normal: Vec<f64>,
        /// What the blade took, mm.
        #[arg(long, value_name = "MM", default_value_t = 0.5)]
        kerf: f64,
        /// Keep what came off, under this name.
        #[arg(long, value_name = "NAME")]
        offcut: Option<String>,
    },
    /// Stone was ground off: give --depth, or --before and --after.
    Ground {
        /// Where.
        #[arg(value_enum)]
        place: Place,
        /// By callipers, mm.
        #[arg(long, value_name = "MM", conflicts_with_all = ["before", "after"], required_unless_present = "before")]
        depth: Option<f64>,
        /// By the scale, before, ct.
        #[arg(long, value_name = "CT", requires = "after")]
        before: Option<f64>,
        /// By the scale, after, ct.
        #[arg(long, value_name = "CT", requires = "before")]
        after: Option<f64>,
        /// Only here: x,y in mm.
        #[arg(
            long,
            value_name = "X,Y",
            value_delimiter = ',',
            num_args = 1,
            requires = "radius",
            allow_hyphen_values = true
        )]
        at: Vec<f64>,
        /// And so far around, mm.
        #[arg(long, value_name = "MM")]
        radius: Option<f64>,
        /// For a side: which way it looks, x,y.
        #[arg(
            long,
            value_name = "X,Y",
            value_delimiter = ',',
            num_args = 1,
            allow_hyphen_values = true
        )]
        toward: Vec<f64>,
    },
    /// A window was ground into the skin.
    Window {
        /// Where: x,y in mm.
        #[arg(
            long,
            value_name = "X,Y",
            value_delimiter = ',',
            num_args = 1,
            required = true,
            allow_hyphen_values = true
        )]
        at: Vec<f64>,
        /// How deep, mm.
        #[arg(long, value_name = "MM")]
        depth: f64,
        /// How far around, mm.
        #[arg(long, value_name = "MM", default_value_t = 2.0)]
        radius: f64,
    },
    /// Something was seen.
    Seen {
        /// What.
        #[arg(value_enum)]
        what: Seen,
        /// Where: x,y in mm.
        #[arg(
            long,
            value_name = "X,Y",
            value_delimiter = ',',
            num_args = 1,
            required = true,
            allow_hyphen_values = true
        )]
        at: Vec<f64>,
        /// How much, mm: the height of a bar's top, a thickness, a speck's size, a crack's depth.
        #[arg(long, value_name = "MM", allow_hyphen_values = true)]
        mm: Option<f64>,
        /// One standard deviation of that, mm.
        #[arg(long, value_name = "MM", default_value_t = 0.1)]
        sigma: f64,
        /// Which bar, counted from 1.
        #[arg(long, value_name = "N", default_value_t = 1)]
        bar: usize,
        /// For a crack: its other end, x,y in mm.
        #[arg(
            long,
            value_name = "X,Y",
            value_delimiter = ',',
            num_args = 1,
            allow_hyphen_values = true
        )]
        to: Vec<f64>,
        /// For a look that found nothing: how much was looked at, mm² [default: the face].
        #[arg(long, value_name = "MM2")]
        area: Option<f64>,
    },
    /// Another wheel is on the spindle.
    Wheel {
        /// Its name.
        to: String,
        /// Minutes that the last one ran.
        #[arg(long, value_name = "MIN")]
        minutes: Option<f64>,
    },
    /// A photo was taken.
    Photo {
        /// Its file; the fingerprint of what it holds now is kept with its name.
        file: PathBuf,
    },
    /// Anything worth keeping.
    Note {
        /// The words.
        text: String,
    },
    /// It was dropped.
    Dropped,
    /// It broke: along a plane, or into pieces that need looking over anew.
    Broken {
        /// A point of the break: x,y,z in mm.
        #[arg(
            long,
            value_name = "X,Y,Z",
            value_delimiter = ',',
            num_args = 1,
            requires = "normal",
            allow_hyphen_values = true
        )]
        point: Vec<f64>,
        /// Which way the piece lies that broke off: x,y,z.
        #[arg(
            long,
            value_name = "X,Y,Z",
            value_delimiter = ',',
            num_args = 1,
            requires = "point",
            allow_hyphen_values = true
        )]
        normal: Vec<f64>,
        /// Keep what broke off, under this name.
        #[arg(long, value_name = "NAME", requires = "point")]
        other: Option<String>,
    },
    /// An earlier event was a mistake.
    Undo {
        /// Its number, as `list` shows it.
        event: usize,
    },
}

#[derive(Clone, Copy, Debug, Eq, PartialEq, ValueEnum)]
enum Place {
    /// From above, along the face as it is.
    Face,
    /// From above, flat: the depth at the highest place.
    Flat,
    /// From below.
    Back,
    /// From a side.
    Side,
}

#[derive(Clone, Copy, Debug, Eq, PartialEq, ValueEnum)]
enum Seen {
    /// The top of the bar, at --mm.
    BarTop,
    /// The bar is --mm thick, from its own top.
    Thickness,
    /// --mm of colour are left below the face.
    ColourLeft,
    /// The bar is at least --mm thick.
    AtLeast,
    /// No colour here, all the way down.
    Absent,
    /// The face still shows potch.
    Potch,
    /// A speck of potch, --mm across.
    PotchSpeck,
    /// A grain of sand, --mm across.
    Sand,
    /// A crack, --mm deep, to --to.
    Crack,
    /// A milky haze.
    Hazy,
    /// Looked over, nothing found.
    Clean,
}

pub(super) fn run(args: &Args, command: &Log) -> Result<(), Failure> {
    let bench = wire::bench(args)?;
    let ask = Ask::default();
    let at = match &command.event {
        What::List => bench.at_the_bench(&command.stone, &ask)?,
        what => bench.log(&command.stone, event(what)?, &ask)?,
    };
    tell(&at, command.json)
}

fn tell(at: &AtTheBench, json: bool) -> Result<(), Failure> {
    let doc = at.log_doc()?;
    if json {
        say_json(&doc)
    } else {
        say(&opal_report::text::log(&doc))
    }
}

fn numbers<const N: usize>(name: &str, values: &[f64]) -> Result<[f64; N], Failure> {
    values.try_into().map_err(|_| {
        Failure::user(format!(
            "{name} has {} numbers, it must have {N}, parted by commas",
            values.len()
        ))
    })
}

fn event(what: &What) -> Result<Event, Failure> {
    let mm = Length::from_mm;
    Ok(match what {
        What::List => return Err(Failure::internal("list is no event")),
        What::Weighed { weight_ct } => Event::Weighed(Mass::from_carats(*weight_ct)),
        What::Sawn {
            point,
            normal,
            kerf,
            offcut,
        } => Event::Sawn {
            plane: CutPlane {
                point_mm: numbers("--point", point)?,
                normal: numbers("--normal", normal)?,
            },
            kerf: mm(*kerf),
            offcut: offcut.clone(),
        },
        What::Ground {
            place,
            depth,
            before,
            after,
            at,
            radius,
            toward,
        } => {
            let spot = match radius {
                Some(radius) => Some(Spot {
                    at_mm: numbers("--at", at)?,
                    radius: mm(*radius),
                }),
                None => None,
            };
            Event::Ground {
                place: match place {
                    Place::Face => Ground::Face(spot),
                    Place::Flat => Ground::Flat,
                    Place::Back => Ground::Back(spot),
                    Place::Side => Ground::Side {
                        toward: numbers("--toward", toward)?,
                    },
                },
                removed: match (depth, before, after) {
                    (Some(depth), _, _) => Removed::Depth(mm(*depth)),
                    (None, Some(before), Some(after)) => Removed::Weights {
                        before: Mass::from_carats(*before),
                        after: Mass::from_carats(*after),
                    },
                    _ => return Err(Failure::user("give --depth, or --before and --after")),
                },
            }
        }
        What::Window { at, depth, radius } => Event::WindowOpened {
            spot: Spot {
                at_mm: numbers("--at", at)?,
                radius: mm(*radius),
            },
            depth: mm(*depth),
        },
        What::Seen {
            what,
            at,
            mm: size,
            sigma,
            bar,
            to,
            area,
        } => Event::Seen {
            bar: bar
                .checked_sub(1)
                .ok_or_else(|| Failure::user("--bar is 0, bars are counted from 1"))?,
            at_mm: numbers("--at", at)?,
            what: sight(*what, *size, *sigma, to, *area)?,
        },
        What::Wheel { to, minutes } => Event::WheelChanged {
            to: to.clone(),
            minutes_on_the_last: *minutes,
        },
        What::Photo { file } => {
            let bytes = std::fs::read(file).map_err(|error| {
                Failure::user(format!("{} cannot be read: {error}", file.display()))
            })?;
            Event::Photo {
                file: file.display().to_string(),
                sha256: Some(opal_job::sha256(&bytes)),
            }
        }
        What::Note { text } => Event::Note(text.clone()),
        What::Dropped => Event::Dropped,
        What::Broken {
            point,
            normal,
            other,
        } => Event::Broken {
            along: if point.is_empty() {
                None
            } else {
                Some(CutPlane {
                    point_mm: numbers("--point", point)?,
                    normal: numbers("--normal", normal)?,
                })
            },
            other: other.clone(),
        },
        What::Undo { event } => Event::Undone { event: *event },
    })
}

fn sight(
    what: Seen,
    size: Option<f64>,
    sigma: f64,
    to: &[f64],
    area: Option<f64>,
) -> Result<Sight, Failure> {
    let mm = || {
        size.map(Length::from_mm)
            .ok_or_else(|| Failure::user("this needs --mm"))
    };
    let reading = || -> Result<Reading, Failure> {
        Ok(Reading {
            value: mm()?,
            sigma: Length::from_mm(sigma),
        })
    };
    Ok(match what {
        Seen::BarTop => Sight::BarTop(reading()?),
        Seen::Thickness => Sight::Thickness(reading()?),
        Seen::ColourLeft => Sight::ColourLeft(reading()?),
        Seen::AtLeast => Sight::AtLeast(mm()?),
        Seen::Absent => Sight::Absent,
        Seen::Potch => Sight::StillCovered,
        Seen::PotchSpeck => Sight::Speck {
            kind: SpeckKind::Potch,
            diameter: mm()?,
        },
        Seen::Sand => Sight::Speck {
            kind: SpeckKind::Sand,
            diameter: mm()?,
        },
        Seen::Crack => Sight::Crack {
            to_mm: numbers("--to", to)?,
            dip: Angle::from_degrees(90.0),
            depth: mm()?,
        },
        Seen::Hazy => Sight::Hazy,
        Seen::Clean => Sight::Clean {
            area: area.map(Area::from_mm2),
            smallest_seen: size.map_or(Length::from_mm(0.2), Length::from_mm),
        },
    })
}
