//! The `gapwright` program.
fn main() {}
