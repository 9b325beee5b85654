//! The books in the file.

use crate::open::SqliteStore;
use crate::rows;
use opal_job::{Appended, KeptEntry, KeptPosting, LedgerStore, StoreError};
use rusqlite::{Connection, params};

impl LedgerStore for SqliteStore {
    fn ledger(&self) -> Result<Vec<KeptEntry>, StoreError> {
        self.read(|connection| {
            // One statement, so that both tables are read at the same moment.
            let mut entries: Vec<KeptEntry> = Vec::new();
            let mut statement = connection.prepare_cached(
                "SELECT number, recorded, currency, body, account, minor
                 FROM ledger_entry LEFT JOIN ledger_posting ON entry = number
                 ORDER BY number, place",
            )?;
            let mut found = statement.query([])?;
            while let Some(row) = found.next()? {
                let number: u64 = row.get(0)?;
                if entries.last().is_none_or(|last| last.number != number) {
                    entries.push(KeptEntry {
                        number,
                        recorded: rows::moment(row, 1)?,
                        currency: row.get(2)?,
                        body: row.get(3)?,
                        postings: Vec::new(),
                    });
                }
                let account: Option<String> = row.get(4)?;
                if let (Some(account), Some(last)) = (account, entries.last_mut()) {
                    last.postings.push(KeptPosting {
                        account,
                        minor: row.get(5)?,
                    });
                }
            }
            Ok(entries)
        })
    }

    fn add_to_ledger(&self, entries: &[KeptEntry]) -> Result<Appended, StoreError> {
        self.write(|transaction| Ok(append(transaction, entries)?))
    }
}

/// Adds all entries, or none where the first one's number is not the next.
pub(crate) fn append(connection: &Connection, entries: &[KeptEntry]) -> rusqlite::Result<Appended> {
    let Some(first) = entries.first() else {
        return Ok(Appended::Done);
    };
    let next: u64 = connection.query_row(
        "SELECT coalesce(max(number), 0) + 1 FROM ledger_entry",
        [],
        |row| row.get(0),
    )?;
    if first.number != next {
        return Ok(Appended::GrownMeanwhile);
    }
    for entry in entries {
        insert(connection, entry)?;
    }
    Ok(Appended::Done)
}

fn insert(connection: &Connection, entry: &KeptEntry) -> rusqlite::Result<()> {
    connection
        .prepare_cached(
            "INSERT INTO ledger_entry (number, recorded, currency, body) VALUES (?1, ?2, ?3, ?4)",
        )?
        .execute(params![
            entry.number,
            entry.recorded.to_string(),
            entry.currency,
            entry.body
        ])?;
    let mut postings = connection.prepare_cached(
        "INSERT INTO ledger_posting (entry, place, account, minor) VALUES (?1, ?2, ?3, ?4)",
    )?;
    for (place, posting) in entry.postings.iter().enumerate() {
        postings.execute(params![
            entry.number,
            place as i64,
            posting.account,
            posting.minor
        ])?;
    }
    Ok(())
}
