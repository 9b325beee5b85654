//! The ports, wired to the real world.

use crate::args::Args;
use crate::exit::Failure;
use crate::place::default_store;
use opal_evidence::{Evidence, Fault, Faults, Shape};
use opal_files::{Attachments, BenchOverrides, FieldChange, Prices};
use opal_finish::WheelSet;
use opal_job::{
    Bench, Clock, EvidenceFile, EvidenceReader, MeshFile, Ports, PriceReader, Settings, Store,
    Syntax, Timestamp, WheelReader,
};
use opal_plan::BenchRules;
use opal_store::SqliteStore;
use opal_units::Length;
use serde_json::Value;
use std::cell::RefCell;
use std::path::{Path, PathBuf};
use std::sync::Arc;

struct SystemClock;

impl Clock for SystemClock {
    fn now(&self) -> Timestamp {
        Timestamp::now()
    }

    fn local(&self, at: Timestamp) -> jiff::civil::DateTime {
        jiff::tz::TimeZone::system().to_datetime(at)
    }
}

/// The meshes that were taken in beside an evidence file.
struct TakenIn<'a>(&'a [MeshFile]);

impl Attachments for TakenIn<'_> {
    fn bytes(&self, name: &str) -> Result<Vec<u8>, String> {
        self.0
            .iter()
            .find(|mesh| mesh.name == name)
            .map(|mesh| mesh.bytes.clone())
            .ok_or_else(|| "no file of this name came along".to_owned())
    }
}

/// A folder, remembering every file that was asked for.
struct Remembering {
    folder: opal_files::Folder,
    asked: RefCell<Vec<MeshFile>>,
}

impl Attachments for Remembering {
    fn bytes(&self, name: &str) -> Result<Vec<u8>, String> {
        let bytes = self.folder.bytes(name)?;
        let mut asked = self.asked.borrow_mut();
        if asked.iter().all(|mesh| mesh.name != name) {
            asked.push(MeshFile {
                name: name.to_owned(),
                bytes: bytes.clone(),
            });
        }
        Ok(bytes)
    }
}

struct Reader;

impl EvidenceReader for Reader {
    fn read(&self, file: &EvidenceFile) -> Result<Evidence, Faults> {
        // The name tells the syntax; a stored file may have lost its ending.
        let ending = format!(".{}", file.syntax.word());
        let name = if file.file_name.ends_with(&ending) {
            file.file_name.clone()
        } else {
            format!("{}{ending}", file.file_name)
        };
        opal_files::read_evidence(&name, file.text.as_bytes(), &TakenIn(&file.meshes))
    }

    fn written(&self, evidence: &Evidence) -> EvidenceFile {
        let meshes = match &evidence.shape {
            Shape::Scan(scan) => vec![MeshFile {
                name: scan.source.clone(),
                bytes: opal_files::mesh::ply_bytes(&scan.mesh),
            }],
            _ => Vec::new(),
        };
        EvidenceFile {
            file_name: "evidence.toml".to_owned(),
            syntax: Syntax::Toml,
            text: opal_files::evidence_to_toml(evidence),
            meshes,
        }
    }
}

struct PriceBooks;

impl PriceReader for PriceBooks {
    fn read(&self, file_name: &str, text: &str) -> Result<Settings, Faults> {
        let Prices {
            book,
            costs,
            limits,
            bench,
        } = opal_files::read_prices(file_name, text.as_bytes())?;
        let settings = Settings::new(book, costs, limits, rules(&bench));
        settings.rules.check()?;
        Ok(settings)
    }

    fn example(&self) -> &str {
        opal_files::example_prices()
    }

    fn document(&self, text: &str) -> Option<Value> {
        opal_files::prices_as_json(text)
    }

    fn change(&self, text: &str, changes: &[(String, Option<Value>)]) -> Result<String, Faults> {
        let changes: Vec<FieldChange> = changes
            .iter()
            .cloned()
            .map(|(field, value)| FieldChange { field, value })
            .collect();
        opal_files::change_prices(text, &changes)
    }
}

struct WheelFiles;

impl WheelReader for WheelFiles {
    fn read(&self, file_name: &str, text: &str) -> Result<WheelSet, Faults> {
        opal_files::read_wheels(file_name, text.as_bytes())
    }
}

/// The default bench rules with what the cutter set in their place.
fn rules(own: &BenchOverrides) -> BenchRules {
    let mut rules = BenchRules::default();
    for (place, value) in [
        (&mut rules.kerf, own.kerf_mm),
        (&mut rules.saw_reach, own.saw_reach_mm),
        (&mut rules.least_colour, own.least_colour_mm),
        (&mut rules.girdle, own.wall_mm),
        (&mut rules.bevel, own.bevel_mm),
        (&mut rules.least_width, own.least_width_mm),
        (&mut rules.least_radius, own.least_radius_mm),
        (&mut rules.least_thickness, own.least_thickness_mm),
        (&mut rules.saw_allowance, own.saw_allowance_mm),
        (&mut rules.finishing_allowance, own.wheel_allowance_mm),
    ] {
        if let Some(mm) = value {
            *place = Length::from_mm(mm);
        }
    }
    if let Some(chance) = own.breakage_chance {
        rules.breakage = chance;
    }
    rules
}

/// A bench on a store.
pub(crate) fn bench_on(store: Arc<dyn Store>) -> Bench {
    Bench::new(Ports {
        store,
        clock: Arc::new(SystemClock),
        reader: Arc::new(Reader),
        prices: Arc::new(PriceBooks),
        wheels: Arc::new(WheelFiles),
    })
}

fn store_path(args: &Args) -> Result<PathBuf, Failure> {
    match &args.store {
        Some(path) => Ok(path.clone()),
        None => default_store(),
    }
}

/// A bench on the cutter's store, which is made when it is not there.
pub(crate) fn bench(args: &Args) -> Result<Bench, Failure> {
    bench_at(&store_path(args)?)
}

/// A bench on the store at that place.
pub(crate) fn bench_at(path: &Path) -> Result<Bench, Failure> {
    Ok(bench_on(Arc::new(SqliteStore::open(path)?)))
}

/// A bench for looking only: where there is no store yet, none is made.
pub(crate) fn bench_to_look(args: &Args) -> Result<Bench, Failure> {
    let path = match store_path(args) {
        Ok(path) if path.exists() => path,
        _ => return bench_in_memory(),
    };
    bench_at(&path)
}

/// A bench that keeps nothing.
pub(crate) fn bench_in_memory() -> Result<Bench, Failure> {
    Ok(bench_on(Arc::new(SqliteStore::in_memory()?)))
}

/// Largest evidence file that is read, bytes. Chosen: because ten thousand
/// sightings stay well below it.
const MOST_BYTES: u64 = 16 * 1024 * 1024;

/// An evidence file from disk with the meshes that it names, as they are.
///
/// The file is read once to learn which meshes it names; its faults are left to
/// whoever reads it next.
pub(crate) fn evidence_file(path: &Path) -> Result<EvidenceFile, Failure> {
    let text = text_file(path, MOST_BYTES)?;
    let syntax = if path
        .extension()
        .is_some_and(|ending| ending.eq_ignore_ascii_case("json"))
    {
        Syntax::Json
    } else {
        Syntax::Toml
    };
    let folder = match path.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => parent,
        _ => Path::new("."),
    };
    let remembering = Remembering {
        folder: opal_files::Folder::new(folder),
        asked: RefCell::default(),
    };
    let name = path.display().to_string();
    if let Err(faults) = opal_files::read_evidence(&name, text.as_bytes(), &remembering) {
        return Err(opal_job::JobError::from(faults).into());
    }
    Ok(EvidenceFile {
        file_name: path
            .file_name()
            .map_or(name, |name| name.to_string_lossy().into_owned()),
        syntax,
        text,
        meshes: remembering.asked.into_inner(),
    })
}

/// Largest table of places that is read, bytes. Chosen: because a hundred
/// thousand places, the most that are read, stay below it.
const MOST_POINTS_BYTES: u64 = 8 * 1024 * 1024;

/// The places in a CSV file, columns x_mm and y_mm.
pub(crate) fn points_file(path: &Path) -> Result<Vec<[f64; 2]>, Failure> {
    let text = text_file(path, MOST_POINTS_BYTES)?;
    let points = opal_files::read_points(&path.display().to_string(), text.as_bytes());
    Ok(points.map_err(opal_job::JobError::from)?)
}

/// The text of a file, or what is wrong with it.
pub(crate) fn text_file(path: &Path, most_bytes: u64) -> Result<String, Failure> {
    let bytes = bounded_file(path, most_bytes)?;
    String::from_utf8(bytes).map_err(|_| {
        let mut fault = Fault::new("the file", "not text", "it must be UTF-8 text");
        fault.file = Some(path.display().to_string());
        opal_job::JobError::from(Faults::from(fault)).into()
    })
}

/// What is in a file that is not too long.
pub(crate) fn bounded_file(path: &Path, most_bytes: u64) -> Result<Vec<u8>, Failure> {
    let name = path.display().to_string();
    let unreadable = |why: String| Failure::user(format!("{name} cannot be read: {why}"));
    let size = std::fs::metadata(path)
        .map_err(|error| unreadable(error.to_string()))?
        .len();
    if size > most_bytes {
        let mut fault = Fault::new(
            "the file",
            format!("{size} bytes long"),
            format!("it must not be longer than {most_bytes} bytes"),
        );
        fault.file = Some(name);
        return Err(opal_job::JobError::from(Faults::from(fault)).into());
    }
    std::fs::read(path).map_err(|error| unreadable(error.to_string()))
}
