//! The reference tone under the host's MIDI keys: the tonic's key is Sa, the others lie in the tuning in force.

use super::{change, id, partial, plugin, rms, run, step};
use inproc_host::{Happening, Host};
use std::f64::consts::TAU;

const RATE: f64 = 48_000.0;
/// D3, the Sa of a new instance, Hz (MIDI Tuning Standard).
const D3: f64 = 146.832_383_959;

/// The first partial near a frequency, Hz, by how its phase turns from half seconds to half seconds a twentieth later.
fn f0(sound: &[f32], near: f64) -> f64 {
    let (length, hop) = (24_000, 2_400);
    let turns: Vec<(f64, f64)> = (0..=sound.len() - length)
        .step_by(hop)
        .map(|at| {
            let (re, im) = partial(&sound[at..at + length], RATE, near);
            let (sin, cos) = (-TAU * (near * at as f64 / RATE).fract()).sin_cos();
            (re * cos - im * sin, re * sin + im * cos)
        })
        .collect();
    let (re, im) = turns.windows(2).fold((0.0, 0.0), |(re, im), w| {
        (re + w[1].0 * w[0].0 + w[1].1 * w[0].1, im + w[1].1 * w[0].0 - w[1].0 * w[0].1)
    });
    near + im.atan2(re) / TAU * RATE / hop as f64
}

fn started(tuning: &str) -> Host {
    let mut host = plugin();
    change(&mut host, "chosen", |c| {
        c["scale"] = "twelve".into();
        c["tuning"]["name"] = tuning.into();
    });
    host.activate(RATE, 512).unwrap();
    run(&mut host, 0.1, &[], false);
    host
}

/// What sounds while a key is held, from the end of its attack on.
fn held(host: &mut Host, key: u16) -> Vec<f32> {
    let (main, _) = run(host, 1.2, &[Happening::NoteOn(key, 0.8)], false);
    run(host, 0.5, &[Happening::NoteOff(key)], false);
    main[9_600..].to_vec()
}

#[test]
fn the_tonics_key_sounds_sa_and_the_others_their_swara_in_the_tuning_in_force() {
    // The ratios of the swaras from the tonic key: Sa, mandra and tara Sa, Pa, Ga, Dha; Ga is 5/4 in the just table and 81/64 in
    // the Pythagorean one, Dha 5/3 and 27/16.
    let same = [(50, 1.0), (38, 0.5), (62, 2.0), (57, 1.5)];
    for (tuning, ga, dha) in [("just", 5.0 / 4.0, 5.0 / 3.0), ("pythagorean", 81.0 / 64.0, 27.0 / 16.0)] {
        let mut host = started(tuning);
        for (key, ratio) in same.into_iter().chain([(54, ga), (59, dha)]) {
            let target = D3 * ratio;
            let off = 1200.0 * (f0(&held(&mut host, key), target) / target).log2();
            println!("{tuning}, key {key}: {off:+.4} cents");
            assert!(off.abs() <= 0.3, "{tuning}, key {key}: {off} cents off");
        }
    }
}

#[test]
fn the_tonics_key_moves_with_sa() {
    let mut host = started("just");
    let sa = Happening::Set(id(&mut host, "Sa"), 7.0);
    run(&mut host, 0.1, &[sa], false);
    // G3 is key 55, its Pa key 62.
    let g3 = D3 * (5.0f64 / 12.0).exp2();
    for (key, target) in [(55, g3), (62, 1.5 * g3)] {
        let off = 1200.0 * (f0(&held(&mut host, key), target) / target).log2();
        assert!(off.abs() <= 0.3, "key {key}: {off} cents off");
    }
}

/// A held key is where a key that is pressed now would be, and goes there without a click: a tone that is 30 cents higher has steps
/// that are 2 % larger.
#[test]
fn a_held_key_moves_with_the_trim_of_sa() {
    let mut host = started("just");
    // Key 54 is Ga, 5/4.
    let (start, _) = run(&mut host, 1.2, &[Happening::NoteOn(54, 0.8)], false);
    let own = step(&start[24_000..]);
    let trim = id(&mut host, "Sa trim");
    let up = host.read(trim, "30 cents").unwrap();
    let (trimmed, _) = run(&mut host, 1.2, &[Happening::Set(trim, up)], false);
    let target = 1.25 * D3 * (30.0f64 / 1200.0).exp2();
    let off = 1200.0 * (f0(&trimmed[9_600..], target) / target).log2();
    assert!(off.abs() <= 0.3, "{off} cents off");
    let across = (trimmed[0] - start[start.len() - 1]).abs().max(step(&trimmed));
    assert!(across <= 1.05 * own, "step {across} beside the tone's own {own}");
}

#[test]
fn a_key_that_is_let_go_ends_its_tone_without_a_click() {
    let mut host = started("just");
    let (start, _) = run(&mut host, 2.0, &[Happening::NoteOn(50, 1.0)], false);
    let own = step(&start[48_000..]);
    assert!(rms(&start[48_000..]) > 0.01, "it sounds");
    assert!(step(&start) <= 1.05 * own, "its start: {} beside {own}", step(&start));
    let (end, _) = run(&mut host, 1.0, &[Happening::NoteOff(50)], false);
    let across = (end[0] - start[start.len() - 1]).abs().max(step(&end));
    assert!(across <= 1.05 * own, "its end: {across} beside {own}");
    assert!(rms(&end[..1_200]) > 0.01, "it does not stop at once");
    assert!(end[14_400..].iter().all(|x| *x == 0.0), "silent to the last bit after 0.3 s");
}
