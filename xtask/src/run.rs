//! Runs other programs, saying which and stopping at the first that fails.

#![expect(clippy::print_stdout, reason = "a command speaks on the terminal")]

use anyhow::{Context, Result, bail};
use std::ffi::OsStr;
use std::path::PathBuf;
use std::process::Command;

/// The cargo that runs this.
pub(crate) fn cargo() -> Command {
    Command::new(std::env::var_os("CARGO").unwrap_or_else(|| "cargo".into()))
}

/// Runs a command to its end.
pub(crate) fn run(command: &mut Command) -> Result<()> {
    let line = describe(command);
    println!("\n> {line}");
    let status = command.status().with_context(|| format!("'{line}' could not be started"))?;
    if !status.success() {
        bail!("'{line}' failed ({status})");
    }
    Ok(())
}

/// Runs cargo with the words of `line`.
pub(crate) fn cargo_line(line: &str, env: &[(&str, &str)]) -> Result<()> {
    run(cargo().args(line.split_whitespace()).envs(env.iter().copied()))
}

fn describe(command: &Command) -> String {
    let program = PathBuf::from(command.get_program());
    let program = program.file_stem().unwrap_or(OsStr::new("?")).to_string_lossy().into_owned();
    std::iter::once(program)
        .chain(command.get_args().map(|a| a.to_string_lossy().into_owned()))
        .collect::<Vec<_>>()
        .join(" ")
}

/// Goes to the folder that holds the workspace, wherever the command was given.
pub(crate) fn to_workspace_root() -> Result<()> {
    let here = PathBuf::from(env!("CARGO_MANIFEST_DIR"));
    let root = here.parent().context("the command's own folder has no parent")?;
    std::env::set_current_dir(root).with_context(|| format!("cannot enter {}", root.display()))
}

/// The folder that cargo builds into.
pub(crate) fn target_dir() -> PathBuf {
    std::env::var_os("CARGO_TARGET_DIR").map_or_else(|| PathBuf::from("target"), PathBuf::from)
}
