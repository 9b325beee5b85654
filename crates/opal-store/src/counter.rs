//! What came over the counter: stones without rough, and photos.

use crate::open::SqliteStore;
use crate::rows;
use crate::stones::{STONE_COLUMNS, insert_event, refuse_missing, refuse_taken_name};
use opal_job::{
    CounterStore, NewEvent, Photo, PhotoRecord, StoneNo, StoneRecord, StoreError, StoreFault,
    Timestamp, fingerprint,
};
use rusqlite::{Connection, OptionalExtension as _, params};

pub(crate) fn insert_photo(
    connection: &Connection,
    no: StoneNo,
    photo: &Photo,
    at: Timestamp,
) -> rusqlite::Result<()> {
    let sha256 = photo.sha256();
    connection.execute(
        "INSERT INTO photo (sha256, bytes) VALUES (?1, ?2) ON CONFLICT DO NOTHING",
        params![sha256, photo.bytes],
    )?;
    connection.execute(
        "INSERT INTO stone_photo (stone, at, name, sha256) VALUES (?1, ?2, ?3, ?4)
         ON CONFLICT DO NOTHING",
        params![no.0, at.to_string(), photo.name, sha256],
    )?;
    Ok(())
}

pub(crate) fn photos_of(
    connection: &Connection,
    no: StoneNo,
) -> rusqlite::Result<Vec<PhotoRecord>> {
    connection
        .prepare_cached(
            "SELECT stone_photo.at, stone_photo.name, photo.bytes FROM stone_photo
             JOIN photo ON photo.sha256 = stone_photo.sha256
             WHERE stone_photo.stone = ?1 ORDER BY id",
        )?
        .query_map([no.0], |row| {
            Ok(PhotoRecord {
                at: rows::moment(row, 0)?,
                photo: Photo {
                    name: row.get(1)?,
                    bytes: row.get(2)?,
                },
            })
        })?
        .collect()
}

impl CounterStore for SqliteStore {
    fn add_finished_stone(
        &self,
        name: &str,
        known: &NewEvent,
        now: Timestamp,
    ) -> Result<StoneNo, StoreError> {
        let moment = now.to_string();
        // As for rough: made of what the stone was when its record was opened.
        let mark = fingerprint(&[name.as_bytes(), moment.as_bytes(), known.body.as_bytes()]);
        self.write(|transaction| {
            refuse_taken_name(transaction, name)?;
            transaction.execute(
                "INSERT INTO stone (mark, name, taken_in, invented) VALUES (?1, ?2, ?3, 0)",
                params![&mark[..32], name, moment],
            )?;
            let no = StoneNo(transaction.last_insert_rowid());
            insert_event(transaction, no, known, now)?;
            Ok(no)
        })
    }

    fn all_stones(&self) -> Result<Vec<StoneRecord>, StoreError> {
        self.read(|connection| {
            connection
                .prepare_cached(&format!("{STONE_COLUMNS} ORDER BY no"))?
                .query_map([], rows::stone)?
                .collect()
        })
    }

    fn add_photo(&self, no: StoneNo, photo: &Photo, now: Timestamp) -> Result<(), StoreError> {
        self.write(|transaction| {
            refuse_missing(transaction, no)?;
            Ok(insert_photo(transaction, no, photo, now)?)
        })
    }

    fn photos(&self, no: StoneNo) -> Result<Vec<PhotoRecord>, StoreError> {
        self.read(|connection| photos_of(connection, no))
    }

    fn photo(&self, no: StoneNo, sha256: &str) -> Result<Photo, StoreError> {
        let found = self.read(|connection| {
            connection
                .query_row(
                    "SELECT stone_photo.name, photo.bytes FROM stone_photo
                     JOIN photo ON photo.sha256 = stone_photo.sha256
                     WHERE stone_photo.stone = ?1 AND stone_photo.sha256 = ?2",
                    params![no.0, sha256],
                    |row| {
                        Ok(Photo {
                            name: row.get(0)?,
                            bytes: row.get(1)?,
                        })
                    },
                )
                .optional()
        })?;
        found.ok_or_else(|| {
            let why = format!("stone number {no} has no photo {sha256}");
            StoreError::new(StoreFault::NoStone, why)
        })
    }
}
