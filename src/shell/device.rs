//! The stand-alone app's input device: which one it was started with, and which there are.

use cpal::traits::{DeviceTrait, HostTrait};
use std::sync::OnceLock;
use std::sync::atomic::{AtomicBool, Ordering};

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
    INPUTS.get_or_init(|| all.iter().filter_map(name_of).collect());
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

/// ALSA lists a device that records nothing.
fn is_nothing(device: &cpal::Device) -> bool {
    device.id().is_ok_and(|id| id.id() == "null")
}

/// Remembers which input the app was started with.
pub fn started_with(name: &str) {
    INPUT.get_or_init(|| name.to_owned());
}

/// Remembers that the devices could not be opened.
pub fn without_sound() {
    SILENT.store(true, Ordering::Relaxed);
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
