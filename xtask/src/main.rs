//! Checks and automation of the workspace itself.
fn main() {}
