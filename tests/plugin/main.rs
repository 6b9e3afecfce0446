//! The plugin as a host meets it, over its own CLAP entry and in process.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::print_stdout,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a panic is the failure report, a skipped part is told, and lengths of test sounds are small and positive"
)]

#[cfg(target_os = "linux")]
mod alone;
mod chain;
mod drone;
mod knobs;
mod ports;
mod rates;
mod side_chain;
mod state;
mod tones;
#[cfg(target_os = "linux")]
mod window;

use inproc_host::{Block, Happening, Host, Position};
use std::f64::consts::TAU;
use std::path::Path;

/// A new instance: of the bundle that `ACHALA_BUNDLE` names, or else of what is linked in.
fn plugin() -> Host {
    let host = match std::env::var_os("ACHALA_BUNDLE") {
        Some(bundle) => Host::load(Path::new(&bundle)),
        None => Host::linked(&achala::plugin::clap_entry),
    };
    host.expect("the plugin can be made")
}

/// A parameter's id by its name.
fn id(host: &mut Host, name: &str) -> u32 {
    host.parameter(name).unwrap().id
}

/// Changes a field of the project that an instance has open.
fn change(host: &mut Host, field: &str, change: impl FnOnce(&mut serde_json::Value)) {
    let mut state: serde_json::Value = serde_json::from_str(&host.save_text().unwrap()).unwrap();
    let mut value: serde_json::Value = serde_json::from_str(state["fields"][field].as_str().unwrap()).unwrap();
    change(&mut value);
    state["fields"][field] = value.to_string().into();
    host.restore_text(&state.to_string()).unwrap();
}

/// A stereo block with the same signal on both sides.
fn stereo(signal: &[f32]) -> Block {
    Block { main: vec![signal.to_vec(); 2], side_chain: Vec::new(), own: vec![vec![0.0; signal.len()]; 2] }
}

/// Runs so many seconds of silence through, block by block, and gives what came out (left) of main and own.
fn run(host: &mut Host, seconds: f64, first: &[Happening], playing: bool) -> (Vec<f32>, Vec<f32>) {
    let blocks = (seconds * host.rate() / 512.0).ceil() as usize;
    let (mut main, mut own) = (Vec::new(), Vec::new());
    for i in 0..blocks {
        let mut block = stereo(&[0.0; 512]);
        let at = Position { playing, seconds: i as f64 * 512.0 / host.rate() };
        host.process(&mut block, if i == 0 { first } else { &[] }, Some(at)).unwrap();
        main.extend_from_slice(&block.main[0]);
        own.extend_from_slice(&block.own[0]);
    }
    (main, own)
}

fn rms(x: &[f32]) -> f64 {
    (x.iter().map(|x| f64::from(*x).powi(2)).sum::<f64>() / x.len().max(1) as f64).sqrt()
}

fn peak(x: &[f32]) -> f32 {
    x.iter().fold(0.0, |m, x| m.max(x.abs()))
}

/// The largest step from sample to sample.
fn step(x: &[f32]) -> f32 {
    x.windows(2).fold(0.0, |m, w| m.max((w[1] - w[0]).abs()))
}

/// A partial near a frequency under a Hann window: real and imaginary part.
fn partial(sound: &[f32], rate: f64, hz: f64) -> (f64, f64) {
    let length = sound.len() as f64;
    sound.iter().enumerate().fold((0.0, 0.0), |(re, im), (i, x)| {
        let window = 0.5 - 0.5 * (TAU * (i as f64 + 0.5) / length).cos();
        let (sin, cos) = (TAU * (hz * i as f64 / rate).fract()).sin_cos();
        (re + f64::from(*x) * window * cos, im - f64::from(*x) * window * sin)
    })
}
