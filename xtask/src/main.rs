//! The project's commands.
fn main() {}
