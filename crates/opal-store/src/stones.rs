//! The records of stones.

use crate::counter;
use crate::ledger::append;
use crate::open::SqliteStore;
use crate::rows;
use opal_job::{
    Appended, CounterStore as _, EventRecord, EvidenceFile, EvidenceRecord, Happening, Holdings,
    Imported, MeshFile, NewEvent, NewRun, RunRecord, StoneFile, StoneNo, StoneRecord, Store,
    StoreError, StoreFault, Syntax, Timestamp, birth_mark, fingerprint,
};
use rusqlite::{Connection, OptionalExtension as _, Transaction, TransactionBehavior, params};
use std::path::{Path, PathBuf};

pub(crate) const STONE_COLUMNS: &str = "SELECT no, mark, name, taken_in, invented, \
     (SELECT count(*) FROM evidence WHERE evidence.stone = stone.no) FROM stone";

impl SqliteStore {
    pub(crate) fn read<T>(
        &self,
        work: impl FnOnce(&Connection) -> rusqlite::Result<T>,
    ) -> Result<T, StoreError> {
        work(&self.connection()).map_err(|error| self.failed(&error))
    }

    /// All of the work, or nothing of it.
    pub(crate) fn write<T>(
        &self,
        work: impl FnOnce(&Transaction<'_>) -> Result<T, Stop>,
    ) -> Result<T, StoreError> {
        let mut connection = self.connection();
        let transaction = connection
            .transaction_with_behavior(TransactionBehavior::Immediate)
            .map_err(|error| self.failed(&error))?;
        let done = work(&transaction).map_err(|stop| match stop {
            Stop::Sqlite(error) => self.failed(&error),
            Stop::Store(error) => error,
        })?;
        transaction.commit().map_err(|error| self.failed(&error))?;
        Ok(done)
    }
}

/// Why a piece of work stopped.
pub(crate) enum Stop {
    Sqlite(rusqlite::Error),
    Store(StoreError),
}

impl From<rusqlite::Error> for Stop {
    fn from(error: rusqlite::Error) -> Self {
        Self::Sqlite(error)
    }
}

impl From<StoreError> for Stop {
    fn from(error: StoreError) -> Self {
        Self::Store(error)
    }
}

pub(crate) fn refuse_taken_name(connection: &Connection, name: &str) -> Result<(), Stop> {
    let no: Option<i64> = connection
        .query_row("SELECT no FROM stone WHERE name = ?1", [name], |row| {
            row.get(0)
        })
        .optional()?;
    match no {
        None => Ok(()),
        Some(no) => Err(StoreError::new(
            StoreFault::Exists,
            format!("a stone named '{name}' stands in the store already, as number {no}"),
        )
        .into()),
    }
}

pub(crate) fn refuse_missing(connection: &Connection, no: StoneNo) -> Result<(), Stop> {
    let there: bool = connection.query_row(
        "SELECT EXISTS (SELECT 1 FROM stone WHERE no = ?1)",
        [no.0],
        |row| row.get(0),
    )?;
    if there {
        Ok(())
    } else {
        Err(StoreError::new(
            StoreFault::NoStone,
            format!("there is no stone number {no} in the store"),
        )
        .into())
    }
}

fn insert_evidence(
    connection: &Connection,
    no: StoneNo,
    revision: u32,
    file: &EvidenceFile,
    now: Timestamp,
) -> rusqlite::Result<()> {
    connection.execute(
        "INSERT INTO evidence (stone, revision, taken_in, file_name, syntax, text, fingerprint)
         VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)",
        params![
            no.0,
            revision,
            now.to_string(),
            file.file_name,
            file.syntax.word(),
            file.text,
            file.fingerprint()
        ],
    )?;
    let evidence = connection.last_insert_rowid();
    for (place, mesh) in file.meshes.iter().enumerate() {
        let sha256 = fingerprint(&[&mesh.bytes]);
        connection.execute(
            "INSERT INTO mesh (sha256, bytes) VALUES (?1, ?2) ON CONFLICT DO NOTHING",
            params![sha256, mesh.bytes],
        )?;
        connection.execute(
            "INSERT INTO evidence_mesh (evidence, place, name, sha256) VALUES (?1, ?2, ?3, ?4)",
            params![evidence, place as i64, mesh.name, sha256],
        )?;
    }
    Ok(())
}

fn insert_run(
    connection: &Connection,
    no: StoneNo,
    run: &NewRun,
    now: Timestamp,
) -> rusqlite::Result<()> {
    connection.execute(
        "INSERT INTO run (stone, at, what, inputs, seed, n_interiors, version, output)
         VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8)",
        params![
            no.0,
            now.to_string(),
            run.what,
            run.inputs,
            run.seed.0.to_string(),
            i64::try_from(run.n_interiors).unwrap_or(i64::MAX),
            run.version,
            run.output
        ],
    )?;
    Ok(())
}

pub(crate) fn insert_event(
    connection: &Connection,
    no: StoneNo,
    event: &NewEvent,
    now: Timestamp,
) -> rusqlite::Result<()> {
    connection.execute(
        "INSERT INTO event (stone, at, kind, body) VALUES (?1, ?2, ?3, ?4)
         ON CONFLICT DO NOTHING",
        params![no.0, now.to_string(), event.kind, event.body],
    )?;
    Ok(())
}

fn evidence_of(connection: &Connection, no: StoneNo) -> rusqlite::Result<Vec<EvidenceRecord>> {
    let mut rows = connection.prepare_cached(
        "SELECT id, revision, taken_in, file_name, syntax, text FROM evidence
         WHERE stone = ?1 ORDER BY revision",
    )?;
    let mut meshes = connection.prepare_cached(
        "SELECT evidence_mesh.name, mesh.bytes FROM evidence_mesh
         JOIN mesh ON mesh.sha256 = evidence_mesh.sha256
         WHERE evidence_mesh.evidence = ?1 ORDER BY place",
    )?;
    let found = rows.query_map([no.0], |row| {
        let id: i64 = row.get(0)?;
        let syntax: String = row.get(4)?;
        let meshes = meshes
            .query_map([id], |mesh| {
                Ok(MeshFile {
                    name: mesh.get(0)?,
                    bytes: mesh.get(1)?,
                })
            })?
            .collect::<Result<_, _>>()?;
        Ok(EvidenceRecord {
            revision: row.get(1)?,
            taken_in: rows::moment(row, 2)?,
            file: EvidenceFile {
                file_name: row.get(3)?,
                // The table's own check allows the two words alone.
                syntax: Syntax::from_word(&syntax).unwrap_or(Syntax::Toml),
                text: row.get(5)?,
                meshes,
            },
        })
    })?;
    found.collect()
}

fn runs_of(connection: &Connection, no: StoneNo) -> rusqlite::Result<Vec<RunRecord>> {
    connection
        .prepare_cached(
            "SELECT at, what, inputs, seed, n_interiors, version, output FROM run
             WHERE stone = ?1 ORDER BY id",
        )?
        .query_map([no.0], rows::run)?
        .collect()
}

fn events_of(connection: &Connection, no: StoneNo) -> rusqlite::Result<Vec<EventRecord>> {
    connection
        .prepare_cached("SELECT at, kind, body FROM event WHERE stone = ?1 ORDER BY id")?
        .query_map([no.0], rows::event)?
        .collect()
}

fn insert_stone(
    connection: &Connection,
    name: &str,
    invented: bool,
    file: &EvidenceFile,
    now: Timestamp,
) -> Result<StoneNo, Stop> {
    let moment = now.to_string();
    refuse_taken_name(connection, name)?;
    connection.execute(
        "INSERT INTO stone (mark, name, taken_in, invented) VALUES (?1, ?2, ?3, ?4)",
        params![birth_mark(name, now, file), name, moment, invented],
    )?;
    let no = StoneNo(connection.last_insert_rowid());
    insert_evidence(connection, no, 1, file, now)?;
    Ok(no)
}

impl Store for SqliteStore {
    fn add_stone(
        &self,
        name: &str,
        invented: bool,
        file: &EvidenceFile,
        now: Timestamp,
    ) -> Result<StoneNo, StoreError> {
        self.write(|transaction| insert_stone(transaction, name, invented, file, now))
    }

    fn add_evidence(
        &self,
        no: StoneNo,
        file: &EvidenceFile,
        now: Timestamp,
    ) -> Result<u32, StoreError> {
        self.write(|transaction| {
            refuse_missing(transaction, no)?;
            let revision: u32 = transaction.query_row(
                "SELECT coalesce(max(revision), 0) + 1 FROM evidence WHERE stone = ?1",
                [no.0],
                |row| row.get(0),
            )?;
            insert_evidence(transaction, no, revision, file, now)?;
            Ok(revision)
        })
    }

    fn stones(&self) -> Result<Vec<StoneRecord>, StoreError> {
        self.read(|connection| {
            connection
                .prepare_cached(&format!(
                    "{STONE_COLUMNS} WHERE EXISTS \
                     (SELECT 1 FROM evidence WHERE evidence.stone = stone.no) ORDER BY no"
                ))?
                .query_map([], rows::stone)?
                .collect()
        })
    }

    fn find(&self, name_or_no: &str) -> Result<StoneRecord, StoreError> {
        let name = name_or_no.trim();
        let found = self.read(|connection| {
            // A name that looks like a number wins over the number.
            let by_name = connection
                .query_row(
                    &format!("{STONE_COLUMNS} WHERE name = ?1"),
                    [name],
                    rows::stone,
                )
                .optional()?;
            match (by_name, name.parse::<i64>()) {
                (None, Ok(no)) => connection
                    .query_row(&format!("{STONE_COLUMNS} WHERE no = ?1"), [no], rows::stone)
                    .optional(),
                (by_name, _) => Ok(by_name),
            }
        })?;
        found.ok_or_else(|| {
            StoreError::new(
                StoreFault::NoStone,
                format!("there is no stone named or numbered '{name}' in the store"),
            )
        })
    }

    fn evidence_all(&self, no: StoneNo) -> Result<Vec<EvidenceRecord>, StoreError> {
        let all = self.read(|connection| evidence_of(connection, no))?;
        if all.is_empty() {
            let why = if self.all_stones()?.iter().any(|stone| stone.no == no) {
                format!(
                    "stone number {no} came over the counter finished: no rough of it is on file"
                )
            } else {
                format!("there is no stone number {no} in the store")
            };
            return Err(StoreError::new(StoreFault::NoStone, why));
        }
        Ok(all)
    }

    fn evidence(&self, no: StoneNo) -> Result<EvidenceRecord, StoreError> {
        self.evidence_all(no)?.pop().ok_or_else(|| {
            StoreError::new(
                StoreFault::NoStone,
                format!("there is no stone number {no} in the store"),
            )
        })
    }

    fn add_run(&self, no: StoneNo, run: &NewRun, now: Timestamp) -> Result<(), StoreError> {
        self.write(|transaction| {
            refuse_missing(transaction, no)?;
            Ok(insert_run(transaction, no, run, now)?)
        })
    }

    fn last_run(
        &self,
        no: StoneNo,
        what: &str,
        inputs: &str,
    ) -> Result<Option<RunRecord>, StoreError> {
        self.read(|connection| {
            connection
                .query_row(
                    "SELECT at, what, inputs, seed, n_interiors, version, output FROM run
                     WHERE stone = ?1 AND what = ?2 AND inputs = ?3 ORDER BY id DESC LIMIT 1",
                    params![no.0, what, inputs],
                    rows::run,
                )
                .optional()
        })
    }

    fn latest_run(&self, no: StoneNo, what: &str) -> Result<Option<RunRecord>, StoreError> {
        self.read(|connection| {
            connection
                .query_row(
                    "SELECT at, what, inputs, seed, n_interiors, version, output FROM run
                     WHERE stone = ?1 AND what = ?2 ORDER BY id DESC LIMIT 1",
                    params![no.0, what],
                    rows::run,
                )
                .optional()
        })
    }

    fn runs(&self, no: StoneNo) -> Result<Vec<RunRecord>, StoreError> {
        self.read(|connection| runs_of(connection, no))
    }

    fn runs_of_kind(&self, what: &str) -> Result<Vec<(StoneNo, RunRecord)>, StoreError> {
        self.read(|connection| {
            connection
                .prepare_cached(
                    "SELECT at, what, inputs, seed, n_interiors, version, output, stone
                     FROM run WHERE what = ?1 ORDER BY id",
                )?
                .query_map([what], |row| Ok((StoneNo(row.get(7)?), rows::run(row)?)))?
                .collect()
        })
    }

    fn add_event(&self, no: StoneNo, event: &NewEvent, now: Timestamp) -> Result<(), StoreError> {
        self.write(|transaction| {
            refuse_missing(transaction, no)?;
            Ok(insert_event(transaction, no, event, now)?)
        })
    }

    fn add_happening(&self, happening: &Happening, now: Timestamp) -> Result<Appended, StoreError> {
        self.write(|transaction| {
            if append(transaction, &happening.entries)? == Appended::GrownMeanwhile {
                return Ok(Appended::GrownMeanwhile);
            }
            for (no, event) in &happening.events {
                refuse_missing(transaction, *no)?;
                insert_event(transaction, *no, event, now)?;
            }
            for stone in &happening.stones {
                let no = insert_stone(transaction, &stone.name, stone.invented, &stone.file, now)?;
                for event in &stone.events {
                    insert_event(transaction, no, event, now)?;
                }
            }
            Ok(Appended::Done)
        })
    }

    fn events(&self, no: StoneNo) -> Result<Vec<EventRecord>, StoreError> {
        self.read(|connection| events_of(connection, no))
    }

    fn setting(&self, key: &str) -> Result<Option<String>, StoreError> {
        self.read(|connection| {
            connection
                .query_row(
                    "SELECT text FROM setting WHERE key = ?1 ORDER BY id DESC LIMIT 1",
                    [key],
                    |row| row.get(0),
                )
                .optional()
        })
    }

    fn set_setting(&self, key: &str, text: &str, now: Timestamp) -> Result<(), StoreError> {
        self.write(|transaction| {
            transaction.execute(
                "INSERT INTO setting (key, text, set_at) VALUES (?1, ?2, ?3)",
                params![key, text, now.to_string()],
            )?;
            Ok(())
        })
    }

    fn import(&self, stone: &StoneFile) -> Result<Imported, StoreError> {
        self.write(|transaction| {
            let here = transaction
                .query_row(
                    &format!("{STONE_COLUMNS} WHERE mark = ?1"),
                    [&stone.mark],
                    rows::stone,
                )
                .optional()?;
            if let Some(here) = here {
                let no = here.no;
                let name = here.name.clone();
                let kept = StoneFile::new(
                    here,
                    evidence_of(transaction, no)?,
                    runs_of(transaction, no)?,
                    events_of(transaction, no)?,
                    counter::photos_of(transaction, no)?,
                );
                return if kept == *stone {
                    Ok(Imported::AlreadyHere(no))
                } else {
                    Err(StoreError::new(
                        StoreFault::Exists,
                        format!(
                            "this stone stands in the store already, as '{name}' (number {no}), \
                             with other records; nothing was changed"
                        ),
                    )
                    .into())
                };
            }
            refuse_taken_name(transaction, &stone.name)?;
            transaction.execute(
                "INSERT INTO stone (mark, name, taken_in, invented) VALUES (?1, ?2, ?3, ?4)",
                params![
                    stone.mark,
                    stone.name,
                    stone.taken_in.to_string(),
                    stone.invented
                ],
            )?;
            let no = StoneNo(transaction.last_insert_rowid());
            for record in &stone.evidence {
                insert_evidence(
                    transaction,
                    no,
                    record.revision,
                    &record.file,
                    record.taken_in,
                )?;
            }
            for record in &stone.runs {
                insert_run(transaction, no, &record.run, record.at)?;
            }
            for record in &stone.events {
                insert_event(transaction, no, &record.event, record.at)?;
            }
            for record in &stone.photos {
                counter::insert_photo(transaction, no, &record.photo, record.at)?;
            }
            Ok(Imported::Added(no))
        })
    }

    fn backup(&self, to: &Path) -> Result<(), StoreError> {
        self.backup_to(to)
    }

    fn holdings(&self) -> Result<Holdings, StoreError> {
        self.own_holdings()
    }

    fn holdings_of(&self, copy: &Path) -> Result<Holdings, StoreError> {
        Self::holdings_of(copy)
    }

    fn restore(&self, from: &Path, now: Timestamp) -> Result<PathBuf, StoreError> {
        self.restore_from(from, now)
    }
}
