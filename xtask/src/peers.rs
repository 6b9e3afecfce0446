//! General f0 libraries and ours, run over one folder of clips in one go.

use crate::run::{cargo_line, run, target_dir};
use anyhow::{Result, bail};
use std::path::Path;
use std::process::Command;

/// `DIR` holds clips with their truth (`NAME.flac`, `NAME.f0.csv`, `NAME.json`).
pub(crate) fn peers(args: &[String]) -> Result<()> {
    let [dir] = args else { bail!("peers takes one folder of clips: cargo xtask peers DIR") };
    if !Path::new(dir).is_dir() {
        bail!("'{dir}' is no folder: name the folder that holds the clips");
    }
    cargo_line("build --release --package achala --no-default-features --bin achala-take", &[])?;
    let venv = target_dir().join("peers-venv");
    let python = venv.join("bin/python3");
    if !python.exists() {
        run(Command::new("python3").args(["-m", "venv"]).arg(&venv))?;
    }
    run(Command::new(&python).args([
        "-m",
        "pip",
        "install",
        "--quiet",
        "--requirement",
        "xtask/peers/requirements.txt",
    ]))?;
    let ours = target_dir().join("release/achala-take");
    run(Command::new(&python).arg("xtask/peers/peers.py").arg(ours).arg(dir).arg(target_dir().join("peers")))
}
