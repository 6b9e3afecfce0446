//! What listening costs: one hop of 5 ms, by host rate, for the tracker alone and the whole chain.
//!
//! `cargo bench --no-default-features --bench listening`. Criterion gives the median; the worst single hop
//! of ten seconds is a line of its own before each measurement. Budget: a hop is 5 ms.
//!
//! Recorded 25 November 2026, one core of a shared virtual machine, microseconds a hop, median and worst: tracker
//! alone 16 and 75 at every rate; whole chain 17 at 16 kHz, 19 at 8, 21 at 44.1, 48 and 96, 23 at 192 kHz, worst 145.
#![allow(missing_docs, reason = "criterion's macros make undocumented items")]
#![allow(clippy::print_stdout, reason = "a bench reports")]

use achala::input::{ANALYSIS_RATE_HZ, Front, HOP};
use achala::listener::{Listener, Setting};
use achala::note::Band;
use achala::pitch::Tracker;
use achala::swara::{Nudges, Scale, Tuning};
use achala::units::{Cents, Hertz, SampleRate, num};
use criterion::{Criterion, criterion_group, criterion_main};
use std::hint::black_box;
use std::time::{Duration, Instant};

/// Seconds of sound, repeated.
const SECONDS: f64 = 10.0;

/// A sung line: notes of half a second with breaths, harmonics to 3.5 kHz, a flutter of 3 cents.
fn line(rate: f64) -> Vec<f32> {
    let mut phase = 0.0f64;
    (0..num::index(rate * SECONDS))
        .map(|i| {
            let t = i as f64 / rate;
            let step = (t * 2.0).floor();
            let flutter = 3.0 * (std::f64::consts::TAU * 4.0 * t).sin();
            let hz = 196.0 * ((100.0 * (step % 8.0) + flutter) / 1200.0).exp2();
            phase += hz / rate;
            let sounding = f64::from(u8::from(step % 5.0 != 4.0));
            let sum: f64 = (1..12).map(|k| (std::f64::consts::TAU * phase * f64::from(k)).sin() / f64::from(k)).sum();
            num::single(0.15 * sum * sounding)
        })
        .collect()
}

/// What a drone sends out: three strings in turn, one every 0.8 s.
fn drone(rate: f64) -> Vec<f32> {
    let plucked = |t: f64, turn: usize| {
        let since = t - 0.8 * turn as f64;
        let hz = [147.0, 196.0, 98.0].get(turn % 3).copied().unwrap_or(98.0);
        let partial = |k: f64| (-since * (0.8 + 0.1 * k)).exp() / k * (std::f64::consts::TAU * hz * k * since).sin();
        (1..12).map(f64::from).map(partial).sum::<f64>()
    };
    (0..num::index(rate * SECONDS))
        .map(|i| i as f64 / rate)
        .map(|t| num::single(0.05 * (0..=num::index(t / 0.8)).rev().take(4).map(|turn| plucked(t, turn)).sum::<f64>()))
        .collect()
}

/// Runs `hop` over each in turn, says how long the longest took, then hands it to criterion.
fn measure<T>(criterion: &mut Criterion, name: &str, parts: &[T], mut hop: impl FnMut(&T)) {
    let worst = parts.iter().map(|part| {
        let start = Instant::now();
        hop(part);
        start.elapsed()
    });
    println!("{name}: worst of {} hops {:?}", parts.len(), worst.max().unwrap_or(Duration::ZERO));
    let mut turn = parts.iter().cycle();
    criterion.bench_function(name, |b| b.iter(|| turn.next().map(&mut hop)));
}

fn listening(criterion: &mut Criterion) {
    for hz in [8000.0, 16_000.0, 44_100.0, 48_000.0, 96_000.0, 192_000.0] {
        let Ok(rate) = SampleRate::new(hz) else { continue };
        let samples = line(hz);
        // Blocks of about a hop: some hand on none or two.
        let length = num::index(hz * HOP as f64 / ANALYSIS_RATE_HZ);
        let blocks: Vec<&[f32]> = samples.chunks(length).collect();

        let mut hops = Vec::new();
        Front::new(rate).push(&samples, None, |hop| hops.push(*hop));
        let mut tracker = Tracker::new(rate);
        measure(criterion, &format!("tracker, {hz} Hz"), &hops, |hop| {
            black_box(tracker.process(hop));
        });

        let targets = Scale::Twelve.targets(&Tuning::Just, &Nudges::default());
        let band = Band { fixed: Cents(10.0), others: Cents(15.0) };
        let mut listener = Listener::new(rate, Setting::new(Hertz(196.0), targets, band));
        measure(criterion, &format!("listener, {hz} Hz"), &blocks, |block| {
            listener.process(block, None, &mut |event| {
                black_box(&event);
            });
        });

        // The same with a known drone that comes into the microphone 12 ms late.
        let sent = drone(hz);
        let late = num::index(0.012 * hz);
        let heard: Vec<f32> =
            samples.iter().enumerate().map(|(i, x)| x + i.checked_sub(late).map_or(0.0, |i| 0.3 * sent[i])).collect();
        let parts: Vec<_> = heard.chunks(length).zip(sent.chunks(length)).collect();
        let mut listener = Listener::new(rate, Setting::new(Hertz(196.0), targets, band));
        measure(criterion, &format!("listener with a known drone, {hz} Hz"), &parts, |(block, sent)| {
            listener.process(block, Some(sent), &mut |event| {
                black_box(&event);
            });
        });
    }
}

criterion_group! {
    name = benches;
    config = Criterion::default().sample_size(20).measurement_time(Duration::from_secs(2)).warm_up_time(Duration::from_millis(500));
    targets = listening
}
criterion_main!(benches);
