//! Type, lines and areas on pages, and the pages as a PDF file: what every
//! printed paper is made with.

pub(crate) mod pen;
pub(crate) mod render;
pub(crate) mod type_setting;

use thiserror::Error;

/// The file could not be written: a fault of the program.
#[derive(Clone, Debug, Error, PartialEq)]
#[error("{0}")]
pub(crate) struct PrintError(pub(crate) String);
