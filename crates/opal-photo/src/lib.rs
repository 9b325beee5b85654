//! From pixels to millimetres: a printed scale card found in a photo, the outline
//! of a thing on a plain ground, and edges followed from point to point.
//!
//! Layer 2: knows pixels and millimetres, not opal; no file is opened and no
//! format decoded. Places in a photo are given in pixels, x to the right and y
//! down, with (0, 0) in the middle of the first pixel.

mod background;
pub mod card;
pub mod colour;
mod homography;
mod lattice;
mod lens;
mod live_wire;
mod outline;
mod picture;
mod saddle;
mod scale;
mod threshold;

pub use card::{CardFound, CardRefusal, find_card};
pub use homography::Homography;
pub use lattice::{ChequerCorner, LatticeCorner, find_chequer};
pub use lens::RadialLens;
pub use live_wire::{live_wire, live_wire_within, nearest_edge, retraced};
pub use outline::{OutlineRefusal, TracedOutline, trace_outline};
pub use picture::{Grey, Picture};
pub use scale::PhotoScale;
pub use threshold::otsu;
