//! The main job, shown: a demo take played through the bundled plugin with the drone on.
//!
//! In: the folder that cargo builds into. Out: in its `demo` folder the mixed sound, the HTML report and a
//! picture of the window; on the terminal the meter's table as the plugin's saved state holds it.

#![expect(clippy::print_stdout, reason = "a command speaks on the terminal")]

mod drones;
mod picture;
mod play;

use std::path::{Path, PathBuf};
use std::process::ExitCode;

type Result<T> = std::result::Result<T, Box<dyn std::error::Error>>;

fn main() -> ExitCode {
    let mut args = std::env::args().skip(1);
    let (verb, target) = (args.next().unwrap_or_default(), args.next().unwrap_or_else(|| "target".to_owned()));
    let target = PathBuf::from(target);
    let done = match verb.as_str() {
        "demo" => demo(&target),
        "pictures" => pictures(&target),
        other => Err(format!("'{other}' is neither demo nor pictures").into()),
    };
    match done {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            println!("The demo stopped: {error}");
            ExitCode::FAILURE
        }
    }
}

fn demo(target: &Path) -> Result<()> {
    let folder = target.join("demo");
    std::fs::create_dir_all(&folder)?;
    let take = play::take()?;
    println!("The demo take: {:.0} s of an invented pupil's practice on Sa = G#3 (5.5 kattai).", take.seconds());
    let played = play::through(&target.join("bundled/Achala.clap"), &take)?;
    println!("{}", played.table());
    let mixed = folder.join("mixed.wav");
    achala::take::wav::write(&mixed, &[&played.mixed], take.rate)?;
    let heard = play::check(&take)?;
    let report = folder.join("report.html");
    let page = achala::take::html::page(&heard.report, &heard.heard, &heard.asked)?;
    std::fs::write(&report, page)?;
    let window = folder.join("window.png");
    picture::save(&heard, &window)?;
    for (what, path) in [("The mixed sound", &mixed), ("The report", &report), ("The window", &window)] {
        println!("{what}: {}", path.display());
    }
    let drones = drones::write(&folder)?;
    println!(
        "The drone by itself, and what its sound is made of: {} files {}",
        drones.len(),
        folder.join("drone-*").display()
    );
    Ok(())
}

fn pictures(target: &Path) -> Result<()> {
    let folder = target.join("pictures");
    std::fs::create_dir_all(&folder)?;
    let heard = play::check(&play::take()?)?;
    for path in picture::all(&heard, &folder)? {
        println!("{}", path.display());
    }
    Ok(())
}
