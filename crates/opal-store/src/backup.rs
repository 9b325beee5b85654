//! Copies of the whole store while it is in use, and back.

use crate::fault::store_error;
use crate::open::{SqliteStore, check_kind, check_parts, migrate};
use opal_job::{Holdings, StoreError, StoreFault, Timestamp};
use rusqlite::backup::{Backup, StepResult};
use rusqlite::{Connection, OpenFlags};
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

/// Pages copied in one step. Chosen: because 1,000 pages of 4 KiB take a few
/// milliseconds, so that a reader never waits noticeably.
const PAGES_PER_STEP: i32 = 1000;
/// Longest wait for another program that holds one of the two files. Chosen:
/// because nothing of ours writes for longer.
const PATIENCE: Duration = Duration::from_secs(10);

impl SqliteStore {
    /// Copies the store into a new file. The copy is written beside its final
    /// place and moved there when it is whole.
    pub(crate) fn backup_to(&self, to: &Path) -> Result<(), StoreError> {
        if to.exists() {
            return Err(StoreError::new(
                StoreFault::Exists,
                format!(
                    "{} is there already; a backup never overwrites",
                    to.display()
                ),
            ));
        }
        let mut part = to.as_os_str().to_owned();
        part.push(".part");
        let part = PathBuf::from(part);
        let copied = self.copy_into(&part);
        let moved = copied.and_then(|()| {
            std::fs::rename(&part, to).map_err(|error| {
                StoreError::new(
                    StoreFault::File,
                    format!("{} cannot be written: {error}", to.display()),
                )
            })
        });
        if moved.is_err() {
            // The unfinished copy is of no use; failing to remove it is no
            // second fault.
            let _ = std::fs::remove_file(&part);
        }
        moved
    }

    fn copy_into(&self, part: &Path) -> Result<(), StoreError> {
        let _ = std::fs::remove_file(part);
        let mut copy = Connection::open(part).map_err(|error| store_error(part, &error))?;
        copy_all(&self.connection(), &mut copy, part)?;
        // One plain file, without a log beside it.
        copy.pragma_update(None, "journal_mode", "DELETE")
            .map_err(|error| store_error(part, &error))?;
        Ok(())
    }

    /// Puts the copy at `from` in place of everything here.
    pub(crate) fn restore_from(&self, from: &Path, now: Timestamp) -> Result<PathBuf, StoreError> {
        let source = sound_backup(from)?;
        if self.connection().path().is_none_or(str::is_empty) {
            return Err(StoreError::new(
                StoreFault::Other,
                "this bench is a trial, kept in memory alone: a copy is put back at one that is \
                 kept on a disk (opalwright serve)",
            ));
        }
        let kept = self.place_for_what_stood_here(now);
        self.backup_to(&kept)?;
        let mut connection = self.connection();
        copy_all(&source, &mut connection, &self.path)?;
        connection
            .pragma_update(None, "journal_mode", "WAL")
            .map_err(|error| self.failed(&error))?;
        migrate(&mut connection, &self.path)?;
        Ok(kept)
    }

    /// What the copy at `from` holds, after making sure that it can be put back.
    pub(crate) fn holdings_of(from: &Path) -> Result<Holdings, StoreError> {
        holdings(&sound_backup(from)?).map_err(|error| store_error(from, &error))
    }

    /// What stands here.
    pub(crate) fn own_holdings(&self) -> Result<Holdings, StoreError> {
        holdings(&self.connection()).map_err(|error| self.failed(&error))
    }

    fn place_for_what_stood_here(&self, now: Timestamp) -> PathBuf {
        let moment: String = now
            .to_string()
            .chars()
            .take_while(|&letter| letter != '.')
            .filter(char::is_ascii_alphanumeric)
            .collect();
        let mut name = self.path.as_os_str().to_owned();
        name.push(format!(".before-restore-{moment}"));
        PathBuf::from(name)
    }
}

/// Opens a backup for reading, after making sure that it is a whole store that
/// this version can read.
fn sound_backup(from: &Path) -> Result<Connection, StoreError> {
    if !from.is_file() {
        return Err(StoreError::new(
            StoreFault::File,
            format!("there is no backup at {}", from.display()),
        ));
    }
    let failed = |error: rusqlite::Error| store_error(from, &error);
    let source =
        Connection::open_with_flags(from, OpenFlags::SQLITE_OPEN_READ_ONLY).map_err(failed)?;
    check_kind(&source, from, false)?;
    check_parts(&source, from)?;
    let verdict: String = source
        .query_row("PRAGMA integrity_check(1)", [], |row| row.get(0))
        .map_err(failed)?;
    if verdict == "ok" {
        Ok(source)
    } else {
        Err(StoreError::new(
            StoreFault::Damaged,
            format!(
                "the backup {} is damaged ({verdict}); nothing was changed",
                from.display()
            ),
        ))
    }
}

/// Where each kind of record says when it was written.
const WRITTEN: [(&str, &str); 7] = [
    ("stone", "taken_in"),
    ("evidence", "taken_in"),
    ("run", "at"),
    ("event", "at"),
    ("setting", "set_at"),
    ("ledger_entry", "recorded"),
    ("stone_photo", "at"),
];

fn holdings(connection: &Connection) -> rusqlite::Result<Holdings> {
    let mut last: Option<Timestamp> = None;
    let mut entries = 0;
    for (table, at) in WRITTEN {
        // Older schemas lack the later tables.
        let there: bool = connection.query_row(
            "SELECT EXISTS (SELECT 1 FROM sqlite_schema WHERE type = 'table' AND name = ?1)",
            [table],
            |row| row.get(0),
        )?;
        if !there {
            continue;
        }
        let (count, written): (usize, Option<String>) = connection.query_row(
            &format!("SELECT count(*), max({at}) FROM {table}"),
            [],
            |row| Ok((row.get(0)?, row.get(1)?)),
        )?;
        if table == "ledger_entry" {
            entries = count;
        }
        last = last.max(written.and_then(|text| text.parse().ok()));
    }
    // As stones are listed: one that only stands in the books is none of them.
    let stones = connection.query_row("SELECT count(DISTINCT stone) FROM evidence", [], |row| {
        row.get(0)
    })?;
    Ok(Holdings {
        stones,
        entries,
        last,
    })
}

fn copy_all(from: &Connection, to: &mut Connection, place: &Path) -> Result<(), StoreError> {
    let failed = |error: rusqlite::Error| store_error(place, &error);
    let copy = Backup::new(from, to).map_err(failed)?;
    let started = Instant::now();
    loop {
        match copy.step(PAGES_PER_STEP).map_err(failed)? {
            StepResult::Done => return Ok(()),
            StepResult::More => {}
            _ if started.elapsed() > PATIENCE => {
                return Err(StoreError::new(
                    StoreFault::Locked,
                    format!("{} is held by another program", place.display()),
                ));
            }
            _ => std::thread::sleep(Duration::from_millis(20)),
        }
    }
}
