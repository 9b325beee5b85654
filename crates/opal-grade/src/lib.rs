//! Words for grade, identity and disclosure: weigh, identify, say it truthfully.
//!
//! Layer 3. Pure functions: observations in, answers out. Nothing here is a
//! laboratory's certificate.

mod description;
mod dimensions;
mod disclose;
mod grade;
mod hydrostatic;
mod identify;
mod likelihood;
mod misfit;
mod naming;
mod next_test;
mod observation;
mod scale;
mod soak;
mod wording;

pub use description::{Described, Description, Viewed};
pub use dimensions::{
    DimensionError, EstimatedWeight, StoneSizes, dome_exponent, gravity_from_sizes,
    weight_from_sizes,
};
pub use disclose::{Basis, Claim, DiscloseError, Disclosure, Line, StoneFacts, disclose};
pub use grade::{Grade, ToneMark};
pub use hydrostatic::{
    BudgetLine, WaterWeighing, WeighError, WeighedGravity, WeighingSetup,
    apparent_gravity_after_uptake, largest_uptake, weigh_in_water,
};
pub use identify::{Ground, Identity, Share, Sureness, identify};
pub use misfit::Misfit;
pub use naming::{Naming, naming};
pub use next_test::{NextTest, RefusedTest};
pub use observation::{
    Found, GRAVITY, INDEX, Observation, ObservationFault, faults as observation_faults,
};
pub use scale::{SCALES, Scale, Word, scale};
pub use soak::{Known, SoakFacts};
pub use wording::{Proof, WordFault, check_text};
