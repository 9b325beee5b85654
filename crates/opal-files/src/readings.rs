//! The readings file `opalwright-readings/1`: what was looked at on a finished
//! stone, by whom and when, for weighing, identifying and describing it.

mod described;
mod shape;

use crate::document::{self, FaultList};
use opal_evidence::{Fault, Faults};
use opal_grade::{
    Described, Description, Found, INDEX, Observation, SoakFacts, StoneSizes, WaterWeighing,
    WeighingSetup, observation_faults,
};
use opal_units::{Length, Mass};
use shape::{ReadingsFile, SizesFile, ValueFile, WeighingFile};

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
    /// How it looks and what it is made of, as somebody judged or told it.
    pub described: Vec<Described>,
    /// Notes and photos beside them, by the name of what they belong to.
    pub notes: Vec<ReadingNote>,
    /// Weighings in water and what they were made with.
    pub weighings: Option<(Vec<WaterWeighing>, WeighingSetup)>,
    /// What water could harm.
    pub soak: SoakFacts,
}

/// What stands beside an observation or a description.
#[derive(Clone, Debug, PartialEq)]
pub struct ReadingNote {
    /// The name of what it belongs to.
    pub id: String,
    /// Free text.
    pub note: Option<String>,
    /// Name of a photo.
    pub photo: Option<String>,
    /// SHA-256 of the photo's bytes, where the file states it.
    pub photo_sha256: Option<String>,
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

/// A readings file as JSON, for a form; the same document, whatever it says.
///
/// # Errors
/// Neither TOML nor JSON, by what its name says.
pub fn readings_to_json(name: &str, text: &str) -> Result<serde_json::Value, Faults> {
    let unreadable = |why: String| Faults::from(Fault::new(name, "not readable", why));
    if name.ends_with(".json") {
        serde_json::from_str(text).map_err(|error| unreadable(error.to_string()))
    } else {
        toml::from_str(text).map_err(|error| unreadable(error.to_string()))
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
    let mut taken = Vec::new();
    for (k, reading) in file.reading.into_iter().enumerate() {
        let id = reading.id.unwrap_or_else(|| format!("reading-{}", k + 1));
        refuse_taken(&id, &mut taken, &format!("reading[{k}].id"), faults);
        let found = match reading.value {
            ValueFile::Word(word) => Found::Word(word),
            ValueFile::Number(value) => {
                // Left out, it is what a careful reading gives (common practice, no source).
                let usual = if reading.look == INDEX { 0.01 } else { 0.02 };
                let sigma = reading.sigma.unwrap_or(usual);
                Found::Number { value, sigma }
            }
        };
        notes.push(ReadingNote {
            id: id.clone(),
            note: reading.note,
            photo: reading.photo,
            photo_sha256: reading.photo_sha256,
        });
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
    let mut described: Vec<Described> = Vec::new();
    for (k, one) in file.described.into_iter().enumerate() {
        let path = format!("described[{k}]");
        let Some(read) = one.described(&path, faults) else {
            continue;
        };
        if described.iter().any(|other| same(&other.what, &read.what)) {
            let limit = "must stand once";
            faults.add(format!("{path}.what"), read.what.name(), limit);
        } else {
            refuse_taken(&read.id, &mut taken, &format!("{path}.id"), faults);
        }
        notes.push(ReadingNote {
            id: read.id.clone(),
            note: one.note,
            photo: one.photo,
            photo_sha256: one.photo_sha256,
        });
        described.push(read);
    }
    notes.retain(|note| note.note.is_some() || note.photo.is_some());
    Readings {
        name: file.stone.name,
        described_as: file.stone.described_as,
        weight,
        sizes,
        observations,
        described,
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

fn refuse_taken(id: &str, taken: &mut Vec<String>, path: &str, faults: &mut FaultList) {
    if taken.iter().any(|other| other == id) {
        let limit = "must be a name that nothing else in the file has";
        faults.add(path.to_owned(), format!("\"{id}\""), limit);
    }
    taken.push(id.to_owned());
}

/// The same thing described twice; a body tone may stand once from each side.
fn same(one: &Description, other: &Description) -> bool {
    match (one, other) {
        (Description::BodyTone(_, a), Description::BodyTone(_, b)) => a == b,
        _ => one.name() == other.name(),
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

    /// Every line of it is wrong in its own way.
    #[test]
    fn descriptions_are_read_or_refused_all_at_once() {
        let described = |rows: &str| {
            format!("format = \"opalwright-readings/1\"\n[stone]\nname = \"One\"\n{rows}")
        };
        let good = described(
            "[[described]]\nwhat = \"body-tone\"\nvalue = \"N5\"\nviewed = \"face-up\"\n\
             [[described]]\nid = \"aside\"\nwhat = \"body-tone\"\nvalue = \"3\"\nviewed = \"from-the-side\"\n\
             [[described]]\nwhat = \"brightness\"\nvalue = \"very bright\"\n\
             [[described]]\nwhat = \"origin\"\nvalue = \"Field A\"\nby = \"the seller\"\nphoto = \"bill.png\"\n",
        );
        let read = read_readings("r.toml", good.as_bytes()).expect("reads");
        assert_eq!(read.described.len(), 4);
        assert_eq!(read.described[0].id, "described-body-tone");
        assert_eq!(read.notes[0].photo.as_deref(), Some("bill.png"));
        let bad = described(
            "[[described]]\nwhat = \"body-tone\"\nvalue = \"N10\"\n\
             [[described]]\nwhat = \"brightness\"\nvalue = \"5\"\nviewed = \"face-up\"\n\
             [[described]]\nwhat = \"origin\"\nvalue = \"Field A\"\n\
             [[described]]\nwhat = \"back\"\nvalue = \"glass\"\n\
             [[described]]\nid = \"under\"\nwhat = \"back\"\nvalue = \"potch\"\n",
        );
        let found = faults(&bad);
        for place in [
            "described[0].value",
            "described[0].viewed",
            "described[1].value",
            "described[2].by",
            "described[4].what",
        ] {
            assert!(
                found.iter().any(|fault| fault.contains(place)),
                "{place}\n{found:?}"
            );
        }
    }
}
