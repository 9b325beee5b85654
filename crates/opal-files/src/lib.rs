//! Evidence, meshes, price books and tables in and out.

mod document;
mod evidence;
mod prices;

pub use evidence::{
    Attachments, EVIDENCE_FORMAT, Folder, NoAttachments, evidence_schema, evidence_to_json,
    evidence_to_toml, read_evidence, read_evidence_file,
};
pub use prices::{
    BenchOverrides, PRICES_FORMAT, Prices, example_prices, prices_schema, read_prices,
};

pub mod mesh;
