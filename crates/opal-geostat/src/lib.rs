//! Covariance models, kriging, likelihood, conditional simulation, stereology, scoring.

pub mod scoring;
pub mod stereology;
