//! Data of the trade and of handbooks, with a source for every row.
//!
//! Layer 1. The data stand in small TOML files under `data/`, embedded at
//! build; each row names its source by a key of `data/sources.toml`. To add a
//! table: put the file into `data/`, list it in [`table::FILES`], and write a
//! module with its row type and accessor beside the others; the tests of
//! [`mod@source`] then hold every row of it to its source.

pub mod cautions;
pub mod disclosure;
pub mod gravity;
pub mod grit;
pub mod identity;
pub mod solidity;
pub mod source;
pub mod standard_sizes;
pub mod table;
pub mod water;
pub mod weight_shapes;
