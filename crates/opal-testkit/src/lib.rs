//! Invented stones with known insides, for tests and studies.
//!
//! Dev only. The random surfaces here are made in another way (sums of waves)
//! than the forecasts' fields (circulant embedding), so that one checks the
//! other. Everything here is invented; nothing of it is a fact about opal.

mod cutter;
mod files;
mod horizons;
mod solids;
mod surface;
mod truth;

pub use cutter::{Looking, edge_places, look_over, quick_look, windows};
pub use files::{corpus, shared_data};
pub use horizons::{LayerRow, MeasuredSurface, measured_layers, measured_surfaces, surfaces_in};
pub use solids::{ellipsoid_cap_mm3, ellipsoid_mm3, piece, rough};
pub use surface::{WaveSurface, Waves};
pub use truth::{BarLaw, Departing, TrueBar};
