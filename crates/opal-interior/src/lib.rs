//! Many possible insides of one stone, each honouring the evidence.
//!
//! Layer 4. Every later step reads the same interiors; none draws its own.

mod interiors;

pub use interiors::{BarDraws, CrackDraws, CrackPlane, Interiors, Speck, SpeckDraws};
