//! Evidence, meshes, price books and tables in and out.

mod document;
mod evidence;
mod parcel;
mod picture;
mod points;
mod prices;
mod readings;
mod rows;
mod table;
mod tenders;
mod wheels;

pub use evidence::{
    Attachments, EVIDENCE_FORMAT, Folder, NoAttachments, evidence_schema, evidence_to_json,
    evidence_to_toml, read_evidence, read_evidence_file,
};
pub use parcel::{PARCEL_FORMAT, parcel_schema, read_parcel};
pub use picture::{PICTURE_BYTES_MAX, PICTURE_PIXELS_MAX, read_picture};
pub use points::read_points;
pub use prices::{
    BenchOverrides, FieldChange, PRICES_FORMAT, Prices, change_prices, example_prices,
    prices_as_json, prices_schema, read_prices,
};
pub use readings::{
    READINGS_FORMAT, ReadingNote, Readings, read_readings, readings_schema, readings_to_json,
};
pub use rows::{TableRow, read_table};
pub use table::table_to_csv;
pub use tenders::read_tenders;
pub use wheels::{
    WHEELS_FORMAT, example_wheels, read_wheels, wheels_as_json, wheels_from_json, wheels_schema,
};

pub mod mesh;
