//! opalwright
fn main() {}
