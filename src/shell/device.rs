//! The stand-alone app's input device: which one it was started with, and which there are.

use cpal::traits::{DeviceTrait, HostTrait};
use std::sync::OnceLock;

static INPUT: OnceLock<String> = OnceLock::new();
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
    let name_of = |device: &cpal::Device| device.description().ok().map(|d| d.name().to_owned());
    let names = host.input_devices().map(|all| all.filter_map(|d| name_of(&d)).collect()).unwrap_or_default();
    INPUTS.get_or_init(|| names);
    let device = host.default_input_device()?;
    let name = name_of(&device)?;
    let stereo = device.supported_input_configs().is_ok_and(|mut configs| {
        configs.any(|c| c.channels() == 2 && (c.min_sample_rate()..=c.max_sample_rate()).contains(&48_000))
    });
    Some(DefaultInput { name, stereo })
}

/// Remembers which input the app was started with.
pub fn started_with(name: &str) {
    INPUT.get_or_init(|| name.to_owned());
}

/// The input in use; empty where there is none.
#[must_use]
pub fn input() -> String {
    INPUT.get().cloned().unwrap_or_default()
}

/// All inputs there are.
#[must_use]
pub fn inputs() -> Vec<String> {
    INPUTS.get().cloned().unwrap_or_default()
}
