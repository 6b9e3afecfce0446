//! Ours beside the f0 libraries that a package registry carries, on a folder of clips, in one table.
//!
//! A virtual environment under `target/peers` with pinned packages (`xtask/peers/requirements.txt`), then
//! `xtask/peers/peers.py`. It takes minutes, so it is no part of the tests; a recorded table is `tests/data/peers.md`.

use crate::run::{cargo_line, run, target_dir};
use anyhow::{Context, Result, bail};
use std::path::{Path, PathBuf};
use std::process::Command;

/// The oldest Python for which the pinned packages exist.
const OLDEST: (u32, u32) = (3, 11);

/// Measures the clips of the folder that is named first; other words go to the script.
pub(crate) fn peers(words: &[String]) -> Result<()> {
    let Some((folder, rest)) = words.split_first() else {
        bail!("name a folder of clips: cargo xtask peers FOLDER [--without-drone]");
    };
    if !Path::new(folder).is_dir() {
        bail!("{folder}: there is no such folder");
    }
    let home = target_dir().join("peers");
    let python = environment(&home)?;
    cargo_line(
        "build --release --package achala --no-default-features --bin achala-take --example listening_cost --example tracker_alone",
        &[],
    )?;
    let built = target_dir().join("release");
    run(Command::new(python)
        .arg("xtask/peers/peers.py")
        .arg(folder)
        .arg(built.join("achala-take").with_extension(std::env::consts::EXE_EXTENSION))
        .arg(built.join("examples/listening_cost").with_extension(std::env::consts::EXE_EXTENSION))
        .arg(built.join("examples/tracker_alone").with_extension(std::env::consts::EXE_EXTENSION))
        .arg(home.join("peers.md"))
        .args(rest)
        // One thread each, so that processor time is that of the method.
        .env("PYTHONDONTWRITEBYTECODE", "1")
        .envs(["OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "NUMBA_NUM_THREADS"].map(|name| (name, "1"))))
}

/// Makes the environment, or brings it up to the pinned packages; returns its interpreter.
fn environment(home: &Path) -> Result<PathBuf> {
    let python = home.join(if cfg!(windows) { "venv/Scripts/python.exe" } else { "venv/bin/python" });
    if !python.exists() {
        let (major, minor) = OLDEST;
        let system = if cfg!(windows) { "python" } else { "python3" };
        run(Command::new(system).args(["-m", "venv"]).arg(home.join("venv")))
            .with_context(|| format!("the peers need Python {major}.{minor} or newer with its venv module"))?;
    }
    run(Command::new(&python).args([
        "-m",
        "pip",
        "install",
        "--quiet",
        "--requirement",
        "xtask/peers/requirements.txt",
    ]))
    .context("the pinned packages could not be installed")?;
    Ok(python)
}
