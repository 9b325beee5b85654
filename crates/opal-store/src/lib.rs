//! Stones, events and runs in one SQLite file.
