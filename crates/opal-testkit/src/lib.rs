//! Invented stones with known insides, for tests and studies.
