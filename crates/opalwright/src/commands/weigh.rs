//! `weigh`: specific gravity in water, or a weight from sizes.

use super::output::{say, say_json};
use crate::exit::Failure;
use clap::Args as ClapArgs;
use opal_grade::{
    Known, SoakFacts, StoneSizes, WaterWeighing, WeighingSetup, gravity_from_sizes, weigh_in_water,
    weight_from_sizes,
};
use opal_report::json::WeighingDoc;
use opal_units::{Length, Mass, SpecificGravity};

#[derive(Debug, ClapArgs)]
#[command(
    after_help = "In water:   opalwright weigh --sound --air 5.200 --water 2.729 --temp 21\n\
                        From sizes: opalwright weigh --sizes 14,10,4.6 --outline oval [--air 5.2]"
)]
#[allow(clippy::struct_excessive_bools)] // each is a word on the command line
pub(crate) struct Weigh {
    /// Dry, in air, ct.
    #[arg(long, value_name = "CT", required_unless_present = "sizes")]
    air: Option<f64>,
    /// Hanging in water, ct.
    #[arg(
        long,
        value_name = "CT",
        requires = "air",
        requires = "temp",
        conflicts_with = "sizes",
        required_unless_present = "sizes"
    )]
    water: Option<f64>,
    /// Temperature of the water, °C.
    #[arg(long, value_name = "C", requires = "water")]
    temp: Option<f64>,
    /// Further weighings at the same temperature: in air,in water, ct; repeatable.
    #[arg(long, value_name = "AIR,WATER", requires = "water")]
    repeat: Vec<String>,
    /// The wire or basket alone in water, ct; left out when tared away.
    #[arg(long, value_name = "CT", default_value_t = 0.0)]
    wire: f64,
    /// Dry weight afterwards, ct.
    #[arg(long, value_name = "CT", requires = "water")]
    dry_after: Option<f64>,
    /// One standard deviation of one reading of the scale, ct.
    #[arg(long, value_name = "CT", default_value_t = 0.005)]
    scale: f64,
    /// One standard deviation of the thermometer, °C.
    #[arg(long, value_name = "C", default_value_t = 0.5)]
    thermometer: f64,
    /// Looked at all round: it takes up no water, and is neither glued, treated nor cracked.
    #[arg(long, conflicts_with_all = ["porous", "glued", "treated", "cracked", "unknown"])]
    sound: bool,
    /// It takes up water.
    #[arg(long)]
    porous: bool,
    /// It is glued: a doublet, a triplet, a repair.
    #[arg(long)]
    glued: bool,
    /// Its colour was put in.
    #[arg(long)]
    treated: bool,
    /// Cracks reach its skin.
    #[arg(long)]
    cracked: bool,
    /// It is set in metal.
    #[arg(long)]
    mounted: bool,
    /// Nobody looked; so it is taken unless --sound is given.
    #[arg(long)]
    unknown: bool,
    /// No water: length,width,height, mm.
    #[arg(long, value_name = "L,W,H", value_delimiter = ',', num_args = 1)]
    sizes: Vec<f64>,
    /// With --sizes: `oval`, `round`, `freeform`, ….
    #[arg(long, value_name = "NAME", default_value = "oval")]
    outline: String,
    /// With --sizes: height of the straight wall, mm.
    #[arg(long, value_name = "MM", requires = "sizes")]
    wall: Option<f64>,
    /// With --sizes: height of the dome half way out, above the wall, mm.
    #[arg(long, value_name = "MM", requires = "sizes")]
    half_way: Option<f64>,
    /// With --sizes: height of a rounded back; 0 for a flat one, mm.
    #[arg(long, value_name = "MM", requires = "sizes")]
    back: Option<f64>,
    /// With --sizes: the setting hides the back.
    #[arg(long, requires = "sizes")]
    back_hidden: bool,
    /// With --sizes and no weight: the specific gravity to reckon with.
    #[arg(long, value_name = "SG", default_value_t = 2.10)]
    gravity: f64,
    /// One standard deviation of it.
    #[arg(long, value_name = "SG", default_value_t = 0.07)]
    gravity_sigma: f64,
    /// Answer in the machine form.
    #[arg(long)]
    json: bool,
}

pub(super) fn run(command: &Weigh) -> Result<(), Failure> {
    let doc = if command.sizes.is_empty() {
        in_water(command)?
    } else {
        from_sizes(command)?
    };
    if command.json {
        say_json(&doc)
    } else {
        say(&opal_report::text::weighing(&doc))
    }
}

fn in_water(command: &Weigh) -> Result<WeighingDoc, Failure> {
    let (Some(air), Some(water), Some(temp)) = (command.air, command.water, command.temp) else {
        return Err(Failure::user(
            "give --air, --water and --temp, or --sizes for a weight without water",
        ));
    };
    if !(command.scale > 0.0 && command.scale.is_finite()) {
        return Err(Failure::user(format!(
            "--scale is {}, it must be above 0",
            command.scale
        )));
    }
    let row = |air: f64, water: f64| WaterWeighing {
        in_air: Mass::from_carats(air),
        in_water: Mass::from_carats(water),
        wire: Mass::from_carats(command.wire),
        water_celsius: temp,
    };
    let mut rows = vec![row(air, water)];
    for text in &command.repeat {
        let [air, water] = pair(text)?;
        rows.push(row(air, water));
    }
    let setup = WeighingSetup {
        scale: Mass::from_carats(command.scale),
        thermometer_celsius: command.thermometer,
        dry_after: command.dry_after.map(Mass::from_carats),
    };
    let weighed = weigh_in_water(&rows, &setup, &soak(command)).map_err(|error| {
        Failure::user(error.to_string()).with_hint(
            "without water: opalwright weigh --sizes L,W,H --air CT; where a look all round \
             settled it, say --sound",
        )
    })?;
    Ok(WeighingDoc::in_water(&weighed))
}

fn pair(text: &str) -> Result<[f64; 2], Failure> {
    let numbers: Option<Vec<f64>> = text.split(',').map(|n| n.trim().parse().ok()).collect();
    numbers
        .and_then(|numbers| <[f64; 2]>::try_from(numbers).ok())
        .ok_or_else(|| {
            Failure::user(format!(
                "--repeat is '{text}', it must be two numbers parted by a comma: in air,in water"
            ))
        })
}

/// What was not said is not known, and keeps the stone out of the water.
fn soak(command: &Weigh) -> SoakFacts {
    let known = |yes: bool| match (yes, command.sound) {
        (true, _) => Known::Yes,
        (false, true) => Known::No,
        (false, false) => Known::Unknown,
    };
    SoakFacts {
        porous: known(command.porous),
        glued: known(command.glued),
        treated: known(command.treated),
        open_cracks: known(command.cracked),
        mounted: command.mounted,
    }
}

fn from_sizes(command: &Weigh) -> Result<WeighingDoc, Failure> {
    let Ok([length, width, height]) = <[f64; 3]>::try_from(command.sizes.as_slice()) else {
        return Err(Failure::user(format!(
            "--sizes has {} numbers, it must have 3, parted by commas",
            command.sizes.len()
        )));
    };
    let mm = Length::from_mm;
    let sizes = StoneSizes {
        outline: command.outline.clone(),
        length: mm(length),
        width: mm(width),
        height: mm(height),
        girdle: command.wall.map(mm),
        dome_half_way: command.half_way.map(mm),
        back: command.back.map(mm),
        // A calliper of 0.01 mm in a steady hand (common practice, no source).
        sigma: mm(0.03),
        back_hidden: command.back_hidden,
    };
    let refused = |error: opal_grade::DimensionError| Failure::user(error.to_string());
    if let Some(air) = command.air {
        if command.mounted {
            return Err(
                Failure::user("it is set in metal: the metal would be weighed with it")
                    .with_hint("leave --air out: the weight is then worked out from the sizes"),
            );
        }
        if !(air > 0.0 && air.is_finite()) {
            return Err(Failure::user(format!("--air is {air}, it must be above 0")));
        }
        let (gravity, sigma) =
            gravity_from_sizes(&sizes, Mass::from_carats(air)).map_err(refused)?;
        return Ok(WeighingDoc::gravity_from_sizes(gravity, sigma));
    }
    for (name, value, least) in [
        ("--gravity", command.gravity, 0.6),
        ("--gravity-sigma", command.gravity_sigma, 0.0),
    ] {
        if !(least..=22.6).contains(&value) {
            return Err(Failure::user(format!(
                "{name} is {value}, it must lie between {least} and 22.6"
            )));
        }
    }
    let estimated = weight_from_sizes(
        &sizes,
        SpecificGravity::new(command.gravity),
        SpecificGravity::new(command.gravity_sigma),
    )
    .map_err(refused)?;
    let mut doc = WeighingDoc::weight_from_sizes(&estimated);
    doc.notes.push(format!(
        "Reckoned with a specific gravity of {} ± {}: right for solid opal only.",
        command.gravity, command.gravity_sigma
    ));
    Ok(doc)
}
