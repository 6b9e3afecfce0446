//! What the drone costs: playback in blocks of 64 at 48 kHz, and how long new material for another Sa takes to make.
//!
//! `cargo bench --no-default-features --bench drone`. Playback is told in percent of one core (budget: 0.5), the median of
//! [`TURNS`] stretches of ten seconds, five strings on the full model and three reeds, each without and with a reference tone; then
//! criterion gives the time of one block. Material is told once for each tonic from C2 to C5, five strings, the default timing
//! and the slowest (budget: plain and crossed over in 0.3 s, full in 5 s). What exceeds its budget ends it. Both are processor time where the system tells it
//! (Linux), so that others may use the machine meanwhile, else time on the wall.
//!
//! Recorded 27 November 2026, one core of a shared virtual machine: strings 0.16 %, with a tone 0.20; reed 0.13, with a tone 0.16.
//! Material, default and slowest timing: C2 plain 0.04 and 0.04 s, full 1.4 and 2.0; C5 plain 0.04 and 0.04, full 1.0 and 1.5.
#![allow(missing_docs, reason = "criterion's macros make undocumented items")]
#![allow(clippy::print_stdout, reason = "a bench reports")]

use achala::drone::{DroneSetting, Kind, Material, PLUCK_S, Player, ReferenceTone, Stringing};
use achala::units::{Decibels, Hertz, SampleRate};
use criterion::{Criterion, criterion_group, criterion_main};
use std::hint::black_box;
use std::time::Instant;

const RATE: f64 = 48_000.0;
const BLOCK: usize = 64;
/// Budgets: share of a core, %; seconds for the plain grade, beside the worker's 20 ms and the 150 ms of the crossover, and for the
/// full one.
const PLAYBACK: f64 = 0.5;
const PLAIN_S: f64 = 0.13;
const FULL_S: f64 = 5.0;
/// Stretches of playback that are timed, and seconds of sound in each.
const TURNS: usize = 15;
const STRETCH_S: f64 = 10.0;

fn setting(kind: Kind, key: f64) -> DroneSetting {
    let stringing = Stringing { with_ni: true, ..Stringing::default() };
    DroneSetting { on: true, kind, stringing, sa: Hertz::of_midi_key(key, Hertz(440.0)), ..DroneSetting::default() }
}

/// A drone that has come up, all strings ringing.
fn sounding(setting: &DroneSetting, rate: SampleRate, tone: bool) -> Option<Player> {
    let mut player = Player::new(rate);
    player.set(setting).ok()?;
    drop(player.swap(Material::full(setting, rate)));
    player.reference(tone.then_some(ReferenceTone { hz: setting.sa, level: Decibels(0.0) }));
    play(&mut player, STRETCH_S);
    Some(player)
}

fn play(player: &mut Player, seconds: f64) {
    let mut block = [0.0; BLOCK];
    let mut samples = 0;
    while (samples as f64) < seconds * RATE {
        player.process(&mut block);
        black_box(&block);
        samples += BLOCK;
    }
}

/// Seconds that this thread has had of a processor (proc(5), schedstat: nanoseconds); since `began` where that is not told.
fn spent(began: Instant) -> f64 {
    let told = std::fs::read_to_string("/proc/thread-self/schedstat").ok();
    let ns = told.and_then(|text| text.split_whitespace().next()?.parse::<f64>().ok());
    ns.map_or_else(|| began.elapsed().as_secs_f64(), |ns| ns / 1e9)
}

fn playback(criterion: &mut Criterion, rate: SampleRate) {
    let began = Instant::now();
    for (name, kind) in [("strings", Kind::Strings), ("reed", Kind::Reed)] {
        for (with, tone) in [("", false), (" and a reference tone", true)] {
            let Some(mut player) = sounding(&setting(kind, 50.0), rate, tone) else { continue };
            let mut shares: Vec<f64> = (0..TURNS)
                .map(|_| {
                    let before = spent(began);
                    play(&mut player, STRETCH_S);
                    100.0 * (spent(began) - before) / STRETCH_S
                })
                .collect();
            shares.sort_by(f64::total_cmp);
            println!("{name}{with}: {:.3} % of a core, {:.3} at best", shares[TURNS / 2], shares[0]);
            assert!(shares[TURNS / 2] <= PLAYBACK, "{name}{with}");
            let mut block = [0.0; BLOCK];
            criterion.bench_function(&format!("{name}{with}, one block"), |b| {
                b.iter(|| player.process(black_box(&mut block)));
            });
        }
    }
}

fn material(rate: SampleRate) {
    let began = Instant::now();
    for pluck_s in [1.1, PLUCK_S.1] {
        for (name, key) in [("C2", 36.0), ("G2", 43.0), ("C3", 48.0), ("G3", 55.0), ("C4", 60.0), ("C5", 72.0)] {
            let setting = DroneSetting { pluck_s, ..setting(Kind::Strings, key) };
            let time = |make: fn(&DroneSetting, SampleRate) -> Box<Material>| {
                let before = spent(began);
                black_box(make(&setting, rate));
                spent(began) - before
            };
            let (plain, full) = (time(Material::plain), time(Material::full));
            println!("material for {name}, {pluck_s} s a pluck: plain {plain:.2} s, full {full:.2} s");
            assert!(plain <= PLAIN_S && full <= FULL_S, "material for {name}, {pluck_s} s a pluck");
        }
    }
}

fn drone(criterion: &mut Criterion) {
    let Ok(rate) = SampleRate::new(RATE) else { return };
    material(rate);
    playback(criterion, rate);
}

criterion_group! {
    name = benches;
    config = Criterion::default().sample_size(20);
    targets = drone
}
criterion_main!(benches);
