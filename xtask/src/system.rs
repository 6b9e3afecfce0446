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

/// What the tests of the real window need besides: a virtual display and a driver that draws without a graphics card.
const DISPLAY_PACKAGES: &[&str] = &["xvfb", "libgl1-mesa-dri"];

/// Installs what is missing, or says how.
pub(crate) fn packages() -> Result<()> {
    if !cfg!(target_os = "linux") || complete() {
        return Ok(());
    }
    if !quiet("apt-get", &["--version"]) {
        bail!(
            "building the plugin needs the development files of {} and pkg-config: install them with this \
             system's package manager (Debian's names: {}), then run this again",
            LIBRARIES.join(", "),
            PACKAGES.join(" ")
        );
    }
    let Some(user) = User::who_may_install() else {
        bail!(
            "building the plugin needs system packages; run this line once, then this command again:\n\n    sudo {}\n",
            install_line(PACKAGES)
        );
    };
    println!("Installing the system packages that the plugin's window and sound need.");
    user.install(PACKAGES)?;
    if !complete() {
        bail!("the packages were installed, but pkg-config still misses one of: {}", LIBRARIES.join(", "));
    }
    Ok(())
}

/// Sees to a virtual display for the tests of the real window; where that cannot be, they are skipped, and this says so.
pub(crate) fn virtual_display() {
    if !cfg!(target_os = "linux") || quiet("sh", &["-c", "command -v Xvfb"]) {
        return;
    }
    let user = User::who_may_install().filter(|_| quiet("apt-get", &["--version"]));
    if user.is_some_and(|user| user.install(DISPLAY_PACKAGES).is_ok()) {
        return;
    }
    println!("The tests of the real window are skipped: they need {}.", DISPLAY_PACKAGES.join(" and "));
}

fn install_line(packages: &[&str]) -> String {
    format!("apt-get install -y --no-install-recommends {}", packages.join(" "))
}

/// Who may install packages without being asked for a password.
#[derive(Clone, Copy)]
enum User {
    Root,
    Sudo,
}

impl User {
    fn who_may_install() -> Option<Self> {
        if quiet("sh", &["-c", "[ \"$(id -u)\" = 0 ]"]) {
            Some(Self::Root)
        } else {
            quiet("sudo", &["-n", "true"]).then_some(Self::Sudo)
        }
    }

    fn install(self, packages: &[&str]) -> Result<()> {
        let line = install_line(packages);
        if run(&mut self.sh(&line)).is_err() {
            run(&mut self.sh("apt-get update"))?;
            run(&mut self.sh(&line))?;
        }
        Ok(())
    }

    fn sh(self, script: &str) -> Command {
        let mut command = match self {
            Self::Root => Command::new("sh"),
            Self::Sudo => {
                let mut sudo = Command::new("sudo");
                sudo.args(["-n", "sh"]);
                sudo
            }
        };
        command
            .args(["-c", script])
            .env("DEBIAN_FRONTEND", "noninteractive")
            .stdin(Stdio::null())
            .stdout(Stdio::null());
        command
    }
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
