//! The stand-alone app's input device: which one it was started with, which there are, and how to start with another.
//!
//! The framework opens the devices once, and lets them go for good when the sound driver reports anything but an overrun (as on a
//! machine that is too busy): nothing on our side brings its sound back, so the app takes its own place anew.

use cpal::traits::{DeviceTrait, HostTrait};
use std::process::Command;
use std::sync::OnceLock;
use std::sync::atomic::{AtomicBool, Ordering};

/// How an input is asked for.
pub const INPUT_DEVICE: &str = "--input-device";

static INPUT: OnceLock<String> = OnceLock::new();
static SILENT: AtomicBool = AtomicBool::new(false);
static INPUTS: OnceLock<Vec<String>> = OnceLock::new();

/// The system's default input.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DefaultInput {
    /// Its name.
    pub name: String,
    /// Whether it takes two channels at 48 kHz.
    pub stereo: bool,
}

/// Finds the system's default input and remembers all there are. `None` where there is none.
pub fn find() -> Option<DefaultInput> {
    let host = cpal::default_host();
    let all: Vec<cpal::Device> = host.input_devices().map(Iterator::collect).unwrap_or_default();
    INPUTS.get_or_init(|| all.iter().filter(|device| !is_nothing(device)).filter_map(name_of).collect());
    let default = host.default_input_device().and_then(|device| device.id().ok());
    // The framework finds a device by the name that stands in the list, and the default's own name may be another one: so
    // it is looked for by its id. Where the list does not have it, the first that can be opened serves.
    let is_default = |device: &&cpal::Device| default.is_some() && device.id().ok() == default;
    let listed = all.iter().find(is_default).filter(|device| takes(device, None));
    let device = listed.or_else(|| all.iter().find(|device| !is_nothing(device) && takes(device, None)))?;
    Some(DefaultInput { name: name_of(device)?, stereo: takes(device, Some(2)) })
}

fn name_of(device: &cpal::Device) -> Option<String> {
    device.description().ok().map(|d| d.name().to_owned())
}

/// Whether `device` records at 48 kHz with so many channels (one or two where not said).
fn takes(device: &cpal::Device, channels: Option<u16>) -> bool {
    device.supported_input_configs().is_ok_and(|mut configs| {
        configs.any(|c| {
            let fits = channels.map_or((1..=2).contains(&c.channels()), |n| c.channels() == n);
            fits && (c.min_sample_rate()..=c.max_sample_rate()).contains(&48_000)
        })
    })
}

/// ALSA lists its converters as devices, and one that records nothing: the names are those of its own configuration files.
const NO_SOURCES: [&str; 8] = ["null", "lavrate", "samplerate", "speexrate", "speex", "upmix", "vdownmix", "a52"];

fn is_nothing(device: &cpal::Device) -> bool {
    device.id().is_ok_and(|id| NO_SOURCES.contains(&id.id()))
}

/// Remembers which input the app was started with.
pub fn started_with(name: &str) {
    INPUT.get_or_init(|| name.to_owned());
}

/// Remembers that the devices could not be opened.
pub fn without_sound() {
    SILENT.store(true, Ordering::Relaxed);
}

/// Puts the app in its own place, with another input where one is named; comes back only with what was in the way.
#[must_use]
pub fn start_anew(input: Option<&str>) -> std::io::Error {
    let app = match std::env::current_exe() {
        Ok(app) => app,
        Err(why) => return why,
    };
    let mut again = Command::new(app);
    again.args(arguments(std::env::args().skip(1), input));
    #[cfg(unix)]
    {
        // The same process: whoever started the app from a terminal still has it there.
        std::os::unix::process::CommandExt::exec(&mut again)
    }
    #[cfg(not(unix))]
    {
        match again.spawn() {
            Ok(_) => std::process::exit(0),
            Err(why) => why,
        }
    }
}

/// The arguments that the app was started with, with another input where one is named.
fn arguments(mut before: impl Iterator<Item = String>, input: Option<&str>) -> Vec<String> {
    let Some(input) = input else { return before.collect() };
    let mut out = Vec::new();
    while let Some(argument) = before.next() {
        if argument == INPUT_DEVICE {
            before.next();
        } else if !argument.starts_with(&format!("{INPUT_DEVICE}=")) {
            out.push(argument);
        }
    }
    out.extend([INPUT_DEVICE.to_owned(), input.to_owned()]);
    out
}

/// The input in use; empty where there is none.
#[must_use]
pub fn input() -> String {
    if SILENT.load(Ordering::Relaxed) { String::new() } else { INPUT.get().cloned().unwrap_or_default() }
}

/// All inputs there are.
#[must_use]
pub fn inputs() -> Vec<String> {
    INPUTS.get().cloned().unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn another_input_takes_the_place_of_the_first_and_the_rest_stays() {
        let given = |text: &str| text.split(' ').map(str::to_owned).collect::<Vec<String>>().into_iter();
        let with = |text: &str, input| arguments(given(text), input).join(" ");
        assert_eq!(with("--tempo 90 --input-device A -p 512", Some("B")), "--tempo 90 -p 512 --input-device B");
        assert_eq!(with("--input-device=A --tempo 90", Some("B")), "--tempo 90 --input-device B");
        assert_eq!(with("--input-device A -p 512", None), "--input-device A -p 512");
    }
}
