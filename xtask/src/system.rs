//! Sees to the system packages that building the plugin needs.
//!
//! Only Linux needs any: headers of ALSA, JACK, OpenGL and X11. As root, or with sudo that asks
//! nothing, on a system with apt they are installed; otherwise the one line to run is printed.

#![expect(clippy::print_stdout, reason = "a command speaks on the terminal")]

use crate::run::run;
use anyhow::{Result, bail};
use std::process::{Command, Stdio};

/// Debian's names of the packages.
const PACKAGES: &[&str] = &[
    "pkg-config",
    "libasound2-dev",
    "libjack-jackd2-dev",
    "libgl-dev",
    "libx11-dev",
    "libx11-xcb-dev",
    "libxcb1-dev",
    "libxcb-dri2-0-dev",
    "libxcb-icccm4-dev",
    "libxcursor-dev",
    "libxkbcommon-dev",
    "libxkbcommon-x11-dev",
];

/// What the build asks pkg-config for; enough on any distribution.
const LIBRARIES: &[&str] =
    &["alsa", "jack", "gl", "x11", "x11-xcb", "xcb", "xcb-dri2", "xcb-icccm", "xcursor", "xkbcommon", "xkbcommon-x11"];

/// Installs what is missing, or says how.
pub(crate) fn packages() -> Result<()> {
    if !cfg!(target_os = "linux") || complete() {
        return Ok(());
    }
    let line = format!("apt-get install -y --no-install-recommends {}", PACKAGES.join(" "));
    if !quiet("apt-get", &["--version"]) {
        bail!(
            "building the plugin needs the development files of {} and pkg-config: install them with this \
             system's package manager (Debian's names: {}), then run this again",
            LIBRARIES.join(", "),
            PACKAGES.join(" ")
        );
    }
    let root = quiet("sh", &["-c", "[ \"$(id -u)\" = 0 ]"]);
    if !root && !quiet("sudo", &["-n", "true"]) {
        bail!(
            "building the plugin needs system packages; run this line once, then this command again:\n\n    sudo {line}\n"
        );
    }
    println!("Installing the system packages that the plugin's window and sound need.");
    let sh = |script: &str| {
        let mut command = Command::new(if root { "sh" } else { "sudo" });
        if !root {
            command.args(["-n", "sh"]);
        }
        command
            .args(["-c", script])
            .env("DEBIAN_FRONTEND", "noninteractive")
            .stdin(Stdio::null())
            .stdout(Stdio::null());
        command
    };
    if run(&mut sh(&line)).is_err() {
        run(&mut sh("apt-get update"))?;
        run(&mut sh(&line))?;
    }
    if !complete() {
        bail!("the packages were installed, but pkg-config still misses one of: {}", LIBRARIES.join(", "));
    }
    Ok(())
}

fn complete() -> bool {
    let mut args = vec!["--exists"];
    args.extend(LIBRARIES);
    quiet("pkg-config", &args)
}

fn quiet(program: &str, args: &[&str]) -> bool {
    Command::new(program)
        .args(args)
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .status()
        .is_ok_and(|s| s.success())
}
