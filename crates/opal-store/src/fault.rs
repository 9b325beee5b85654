//! SQLite's errors in words that help.

use opal_job::{StoreError, StoreFault};
use rusqlite::ErrorCode;
use std::path::Path;

/// Sorts an error of SQLite by what helps, and says where it happened.
pub(crate) fn store_error(place: &Path, error: &rusqlite::Error) -> StoreError {
    let place = place.display();
    let fault = match error.sqlite_error_code() {
        Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked) => StoreFault::Locked,
        Some(ErrorCode::ReadOnly | ErrorCode::PermissionDenied) => StoreFault::ReadOnly,
        Some(ErrorCode::DiskFull) => StoreFault::Full,
        Some(ErrorCode::NotADatabase | ErrorCode::DatabaseCorrupt) => StoreFault::Damaged,
        Some(ErrorCode::CannotOpen | ErrorCode::SystemIoFailure) => StoreFault::File,
        _ => StoreFault::Other,
    };
    let message = match fault {
        StoreFault::Locked => format!("the store {place} is held by another program"),
        StoreFault::ReadOnly => format!("the store {place} may not be written to"),
        StoreFault::Full => {
            format!("the disk that holds the store {place} is full; nothing was changed")
        }
        StoreFault::Damaged => format!("{place} is not a store, or it is damaged"),
        StoreFault::File if error.sqlite_error_code() == Some(ErrorCode::SystemIoFailure) => {
            format!(
                "the store {place} could not be read or written ({error}); look whether it was \
                 kept before you do it again"
            )
        }
        StoreFault::File => format!("the store {place} cannot be opened ({error})"),
        _ => format!("the store {place} failed: {error}"),
    };
    StoreError::new(fault, message)
}
