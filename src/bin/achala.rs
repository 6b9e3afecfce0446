//! The stand-alone app.
fn main() {}
