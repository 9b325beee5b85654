//! READINGS on the command line: a file about a finished stone, with its photos.

use crate::exit::Failure;
use crate::wire;
use opal_evidence::{Fault, Faults};
use opal_files::{ReadingNote, Readings};
use opal_job::{
    AtTheCounter, Bench, CounterNote, CounterStone, JobError, PHOTO_BYTES_MAX, Photo,
    ReadingsTaken, StoneNo, Whose,
};
use std::path::{Component, Path};

/// Largest readings file that is read, bytes. Chosen: because five hundred looks
/// with long notes stay below it.
const MOST_BYTES: u64 = 4 * 1024 * 1024;

/// A readings file with what it says.
pub(crate) struct Read {
    /// Its name.
    pub(crate) file: String,
    /// Its text, untouched.
    pub(crate) text: String,
    /// The stone, weighed and identified.
    pub(crate) at: AtTheCounter,
    /// The photos beside it that it names.
    photos: Vec<Photo>,
}

impl Read {
    /// Keeps it with a stone of the store, photos included.
    pub(crate) fn keep(&self, bench: &Bench, whose: &KeepWith) -> Result<StoneNo, JobError> {
        let no = bench.stone_of(whose.stone(&self.at.stone.name))?;
        let taken = ReadingsTaken {
            file: &self.file,
            text: &self.text,
            at: &self.at,
            photos: &self.photos,
        };
        bench.keep_readings(no, &taken)?;
        Ok(no)
    }
}

/// Whose stone readings and cards are kept with.
#[derive(Debug, clap::Args)]
#[group(multiple = false)]
pub(crate) struct KeepWith {
    /// Keep the readings, their photos, and the card that is printed, with this stone
    /// of the store (name or number).
    #[arg(long, value_name = "STONE")]
    keep: Option<String>,
    /// Keep them with a stone that this customer brought; it gets a record of its own.
    #[arg(long, value_name = "WHO")]
    customer: Option<String>,
}

impl KeepWith {
    /// True when something is to be kept.
    pub(crate) fn is_wanted(&self) -> bool {
        self.keep.is_some() || self.customer.is_some()
    }

    fn stone<'a>(&'a self, name: &'a str) -> Whose<'a> {
        match (&self.keep, &self.customer) {
            (_, Some(customer)) => Whose::Customer {
                customer,
                stone: name,
            },
            (Some(stone), None) => Whose::Stone(stone),
            (None, None) => Whose::Stone(name),
        }
    }
}

/// Reads, weighs and identifies.
pub(crate) fn read(path: &Path) -> Result<Read, Failure> {
    let text = wire::text_file(path, MOST_BYTES)?;
    let name = path.display().to_string();
    let readings = opal_files::read_readings(&name, text.as_bytes()).map_err(JobError::from)?;
    let photos = photos_beside(path, &readings.notes)?;
    Ok(Read {
        file: path
            .file_name()
            .map_or(name, |name| name.to_string_lossy().into_owned()),
        text,
        at: at_the_counter(readings, &photos)?,
        photos,
    })
}

/// The stone of a readings text, weighed and identified.
pub(crate) fn counter(name: &str, text: &str, photos: &[Photo]) -> Result<AtTheCounter, JobError> {
    at_the_counter(opal_files::read_readings(name, text.as_bytes())?, photos)
}

fn at_the_counter(readings: Readings, photos: &[Photo]) -> Result<AtTheCounter, JobError> {
    let mut faults = Vec::new();
    let mut note = |note: ReadingNote| {
        let came = photos
            .iter()
            .find(|photo| Some(&photo.name) == note.photo.as_ref());
        let own = came.map(Photo::sha256);
        if let (Some(own), Some(stated)) = (&own, &note.photo_sha256)
            && own != stated
        {
            faults.push(Fault::new(
                format!("photo_sha256 of '{}'", note.id),
                stated,
                format!("the photo's own is {own}: it is another photo, or was changed"),
            ));
        }
        CounterNote {
            id: note.id,
            note: note.note,
            photo: note.photo,
            photo_sha256: own.or(note.photo_sha256),
        }
    };
    let notes = readings.notes.into_iter().map(&mut note).collect();
    if !faults.is_empty() {
        return Err(Faults(faults).into());
    }
    AtTheCounter::new(CounterStone {
        name: readings.name,
        described_as: readings.described_as,
        weight: readings.weight,
        sizes: readings.sizes,
        observations: readings.observations,
        described: readings.described,
        notes,
        weighings: readings.weighings,
        soak: readings.soak,
    })
}

/// The photos that lie beside a file, of those that it names. One that is not there
/// is not a fault until it is to be kept.
fn photos_beside(file: &Path, notes: &[ReadingNote]) -> Result<Vec<Photo>, Failure> {
    let mut photos: Vec<Photo> = Vec::new();
    let mut faults = Vec::new();
    for name in notes.iter().filter_map(|note| note.photo.as_ref()) {
        if photos.iter().any(|photo| photo.name == *name) {
            continue;
        }
        let field = || format!("photo '{name}'");
        let mut parts = Path::new(name).components();
        if !matches!(
            (parts.next(), parts.next()),
            (Some(Component::Normal(_)), None)
        ) {
            let limit = "must be the name of a file beside the readings, without a folder";
            faults.push(Fault::new(field(), "elsewhere", limit));
            continue;
        }
        let path = file.with_file_name(name);
        let Ok(about) = std::fs::metadata(&path) else {
            continue;
        };
        if about.len() > PHOTO_BYTES_MAX as u64 {
            let limit = format!("it must not be longer than {PHOTO_BYTES_MAX} bytes");
            faults.push(Fault::new(
                field(),
                format!("{} bytes long", about.len()),
                limit,
            ));
            continue;
        }
        let bytes = std::fs::read(&path).map_err(|error| {
            Failure::user(format!("{} cannot be read: {error}", path.display()))
        })?;
        photos.push(Photo {
            name: name.clone(),
            bytes,
        });
    }
    if faults.is_empty() {
        Ok(photos)
    } else {
        Err(JobError::from(Faults(faults)).into())
    }
}
