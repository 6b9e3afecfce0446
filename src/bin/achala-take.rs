//! Checks recorded takes from the command line: arguments, exit codes and printing, nothing else.
//!
//! Exit status: 0 done; 2 bad usage or unreadable input; 1 a failed run, or several takes of which at least one
//! could not be checked.

#[path = "achala_take/args.rs"]
mod args;
#[path = "achala_take/check.rs"]
mod check;
#[path = "achala_take/demo.rs"]
mod demo;
#[path = "achala_take/drone.rs"]
mod drone;
#[path = "achala_take/progress.rs"]
mod progress;
#[path = "achala_take/swaras.rs"]
mod swaras;
#[path = "achala_take/table.rs"]
mod table;
#[path = "achala_take/tonic.rs"]
mod tonic;
#[path = "achala_take/trace.rs"]
mod trace;

use achala::take::TakeError;
use args::{Args, Verb};
use clap::Parser;
use std::io::{self, Write};
use std::process::ExitCode;

/// Bad usage or unreadable input.
const BAD_INPUT: u8 = 2;
/// A failed run.
const FAILED: u8 = 1;

fn main() -> ExitCode {
    let done = match Args::parse().verb {
        Verb::Trace(args) => trace::run(&args).map(|()| ExitCode::SUCCESS),
        Verb::Check(args) => check::run(&args),
        Verb::Tonic(args) => tonic::run(&args).map(|()| ExitCode::SUCCESS),
        Verb::Demo(args) => demo::run(&args).map(|()| ExitCode::SUCCESS),
        Verb::Drone(args) => drone::run(&args).map(|()| ExitCode::SUCCESS),
        Verb::Swaras(args) => swaras::run(&args).map(|()| ExitCode::SUCCESS),
    };
    done.unwrap_or_else(|error| {
        say_error(&error);
        status_of(&error)
    })
}

/// The exit status that an error stands for.
fn status_of(error: &TakeError) -> ExitCode {
    ExitCode::from(if error.is_input() { BAD_INPUT } else { FAILED })
}

/// One sentence on standard error. A closed standard error is no reason to fail differently.
fn say_error(error: &TakeError) {
    say_aside(&format!("achala-take: {error}"));
}

/// A line on standard error.
fn say_aside(line: &str) {
    let _ = writeln!(io::stderr().lock(), "{line}");
}

/// Writes to standard output. A reader that has enough (`| head`) is no error; anything else is.
fn print(fill: impl FnOnce(&mut dyn Write) -> io::Result<()>) -> Result<(), TakeError> {
    let mut out = io::BufWriter::new(io::stdout().lock());
    match fill(&mut out).and_then(|()| out.flush()) {
        Err(why) if why.kind() != io::ErrorKind::BrokenPipe => Err(TakeError::Write("standard output".into(), why)),
        _ => Ok(()),
    }
}
