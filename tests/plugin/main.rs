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
mod state;
#[cfg(target_os = "linux")]
mod window;

use inproc_host::{Block, Happening, Host, Position};

/// A new instance.
fn plugin() -> Host {
    Host::linked(&achala::plugin::clap_entry).expect("the plugin can be made")
}

/// A parameter's id by its name.
fn id(host: &mut Host, name: &str) -> u32 {
    host.parameter(name).unwrap().id
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
