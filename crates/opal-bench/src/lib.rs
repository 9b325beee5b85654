//! What happened to a stone at the bench, and what to do next.
//!
//! Layer 7. Prices come in through `opal_plan::Appraiser`; the insides are drawn
//! by `opal_interior`.

mod event;
mod face;
mod facing;
mod insides;
mod now;
mod offcut;
mod replay;
mod rule;
mod under;
mod walk;

pub use event::{Event, Ground, Removed, Sight};
pub use facing::{
    Facing, FacingAsk, FacingError, FacingStep, FacingWalk, OnTruth, Relief, THROUGH_SHARE,
};
pub use insides::{Followed, Insides, cut_to};
pub use now::{Action, Advice, Now, NowAsk, NowError, now, taught};
pub use replay::{Offcut, Stage, Stint, Worked, replay};
