//! The main job in one command: build, bundle, play a demo take through the bundled plugin.

#![expect(clippy::print_stdout, reason = "a command speaks on the terminal")]

use crate::run::{cargo_line, run, target_dir};
use crate::system;
use anyhow::Result;
use std::process::Command;

/// Builds what is needed and runs the demo.
pub(crate) fn demo() -> Result<()> {
    build()?;
    bundle()?;
    let target = target_dir();
    program("demo")?;
    println!(
        "\nThe plugin bundles are in {0}: `cargo xtask install` copies them to your plugin folders.\n\
         The stand-alone app is {0}/Achala: start it to sing now, with headphones at a low level.",
        target.join("bundled").display()
    );
    Ok(())
}

/// Makes the bundles of what is built.
pub(crate) fn bundle() -> Result<()> {
    nice_plug_xtask::main_with_args("cargo xtask", ["bundle", "achala", "--release"].map(str::to_owned))
}

/// Every face of the window, as pictures.
pub(crate) fn pictures() -> Result<()> {
    build()?;
    program("pictures")
}

/// Plugin and demo in one build, so that nothing is built twice.
fn build() -> Result<()> {
    system::packages()?;
    cargo_line("build --release --package achala --package achala-demo", &[])
}

/// Runs the demo's own program.
fn program(verb: &str) -> Result<()> {
    let target = target_dir();
    let program = target.join("release/achala-demo").with_extension(std::env::consts::EXE_EXTENSION);
    run(Command::new(program).arg(verb).arg(&target))
}
