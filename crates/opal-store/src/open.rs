//! Opening, checking and migrating the file.

use crate::fault::store_error;
use opal_job::{StoreError, StoreFault};
use rusqlite::{Connection, OpenFlags};
use rusqlite_migration::{M, Migrations};
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::Duration;

/// `PRAGMA application_id` of every store: 'OPAL' in ASCII.
const APPLICATION_ID: i32 = 0x4f50_414c;

/// All migrations, oldest first. One is never edited once released; new ones
/// are added at the end.
const MIGRATIONS: &[M<'static>] = &[
    M::up(include_str!("migrations/0001-first.sql")),
    M::up(include_str!("migrations/0002-ledger.sql")),
    M::up(include_str!("migrations/0003-photos.sql")),
    M::up(include_str!("migrations/0004-event-once.sql")),
];

/// How long to wait for another program to let go. Chosen: because a sheet or
/// backup in another window is done within a second or two.
const PATIENCE: Duration = Duration::from_secs(5);

/// A store in one SQLite file.
pub struct SqliteStore {
    pub(crate) path: PathBuf,
    connection: Mutex<Connection>,
}

impl SqliteStore {
    /// Opens the store at `path`, making it (and the folders above it) when it
    /// is not there, and bringing an older one up to date.
    ///
    /// # Errors
    /// Not a store, a newer one, held by another program, or not writable.
    pub fn open(path: &Path) -> Result<Self, StoreError> {
        Self::open_with_patience(path, PATIENCE)
    }

    /// As [`SqliteStore::open`], waiting this long at most for another program
    /// that holds the file.
    ///
    /// # Errors
    /// As [`SqliteStore::open`].
    pub fn open_with_patience(path: &Path, patience: Duration) -> Result<Self, StoreError> {
        if let Some(folder) = path.parent().filter(|f| !f.as_os_str().is_empty()) {
            std::fs::create_dir_all(folder).map_err(|error| {
                StoreError::new(
                    StoreFault::File,
                    format!(
                        "the folder {} for the store cannot be made: {error}",
                        folder.display()
                    ),
                )
            })?;
        }
        let flags = OpenFlags::SQLITE_OPEN_READ_WRITE
            | OpenFlags::SQLITE_OPEN_CREATE
            | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        let connection =
            Connection::open_with_flags(path, flags).map_err(|error| store_error(path, &error))?;
        Self::prepared(connection, path, patience)
    }

    /// A store that lives as long as the value: for tests and trials.
    ///
    /// # Errors
    /// None that is known.
    pub fn in_memory() -> Result<Self, StoreError> {
        let path = Path::new("in memory");
        let connection = Connection::open_in_memory().map_err(|error| store_error(path, &error))?;
        Self::prepared(connection, path, PATIENCE)
    }

    fn prepared(
        mut connection: Connection,
        path: &Path,
        patience: Duration,
    ) -> Result<Self, StoreError> {
        let failed = |error: rusqlite::Error| store_error(path, &error);
        connection.busy_timeout(patience).map_err(failed)?;
        check_kind(&connection, path, true)?;
        connection
            .pragma_update(None, "journal_mode", "WAL")
            .map_err(failed)?;
        connection
            .pragma_update(None, "synchronous", "FULL")
            .map_err(failed)?;
        connection
            .pragma_update(None, "foreign_keys", "ON")
            .map_err(failed)?;
        migrate(&mut connection, path)?;
        Ok(Self {
            path: path.to_owned(),
            connection: Mutex::new(connection),
        })
    }

    /// The connection. A panic in another thread leaves no half-done work
    /// behind (its transaction rolled back), so a poisoned lock is taken over.
    pub(crate) fn connection(&self) -> MutexGuard<'_, Connection> {
        self.connection
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
    }

    pub(crate) fn failed(&self, error: &rusqlite::Error) -> StoreError {
        store_error(&self.path, error)
    }

    /// Where it stands.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.path
    }
}

/// Refuses what is not a store, or a newer one. An empty file passes where
/// `new_allowed`.
pub(crate) fn check_kind(
    connection: &Connection,
    path: &Path,
    new_allowed: bool,
) -> Result<(), StoreError> {
    let failed = |error: rusqlite::Error| store_error(path, &error);
    let number = |pragma: &str| -> Result<i32, StoreError> {
        connection
            .pragma_query_value(None, pragma, |row| row.get(0))
            .map_err(failed)
    };
    let tables: i64 = connection
        .query_row("SELECT count(*) FROM sqlite_schema", [], |row| row.get(0))
        .map_err(failed)?;
    if tables == 0 && new_allowed {
        return Ok(());
    }
    if number("application_id")? != APPLICATION_ID {
        return Err(StoreError::new(
            StoreFault::Damaged,
            format!(
                "{} is a database of something else, not a store",
                path.display()
            ),
        ));
    }
    let version = number("user_version")?;
    if usize::try_from(version).unwrap_or(usize::MAX) > MIGRATIONS.len() {
        return Err(StoreError::new(
            StoreFault::Newer,
            format!(
                "the store {} was written by a newer version (schema {version}; this version \
                 knows schemas up to {})",
                path.display(),
                MIGRATIONS.len()
            ),
        ));
    }
    Ok(())
}

/// A table, an index, a view or a trigger; what a trigger or a view does, without its
/// white space.
type Part = (String, String, Option<String>);

fn parts(connection: &Connection) -> rusqlite::Result<BTreeSet<Part>> {
    connection
        .prepare(
            "SELECT type, name, CASE WHEN type IN ('trigger', 'view') THEN sql END \
             FROM sqlite_schema WHERE name NOT LIKE 'sqlite\\_%' ESCAPE '\\'",
        )?
        .query_map([], |row| {
            let does: Option<String> = row.get(2)?;
            let bare = |text: String| text.split_whitespace().collect();
            Ok((row.get(0)?, row.get(1)?, does.map(bare)))
        })?
        .collect()
}

/// Refuses a file that has parts which no store of its schema has, or lacks some: a
/// trigger in it would run with every record that is added, and the triggers that keep
/// records from being changed must be there.
pub(crate) fn check_parts(connection: &Connection, path: &Path) -> Result<(), StoreError> {
    let failed = |error: rusqlite::Error| store_error(path, &error);
    let version: usize = connection
        .pragma_query_value(None, "user_version", |row| row.get(0))
        .map_err(failed)?;
    let mut model = Connection::open_in_memory().map_err(failed)?;
    Migrations::from_slice(MIGRATIONS)
        .to_version(&mut model, version)
        .map_err(|error| StoreError::new(StoreFault::Other, error.to_string()))?;
    let (there, wanted) = (
        parts(connection).map_err(failed)?,
        parts(&model).map_err(failed)?,
    );
    let Some((kind, name, _)) = there.symmetric_difference(&wanted).next() else {
        return Ok(());
    };
    Err(StoreError::new(
        StoreFault::Damaged,
        format!(
            "{} is not as this program writes a store (its {kind} '{name}'); nothing was changed",
            path.display()
        ),
    ))
}

/// Brings the schema up to date.
pub(crate) fn migrate(connection: &mut Connection, path: &Path) -> Result<(), StoreError> {
    Migrations::from_slice(MIGRATIONS)
        .to_latest(connection)
        .map_err(|error| match error {
            rusqlite_migration::Error::RusqliteError { err, .. } => store_error(path, &err),
            other => StoreError::new(
                StoreFault::Other,
                format!(
                    "the store {} could not be brought up to date: {other}",
                    path.display()
                ),
            ),
        })
}

#[cfg(test)]
mod tests {
    use super::*;
    use opal_job::{EvidenceFile, Store as _, Syntax};

    fn file(letters: usize) -> EvidenceFile {
        EvidenceFile {
            file_name: "a.toml".into(),
            syntax: Syntax::Toml,
            text: "x".repeat(letters),
            meshes: vec![],
        }
    }

    /// A disk that is full is played by SQLite's own page limit, which gives
    /// the same result code (SQLITE_FULL).
    #[test]
    fn full_disk_is_named_and_nothing_is_half_written() {
        let store = SqliteStore::in_memory().expect("opens");
        store
            .connection()
            .pragma_update(None, "max_page_count", 40)
            .expect("sets");
        let now = "2026-01-02T03:04:05Z".parse().expect("a time");
        let error = store
            .add_stone("big", false, &file(1_000_000), now)
            .expect_err("no room");
        assert_eq!(error.fault, StoreFault::Full);
        assert!(store.stones().expect("reads").is_empty());
    }

    #[test]
    fn a_store_that_may_not_be_written_is_named() {
        let store = SqliteStore::in_memory().expect("opens");
        store
            .connection()
            .pragma_update(None, "query_only", true)
            .expect("sets");
        let now = "2026-01-02T03:04:05Z".parse().expect("a time");
        let error = store
            .add_stone("a", false, &file(3), now)
            .expect_err("read only");
        assert_eq!(error.fault, StoreFault::ReadOnly);
    }

    #[test]
    fn writing_is_safe_against_a_power_cut() {
        let folder = tempfile::tempdir().expect("a folder");
        let store = SqliteStore::open(&folder.path().join("s.db")).expect("opens");
        let connection = store.connection();
        let mode: String = connection
            .pragma_query_value(None, "journal_mode", |row| row.get(0))
            .expect("reads");
        // 2 is FULL (SQLite documentation, PRAGMA synchronous).
        let sync: i32 = connection
            .pragma_query_value(None, "synchronous", |row| row.get(0))
            .expect("reads");
        assert_eq!((mode.as_str(), sync), ("wal", 2));
    }

    #[test]
    fn the_database_refuses_changes_to_records() {
        let store = SqliteStore::in_memory().expect("opens");
        let now = "2026-01-02T03:04:05Z".parse().expect("a time");
        store.add_stone("a", false, &file(3), now).expect("adds");
        for statement in ["UPDATE evidence SET text = 'y'", "DELETE FROM evidence"] {
            let error = store
                .connection()
                .execute(statement, [])
                .expect_err("refused");
            assert!(error.to_string().contains("only added to"), "{error}");
        }
    }
}
