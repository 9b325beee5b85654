//! READINGS on the command line: a file about a finished stone.

use crate::exit::Failure;
use crate::wire;
use opal_job::{AtTheCounter, CounterNote, CounterStone, JobError};
use std::path::Path;

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
}

/// Reads, weighs and identifies.
pub(crate) fn read(path: &Path) -> Result<Read, Failure> {
    let text = wire::text_file(path, MOST_BYTES)?;
    let name = path.display().to_string();
    let at = counter(&name, &text)?;
    Ok(Read {
        file: path
            .file_name()
            .map_or(name, |name| name.to_string_lossy().into_owned()),
        text,
        at,
    })
}

/// The stone of a readings text, weighed and identified.
pub(crate) fn counter(name: &str, text: &str) -> Result<AtTheCounter, JobError> {
    let readings = opal_files::read_readings(name, text.as_bytes())?;
    AtTheCounter::new(CounterStone {
        name: readings.name,
        described_as: readings.described_as,
        weight: readings.weight,
        sizes: readings.sizes,
        observations: readings.observations,
        notes: readings
            .notes
            .into_iter()
            .map(|note| CounterNote {
                id: note.id,
                note: note.note,
                photo: note.photo,
            })
            .collect(),
        weighings: readings.weighings,
        soak: readings.soak,
    })
}
