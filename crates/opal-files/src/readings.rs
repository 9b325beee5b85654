//! The readings file `opalwright-readings/1`: what was looked at on a finished
//! stone, by whom and when, for weighing, identifying and describing it.

use crate::document::{self, FaultList};
use opal_evidence::{Fault, Faults};
use opal_grade::{
    Found, INDEX, Known, Observation, SoakFacts, StoneSizes, WaterWeighing, WeighingSetup,
    observation_faults,
};
use opal_units::{Length, Mass};
use schemars::JsonSchema;
use serde::Deserialize;

/// The name of the format.
pub const READINGS_FORMAT: &str = "opalwright-readings/1";

/// Everything that a readings file says.
#[derive(Clone, Debug, PartialEq)]
pub struct Readings {
    /// What the stone is called.
    pub name: String,
    /// What it was described as by whoever brought it.
    pub described_as: Option<String>,
    /// Its weight on a scale.
    pub weight: Option<Mass>,
    /// Its sizes.
    pub sizes: Option<StoneSizes>,
    /// What was seen and measured.
    pub observations: Vec<Observation>,
    /// Notes and photo names beside them, by the observation's name.
    pub notes: Vec<ReadingNote>,
    /// Weighings in water and what they were made with.
    pub weighings: Option<(Vec<WaterWeighing>, WeighingSetup)>,
    /// What water could harm.
    pub soak: SoakFacts,
}

/// What stands beside an observation.
#[derive(Clone, Debug, PartialEq)]
pub struct ReadingNote {
    /// The observation's name.
    pub id: String,
    /// Free text.
    pub note: Option<String>,
    /// Name of a photo.
    pub photo: Option<String>,
}

/// What was looked at on a finished stone.
#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(title = "opalwright-readings/1")]
struct ReadingsFile {
    /// Always `opalwright-readings/1`.
    #[allow(dead_code)] // the reader has held it against its one word
    format: Format,
    stone: StoneFile,
    /// Looks and readings, in the order in which they were made.
    #[serde(default)]
    #[schemars(length(max = 500))]
    reading: Vec<ReadingFile>,
    weighing: Option<WeighingFile>,
    #[serde(default)]
    soak: SoakFile,
}

#[derive(Deserialize, JsonSchema)]
enum Format {
    #[serde(rename = "opalwright-readings/1")]
    One,
}

/// The stone.
#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct StoneFile {
    /// What it is called.
    #[schemars(length(min = 1, max = 200))]
    name: String,
    /// What it was described as.
    #[schemars(length(max = 500))]
    described_as: Option<String>,
    /// Weight on a scale, ct.
    #[schemars(extend("exclusiveMinimum" = 0), range(max = 100_000.0))]
    weight_ct: Option<f64>,
    /// Weight on a scale, g.
    #[schemars(extend("exclusiveMinimum" = 0), range(max = 20_000.0))]
    weight_g: Option<f64>,
    sizes: Option<SizesFile>,
}

/// Sizes in mm.
#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct SizesFile {
    /// `oval`, `round`, `cushion`, `pear`, …, or `freeform`.
    outline: String,
    #[schemars(extend("exclusiveMinimum" = 0), range(max = 1000.0))]
    length_mm: f64,
    #[schemars(extend("exclusiveMinimum" = 0), range(max = 1000.0))]
    width_mm: f64,
    #[schemars(extend("exclusiveMinimum" = 0), range(max = 1000.0))]
    height_mm: f64,
    /// Height of the straight wall.
    #[schemars(range(min = 0.0, max = 1000.0))]
    girdle_mm: Option<f64>,
    /// Height of the dome half way out, above the wall.
    #[schemars(range(min = 0.0, max = 1000.0))]
    dome_half_way_mm: Option<f64>,
    /// Height of a rounded back below the wall; 0 for a flat one.
    #[schemars(range(min = 0.0, max = 1000.0))]
    back_mm: Option<f64>,
    /// One standard deviation of each size.
    #[schemars(range(min = 0.0, max = 5.0))]
    sigma_mm: Option<f64>,
    /// True when a setting hides the back.
    #[serde(default)]
    back_hidden: bool,
}

/// One look or reading.
#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct ReadingFile {
    /// Its name, to which papers link; `reading-1` and so on where left out.
    #[schemars(length(min = 1, max = 100))]
    id: Option<String>,
    /// What was looked for: `gravity`, `index`, or a look such as `side-view`.
    look: String,
    /// A number for `gravity` and `index`, a word for a look.
    value: ValueFile,
    /// One standard deviation of a number.
    #[schemars(extend("exclusiveMinimum" = 0))]
    sigma: Option<f64>,
    /// Who looked.
    #[schemars(length(max = 100))]
    by: Option<String>,
    /// When.
    #[schemars(length(max = 100))]
    at: Option<String>,
    /// Free text.
    #[schemars(length(max = 2000))]
    note: Option<String>,
    /// Name of a photo.
    #[schemars(length(max = 200))]
    photo: Option<String>,
}

/// A number or a word.
#[derive(Deserialize, JsonSchema)]
#[serde(untagged)]
enum ValueFile {
    Number(f64),
    Word(String),
}

/// Weighings in air and in water.
#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct WeighingFile {
    /// One standard deviation of one reading of the scale, g.
    #[schemars(extend("exclusiveMinimum" = 0))]
    scale_sigma_g: f64,
    /// One standard deviation of the thermometer, °C.
    #[schemars(range(min = 0.0, max = 5.0))]
    thermometer_sigma_c: Option<f64>,
    /// Dry weight afterwards, g.
    #[schemars(extend("exclusiveMinimum" = 0))]
    dry_after_g: Option<f64>,
    /// Rows of: in air, in water with the wire, the wire alone in water (all g),
    /// and the water's temperature, °C.
    #[schemars(length(min = 1, max = 100))]
    rows: Vec<WeighingRow>,
}

/// One weighing.
#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct WeighingRow {
    #[schemars(extend("exclusiveMinimum" = 0))]
    in_air_g: f64,
    in_water_g: f64,
    #[serde(default)]
    #[schemars(range(min = 0.0))]
    wire_g: f64,
    #[schemars(range(min = 0.0, max = 40.0))]
    water_c: f64,
}

/// What water could harm; what is left out is not known.
#[derive(Default, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct SoakFile {
    /// It takes up water.
    #[serde(default)]
    porous: KnownFile,
    /// It is glued.
    #[serde(default)]
    glued: KnownFile,
    /// Its colour was put in.
    #[serde(default)]
    treated: KnownFile,
    /// Cracks reach its skin.
    #[serde(default)]
    open_cracks: KnownFile,
    /// It is set in metal.
    #[serde(default)]
    mounted: bool,
}

/// Yes, no, or not known.
#[derive(Clone, Copy, Default, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
enum KnownFile {
    Yes,
    No,
    #[default]
    Unknown,
}

impl From<KnownFile> for Known {
    fn from(file: KnownFile) -> Self {
        match file {
            KnownFile::Yes => Self::Yes,
            KnownFile::No => Self::No,
            KnownFile::Unknown => Self::Unknown,
        }
    }
}

/// Reads a readings file, TOML or JSON.
///
/// # Errors
/// All faults at once, each with file, line, field, value and limit.
pub fn read_readings(name: &str, bytes: &[u8]) -> Result<Readings, Faults> {
    let read = document::read::<ReadingsFile>(name, bytes);
    let mut faults = read.faults;
    let readings = read.shape.map(|file| readings(file, &mut faults));
    match (faults.into_faults(), readings) {
        (None, Some(readings)) => Ok(readings),
        (Some(faults), _) => Err(faults),
        (None, None) => Err(Fault::new(name, "not understood", "must be a readings file").into()),
    }
}

/// The JSON Schema of the readings file, as kept in `docs/schema/`.
#[must_use]
pub fn readings_schema() -> serde_json::Value {
    schemars::schema_for!(ReadingsFile).to_value()
}

fn readings(file: ReadingsFile, faults: &mut FaultList) -> Readings {
    let weight = match (file.stone.weight_ct, file.stone.weight_g) {
        (Some(ct), None) => Some(Mass::from_carats(ct)),
        (None, Some(g)) => Some(Mass::from_grams(g)),
        (Some(_), Some(_)) => {
            let limit = "must be given once, in ct or in g";
            faults.add("stone.weight_g", "given beside weight_ct", limit);
            None
        }
        (None, None) => None,
    };
    let sizes = file.stone.sizes.map(|sizes| stone_sizes(sizes, faults));
    let mut observations: Vec<Observation> = Vec::new();
    let mut notes = Vec::new();
    for (k, reading) in file.reading.into_iter().enumerate() {
        let id = reading.id.unwrap_or_else(|| format!("reading-{}", k + 1));
        if observations.iter().any(|o| o.id == id) {
            let limit = "must be a name that no other reading has";
            faults.add(format!("reading[{k}].id"), format!("\"{id}\""), limit);
        }
        let found = match reading.value {
            ValueFile::Word(word) => Found::Word(word),
            ValueFile::Number(value) => {
                // Left out, it is what a careful reading gives (common practice, no source).
                let usual = if reading.look == INDEX { 0.01 } else { 0.02 };
                let sigma = reading.sigma.unwrap_or(usual);
                Found::Number { value, sigma }
            }
        };
        if reading.note.is_some() || reading.photo.is_some() {
            notes.push(ReadingNote {
                id: id.clone(),
                note: reading.note,
                photo: reading.photo,
            });
        }
        observations.push(Observation {
            id,
            look: reading.look,
            found,
            by: reading.by,
            at: reading.at,
        });
    }
    for fault in observation_faults(opal_reference::identity::identity(), &observations) {
        let path = format!("reading[{}].{}", fault.index, fault.field);
        faults.add(path, fault.value, fault.limit);
    }
    Readings {
        name: file.stone.name,
        described_as: file.stone.described_as,
        weight,
        sizes,
        observations,
        notes,
        weighings: file.weighing.map(weighings),
        soak: SoakFacts {
            porous: file.soak.porous.into(),
            glued: file.soak.glued.into(),
            treated: file.soak.treated.into(),
            open_cracks: file.soak.open_cracks.into(),
            mounted: file.soak.mounted,
        },
    }
}

fn stone_sizes(sizes: SizesFile, faults: &mut FaultList) -> StoneSizes {
    if opal_reference::weight_shapes::outline(&sizes.outline).is_none() {
        let known: Vec<&str> = opal_reference::weight_shapes::outlines()
            .iter()
            .map(|row| row.key.as_str())
            .collect();
        let limit = format!("must be one of {}", known.join(", "));
        faults.add(
            "stone.sizes.outline",
            format!("\"{}\"", sizes.outline),
            limit,
        );
    }
    if sizes.width_mm > sizes.length_mm {
        let limit = format!("must be at most the length, {}", sizes.length_mm);
        faults.add("stone.sizes.width_mm", sizes.width_mm, limit);
    }
    let low = sizes.girdle_mm.unwrap_or(0.0) + sizes.back_mm.unwrap_or(0.0);
    if low >= sizes.height_mm {
        let limit = format!(
            "wall and back must leave room below the height, {}",
            sizes.height_mm
        );
        faults.add("stone.sizes.girdle_mm", low, limit);
    }
    let mm = |value: Option<f64>| value.map(Length::from_mm);
    StoneSizes {
        outline: sizes.outline,
        length: Length::from_mm(sizes.length_mm),
        width: Length::from_mm(sizes.width_mm),
        height: Length::from_mm(sizes.height_mm),
        girdle: mm(sizes.girdle_mm),
        dome_half_way: mm(sizes.dome_half_way_mm),
        back: mm(sizes.back_mm),
        // A calliper of 0.01 mm in a steady hand (common practice, no source).
        sigma: Length::from_mm(sizes.sigma_mm.unwrap_or(0.03)),
        back_hidden: sizes.back_hidden,
    }
}

fn weighings(file: WeighingFile) -> (Vec<WaterWeighing>, WeighingSetup) {
    let rows = file
        .rows
        .iter()
        .map(|row| WaterWeighing {
            in_air: Mass::from_grams(row.in_air_g),
            in_water: Mass::from_grams(row.in_water_g),
            wire: Mass::from_grams(row.wire_g),
            water_celsius: row.water_c,
        })
        .collect();
    let setup = WeighingSetup {
        scale: Mass::from_grams(file.scale_sigma_g),
        thermometer_celsius: file.thermometer_sigma_c.unwrap_or(0.5),
        dry_after: file.dry_after_g.map(Mass::from_grams),
    };
    (rows, setup)
}

#[cfg(test)]
mod tests {
    use super::*;

    const GOOD: &str = include_str!("../../../examples/readings.toml");

    fn faults(text: &str) -> Vec<String> {
        read_readings("r.toml", text.as_bytes())
            .expect_err("is refused")
            .0
            .iter()
            .map(ToString::to_string)
            .collect()
    }

    #[test]
    fn the_example_reads_and_can_be_weighed_and_identified() {
        let readings = read_readings("r.toml", GOOD.as_bytes()).expect("reads");
        let (rows, setup) = readings.weighings.clone().expect("weighings");
        let weighed = opal_grade::weigh_in_water(&rows, &setup, &readings.soak).expect("weighed");
        assert!((weighed.gravity.ratio() - 2.10).abs() < 0.02);
        let identity =
            opal_grade::identify(opal_reference::identity::identity(), &readings.observations)
                .expect("identified");
        assert_eq!(identity.groups[0].key, "natural");
        assert_eq!(readings.notes.len(), 1);
    }

    #[test]
    fn the_same_in_json() {
        let tree: serde_json::Value = toml::from_str(GOOD).expect("reads");
        let text = serde_json::to_string_pretty(&tree).expect("writes");
        assert_eq!(
            read_readings("r.json", text.as_bytes()).expect("reads"),
            read_readings("r.toml", GOOD.as_bytes()).expect("reads")
        );
    }

    #[test]
    fn all_faults_at_once() {
        let text = GOOD
            .replacen("value = \"irregular\"", "value = \"stripes\"", 1)
            .replacen("look = \"back\"", "look = \"smell\"", 1)
            .replacen("outline = \"oval\"", "outline = \"blob\"", 1);
        let found = faults(&text);
        assert_eq!(found.len(), 3, "{found:?}");
        for (field, line) in
            found
                .iter()
                .zip(["stone.sizes.outline", "reading[1].look", "reading[2].value"])
        {
            assert!(
                field.contains(line) && field.starts_with("r.toml:"),
                "{field}"
            );
        }
        assert_eq!(faults("format = \"opalwright-readings/2\"").len(), 2);
    }

    #[test]
    fn the_schema_in_the_docs_is_fresh() {
        let path = concat!(
            env!("CARGO_MANIFEST_DIR"),
            "/../../docs/schema/readings-1.schema.json"
        );
        let mut fresh = serde_json::to_string_pretty(&readings_schema()).expect("writes");
        fresh.push('\n');
        if std::env::var_os("OPAL_WRITE_SCHEMAS").is_some() {
            std::fs::write(path, &fresh).expect("writes");
        }
        let kept = std::fs::read_to_string(path).unwrap_or_default();
        assert!(
            kept == fresh,
            "docs/schema/readings-1.schema.json is stale; run the tests with OPAL_WRITE_SCHEMAS=1"
        );
    }
}
