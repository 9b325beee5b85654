//! Covariance models, kriging, likelihood, conditional simulation, stereology, scoring.
