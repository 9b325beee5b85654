//! Rows as records.

use opal_job::{EventRecord, NewEvent, NewRun, RunRecord, StoneNo, StoneRecord, Timestamp};
use opal_units::Seed;
use rusqlite::Row;
use rusqlite::types::Type;

/// A moment out of column `k`.
pub(crate) fn moment(row: &Row<'_>, k: usize) -> rusqlite::Result<Timestamp> {
    row.get::<_, String>(k)?
        .parse()
        .map_err(|error| rusqlite::Error::FromSqlConversionFailure(k, Type::Text, Box::new(error)))
}

/// Columns `no, mark, name, taken_in, invented, revisions`.
pub(crate) fn stone(row: &Row<'_>) -> rusqlite::Result<StoneRecord> {
    Ok(StoneRecord {
        no: StoneNo(row.get(0)?),
        mark: row.get(1)?,
        name: row.get(2)?,
        taken_in: moment(row, 3)?,
        invented: row.get(4)?,
        revisions: row.get(5)?,
    })
}

/// Columns `at, what, inputs, seed, n_interiors, version, output`.
pub(crate) fn run(row: &Row<'_>) -> rusqlite::Result<RunRecord> {
    let seed: u64 = row.get::<_, String>(3)?.parse().map_err(|error| {
        rusqlite::Error::FromSqlConversionFailure(3, Type::Text, Box::new(error))
    })?;
    Ok(RunRecord {
        at: moment(row, 0)?,
        run: NewRun {
            what: row.get(1)?,
            inputs: row.get(2)?,
            seed: Seed(seed),
            n_interiors: u64::try_from(row.get::<_, i64>(4)?).unwrap_or(0),
            version: row.get(5)?,
            output: row.get(6)?,
        },
    })
}

/// Columns `at, kind, body`.
pub(crate) fn event(row: &Row<'_>) -> rusqlite::Result<EventRecord> {
    Ok(EventRecord {
        at: moment(row, 0)?,
        event: NewEvent {
            kind: row.get(1)?,
            body: row.get(2)?,
        },
    })
}
