//! The stand-alone app: the effect with the system's own microphone and loudspeakers.
//!
//! It takes the system's default input by itself; `--input-device NAME` chooses another, an empty name lists them. The voice is not
//! sent to the loudspeakers unless asked for in the window. What was set and sung is kept for the next start.

#![expect(clippy::print_stderr, reason = "what is wrong with the sound devices is told on the terminal too")]
#![expect(clippy::print_stdout, reason = "the list of inputs is what was asked for")]

use achala::plugin::Achala;
use achala::shell::device::{self, INPUT_DEVICE};
use achala::shell::kept;
use nice_plug::prelude::nice_export_standalone_with_args;

/// Seconds between input and output: the framework's own default is long enough to unsettle a singer.
const LATENCY_S: &str = "0.04";

/// Samples a block: the framework's own 512 ran dry through a sound server on a busy machine, and then stays silent.
const PERIOD: &str = "1024";

fn main() {
    let mut args: Vec<String> = std::env::args().collect();
    let given = |name: &str| args.iter().any(|a| a == name || a.starts_with(&format!("{name}=")));
    let asked = value(&args, INPUT_DEVICE);
    if asked.as_deref() == Some("") {
        list();
        return;
    }
    kept::keep_for_user();
    let mut more: Vec<String> = Vec::new();
    if !given(INPUT_DEVICE) && !given("--backend") && !given("-b") {
        match device::find() {
            Some(input) => {
                device::started_with(&input.name);
                if !input.stereo && !given("--audio-layout") && !given("-l") {
                    more.extend(["--audio-layout".to_owned(), "2".to_owned()]);
                }
                more.extend(["--backend".to_owned(), native().to_owned(), INPUT_DEVICE.to_owned(), input.name]);
            }
            None => eprintln!(
                "No microphone was found. Plug one in and start again, or choose a device: Achala --input-device \"NAME\" \
                 (an empty name lists them)."
            ),
        }
    } else if let Some(input) = asked {
        device::find();
        // The framework would open the window all the same, and stay deaf.
        if !given("--backend") && !given("-b") && !device::inputs().contains(&input) {
            eprintln!("There is no input \"{input}\".");
            list();
            std::process::exit(2);
        }
        device::started_with(&input);
    }
    if !given("--input-latency") {
        more.extend(["--input-latency".to_owned(), LATENCY_S.to_owned()]);
    }
    if !given("--period-size") && !given("-p") {
        more.extend(["--period-size".to_owned(), PERIOD.to_owned()]);
    }
    let chosen_by_us = more.iter().any(|a| a == "--backend");
    let with_sound = args.iter().cloned().chain(more);
    if nice_export_standalone_with_args::<Achala, _>(with_sound) {
        return;
    }
    if !chosen_by_us {
        std::process::exit(1);
    }
    eprintln!(
        "The sound devices could not be opened, so nothing comes in: the window opens without sound. Close what else uses \
         the microphone, or choose a device: Achala --input-device \"NAME\" (an empty name lists them)."
    );
    device::without_sound();
    args.extend(["--backend".to_owned(), "dummy".to_owned()]);
    nice_export_standalone_with_args::<Achala, _>(args);
}

/// What stands behind an option, after a space or an equals sign.
fn value(args: &[String], name: &str) -> Option<String> {
    let equals = format!("{name}=");
    let at = args.iter().position(|a| a == name || a.starts_with(&equals))?;
    let joined = args.get(at)?.strip_prefix(&equals).map(str::to_owned);
    Some(joined.unwrap_or_else(|| args.get(at + 1).cloned().unwrap_or_default()))
}

/// The inputs there are, one a line.
fn list() {
    let default = device::find().map(|input| input.name);
    let inputs = device::inputs();
    if inputs.is_empty() {
        println!("This machine has no input for sound that the app could use.");
        return;
    }
    println!("Inputs, to be chosen with --input-device \"NAME\":");
    for name in inputs {
        let mark = if Some(&name) == default.as_ref() { "  (taken where none is chosen)" } else { "" };
        println!("  {name}{mark}");
    }
}

/// The sound system that every machine of its kind has.
fn native() -> &'static str {
    if cfg!(target_os = "macos") {
        "core-audio"
    } else if cfg!(windows) {
        "wasapi"
    } else {
        "alsa"
    }
}
