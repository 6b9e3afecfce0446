//! The main job in one command: build, bundle, play a demo take through the bundled plugin.

#![expect(clippy::print_stdout, reason = "a command speaks on the terminal")]

use crate::run::{cargo, cargo_line, run, target_dir};
use crate::system;
use anyhow::Result;

/// Builds what is needed and runs the demo.
pub(crate) fn demo() -> Result<()> {
    system::packages()?;
    cargo_line("build --release --package achala --package achala-demo", &[])?;
    nice_plug_xtask::main_with_args("cargo xtask", ["bundle", "achala", "--release"].map(str::to_owned))?;
    let target = target_dir();
    run(cargo().args(["run", "--release", "--quiet", "--package", "achala-demo", "--", "demo"]).arg(&target))?;
    println!(
        "\nThe plugin bundles are in {0}: `cargo xtask install` copies them to your plugin folders.\n\
         The stand-alone app is {0}/Achala: start it to sing now, with headphones at a low level.",
        target.join("bundled").display()
    );
    Ok(())
}

/// Every face of the window, as pictures.
pub(crate) fn pictures() -> Result<()> {
    system::packages()?;
    run(cargo().args(["run", "--release", "--quiet", "--package", "achala-demo", "--", "pictures"]).arg(target_dir()))
}
