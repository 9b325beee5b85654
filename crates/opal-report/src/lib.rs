//! Machine output, sheets and cards.
//!
//! Layer 8. Says what was found, decides nothing.

pub mod books;
pub mod card;
pub mod json;
mod print;
pub mod scale_card;
pub mod sheet;
pub mod table;
pub mod text;
