//! What happened to a stone at the bench, and what to do next.
//!
//! Layer 7. Prices come in through `opal_plan::Appraiser`; the insides through
//! `opal_interior::Interiors`.

mod event;
mod replay;

pub use event::{Event, Ground, Removed, Sight};
pub use replay::{Offcut, Stage, Stint, Worked, replay};
