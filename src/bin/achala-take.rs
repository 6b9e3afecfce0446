//! The take checker: arguments, exit codes and printing, nothing else.
fn main() {}
