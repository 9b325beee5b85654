//! Many possible insides of one stone, each honouring the evidence.
//!
//! Layer 4. Every later step reads the same interiors; none draws its own.

mod at_points;
mod bar;
mod cholesky;
mod draw;
mod ensemble;
mod error;
mod field_prior;
pub mod forms;
mod inclusions;
mod interiors;
mod origin;
mod pockets;
mod quick;
mod readings;
mod showing;
mod sighted;
mod step;

pub use at_points::{BarAtPoint, LEAST_VISIBLE_MM, PointForecast, at_points, bar_at};
pub use draw::DrawOptions;
pub use ensemble::{Absorbed, DrawAgain, Ensemble};
pub use error::InteriorError;
pub use interiors::{BarDraws, CrackDraws, CrackPlane, Interiors, Speck, SpeckDraws};
pub use origin::OriginPrior;
