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
use clap::error::{ContextKind, ContextValue, ErrorKind};
use std::io::{self, Write};
use std::process::ExitCode;

/// Bad usage or unreadable input.
const BAD_INPUT: u8 = 2;
/// A failed run.
const FAILED: u8 = 1;

fn main() -> ExitCode {
    let args = match Args::try_parse() {
        Ok(args) => args,
        Err(error) => match what_is_missing(&error) {
            Some(sentence) => {
                say_aside(&format!("achala-take: {sentence}"));
                return ExitCode::from(BAD_INPUT);
            }
            None => error.exit(),
        },
    };
    let done = match args.verb {
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

/// One sentence with an example where Sa, and nothing else, was not stated, or something that a drone needs.
fn what_is_missing(error: &clap::Error) -> Option<String> {
    let missing = match error.get(ContextKind::InvalidArg) {
        Some(ContextValue::Strings(missing)) if error.kind() == ErrorKind::MissingRequiredArgument => missing,
        _ => return None,
    };
    let verb = std::env::args().nth(1)?;
    if verb == "drone" {
        return Some(format!(
            "drone needs {}, as in \"achala-take drone --tonic D3 --seconds 600 --out drone.wav\"",
            missing.join(" and ")
        ));
    }
    if !matches!(&missing[..], [only] if only.starts_with("--tonic")) {
        return None;
    }
    let forms = "a note (--tonic D3), a frequency (--tonic 146.83Hz) or a kattai (--tonic k2/3)";
    Some(match verb.as_str() {
        "check" | "trace" => format!(
            "{verb} needs your Sa: {forms}, as in \"achala-take {verb} TAKE.wav --tonic D3\"; or --tonic auto to take it \
             from the sound, where a drone under the song makes it certain"
        ),
        _ => format!("{verb} needs your Sa: {forms}"),
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
