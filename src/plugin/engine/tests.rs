//! One host block without a host: what the engine asks for, and that what it sends does not click.

use super::*;
use crate::drone::Grade;
use crate::shell::bridge::{Bridge, bridge};
use crate::shell::choices::Choices;
use crate::shell::params::AchalaParams;
use crate::swara::Tuning;
use crate::swara::tuning::SavedTuning;
use std::sync::Arc;

const BLOCK: usize = 64;

impl Knobs {
    /// Sa and band as the parameters have them, the drone off, nothing else moved.
    pub(crate) fn plain(params: &AchalaParams) -> Self {
        Self {
            sa: params.sa_hz(),
            sa_key: params.sa_key(),
            band: params.band(),
            voice_from: VoiceFrom::Mix,
            voice_db: 0.0,
            drone_on: false,
            drone_db: -12.0,
            drone_to: DroneTo::Main,
            print: false,
            listening: true,
            follow_octave: false,
            bypass: false,
            mark: false,
        }
    }
}

/// An engine with the drone on, and who talks to it.
struct Room {
    engine: Engine,
    end: AudioEnd,
    bridge: Arc<Bridge>,
    choices: Choices,
    knobs: Knobs,
    rate: SampleRate,
}

impl Room {
    fn new() -> Self {
        let params = AchalaParams::default();
        let (setup, choices) = Choices::new(params.saved.chosen.clone());
        let (bridge, end) = bridge(setup);
        let choices = choices.with(bridge.clone());
        let rate = SampleRate::new(48_000.0).unwrap();
        let knobs = Knobs { drone_on: true, ..Knobs::plain(&params) };
        let frame = Frame { rate, max_block: BLOCK, offline: false, stand_alone: false, reopened: false };
        let engine = Engine::new(frame, setup, &knobs, &Meter::new());
        Self { engine, end, bridge, choices, knobs, rate }
    }

    fn block(&mut self, out: &mut [f32]) -> After {
        let mut main: [&mut [f32]; 1] = [out];
        let mut channels = Channels { main: &mut main, side: &[], own: &mut [] };
        self.engine.block(&mut channels, &self.knobs, Transport::default(), &mut self.end)
    }

    /// What is sent while nobody sings; the worker's part is done at once.
    fn sound(&mut self, seconds: f64) -> Vec<f32> {
        let mut out = vec![0.0; num::index(seconds * self.rate.hz())];
        for block in out.chunks_mut(BLOCK) {
            let after = self.block(block);
            self.bridge.free_retired();
            if let (true, Some(wanted)) = (after.material, self.bridge.wanted()) {
                self.bridge.give(Material::plain(&wanted, self.rate)).unwrap();
            }
        }
        out
    }
}

#[test]
fn strings_that_begin_plain_ask_for_the_full_model() {
    let mut room = Room::new();
    let setting = room.engine.drone_setting(&room.knobs);
    room.engine.install(setting, Material::plain(&setting, room.rate));
    assert!(room.block(&mut [0.0; BLOCK]).material);
    assert_eq!(room.engine.player.grade(), Some(Grade::Plain));
    room.bridge.give(Material::full(&setting, room.rate)).unwrap();
    assert!(!room.block(&mut [0.0; BLOCK]).material, "it is asked for once");
    assert_eq!(room.engine.player.grade(), Some(Grade::Full));
}

#[test]
fn another_tuning_does_not_click() {
    for (kind, first) in [("reed", "pa"), ("strings", "ni")] {
        let mut room = Room::new();
        room.choices.change(|c| {
            c.drone_kind = kind.into();
            c.first_string = first.into();
            c.reed_positions = vec![0, 4, 7];
        });
        let step = |x: &[f32]| x.windows(2).fold(0.0f32, |m, w| m.max((w[1] - w[0]).abs()));
        let start = room.sound(6.0);
        let own = step(&start);
        let mut last = start.last().copied().unwrap();
        for tuning in [Tuning::Pythagorean, Tuning::Equal, Tuning::Just] {
            let name = tuning.name().to_owned();
            let before = room.engine.drone_setting(&room.knobs);
            room.choices.change(|c| c.tuning = SavedTuning::from(tuning));
            let after = room.sound(3.0);
            let hz = |setting: DroneSetting| (setting.strings_hz(), setting.reeds_hz());
            assert_ne!(hz(before), hz(room.engine.drone_setting(&room.knobs)), "{kind}, {name}: nothing has moved");
            let across = (after[0] - last).abs().max(step(&after));
            assert!(across < 1.2 * own, "{kind} to {name}: step {across}, the sound's own {own}");
            last = after.last().copied().unwrap();
        }
    }
}

/// Key 54 is Ga where D3 is Sa: 5/4 in the just table, 81/64 in the Pythagorean one.
#[test]
fn a_held_key_goes_with_the_tuning() {
    let mut room = Room::new();
    room.knobs.drone_on = false;
    room.choices.change(|c| c.tuning = SavedTuning::from(Tuning::Just));
    room.sound(0.1);
    let knobs = room.knobs;
    room.engine.key(54, Some(0.8), &knobs);
    let rate = room.rate.hz();
    let mut strength = |ratio: f64| {
        let (sound, hz) = (room.sound(2.0), ratio * knobs.sa.0);
        let (re, im) = sound[48_000..].iter().enumerate().fold((0.0, 0.0), |(re, im), (i, x)| {
            let (sin, cos) = (std::f64::consts::TAU * (hz * i as f64 / rate).fract()).sin_cos();
            (re + f64::from(*x) * cos, im + f64::from(*x) * sin)
        });
        room.choices.change(|c| c.tuning = SavedTuning::from(Tuning::Pythagorean));
        re.hypot(im)
    };
    let (just, pythagorean, left) = (strength(5.0 / 4.0), strength(81.0 / 64.0), strength(5.0 / 4.0));
    assert!(pythagorean > 0.9 * just && left < 0.3 * just, "{just} before, {pythagorean} after, {left} left");
}

/// The knob of Sa reaches higher than the drone: it sounds an octave lower, and is turned down and off as anywhere.
#[test]
fn at_the_highest_sa_the_drone_sounds_an_octave_lower_and_level_and_off_work() {
    for kind in ["reed", "strings"] {
        let mut room = Room::new();
        room.choices.change(|c| c.drone_kind = kind.into());
        room.sound(2.0);
        room.knobs.sa = Hertz(987.77);
        room.sound(3.0);
        let rms = |x: &[f32]| (x.iter().map(|x| f64::from(*x).powi(2)).sum::<f64>() / x.len() as f64).sqrt();
        let partial = |x: &[f32], hz: f64| {
            let turn = |i: usize| std::f64::consts::TAU * hz * i as f64 / 48_000.0;
            let of =
                |part: fn(f64) -> f64| x.iter().enumerate().map(|(i, x)| f64::from(*x) * part(turn(i))).sum::<f64>();
            of(f64::cos).hypot(of(f64::sin))
        };
        let usual = room.sound(4.0);
        let (new, old) = (partial(&usual, 493.885), partial(&usual, 146.832));
        assert!(rms(&usual) > 0.005 && new > 10.0 * old, "{kind}: {new} and {old}");
        room.knobs.drone_db = -32.0;
        room.sound(0.5);
        let soft = rms(&room.sound(4.0));
        assert!(soft < 0.15 * rms(&usual) && soft > 0.05 * rms(&usual), "{kind}: {soft} beside {}", rms(&usual));
        room.knobs.drone_on = false;
        room.sound(0.6);
        assert!(room.sound(0.5).iter().all(|x| *x == 0.0), "{kind}: off");
    }
}

/// A note is heard against a drone that is off: it sounds for so long as it is asked to, with its material, and goes as it is switched off.
#[test]
fn a_drone_that_is_lent_sounds_while_it_is_asked_for() {
    for kind in ["reed", "strings"] {
        let mut room = Room::new();
        room.knobs.drone_on = false;
        room.choices.change(|c| c.drone_kind = kind.into());
        let peak = |x: &[f32]| x.iter().fold(0.0f32, |peak, x| peak.max(x.abs()));
        assert_eq!(peak(&room.sound(0.5)), 0.0, "{kind}");
        for _ in 0..20 {
            assert!(room.bridge.ask(Command::Lend(0.25)));
            room.sound(0.1);
        }
        assert!(peak(&room.sound(0.2)) > 0.005, "{kind}");
        assert!(!room.block(&mut [0.0; BLOCK]).heard);
        room.sound(1.0);
        assert_eq!(peak(&room.sound(0.5)), 0.0, "{kind}: nobody asks any more");
        // What is rendered has the drone of the project alone.
        room.engine.frame.offline = true;
        room.knobs.print = true;
        assert!(room.bridge.ask(Command::Lend(5.0)));
        assert_eq!(peak(&room.sound(2.0)), 0.0, "{kind}: offline");
    }
}

/// A room's noise at -48 dBFS asks for no drawing, a louder one for a few pictures a second; a voice that is softer than that is drawn at once, and so is a clap.
#[test]
fn noise_of_a_room_draws_nothing_and_a_soft_voice_does() {
    let mut room = Room::new();
    room.knobs.drone_on = false;
    let mut seed = 1u32;
    let mut heard = |room: &mut Room, seconds: f64, sample: &mut dyn FnMut(f64) -> f64| {
        let mut sound = vec![0.0f32; num::index(seconds * room.rate.hz())];
        for (i, x) in sound.iter_mut().enumerate() {
            seed = seed.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            let noise = f64::from(seed) / f64::from(u32::MAX) - 0.5;
            *x = num::single(sample(i as f64 / 48_000.0) + if seconds > 1.0 { 0.007 * noise } else { 0.0 });
        }
        sound.chunks_mut(BLOCK).map(|block| usize::from(room.block(block).heard)).sum::<usize>()
    };
    assert_eq!(heard(&mut room, 8.0, &mut |_| 0.0), 0, "noise");
    let voice = |t: f64| {
        let phase = std::f64::consts::TAU * (146.832 * t + 0.05 * (31.0 * t).sin());
        (1..=10).map(|h| (phase * f64::from(h)).sin() / f64::from(h)).sum::<f64>()
    };
    // Its peak lies at -50 dBFS; a frame of it comes in every fourth block.
    let mut quiet = Room::new();
    quiet.knobs.drone_on = false;
    let frames = heard(&mut quiet, 0.9, &mut |t| 0.0016 * voice(t));
    assert!(frames > 120, "a soft voice: {frames}");
    assert!(heard(&mut room, 0.1, &mut |t| if t < 0.01 { 0.02 } else { 0.0 }) > 0, "a clap");
    // A loud room moves its level alone; a voice that begins in it is drawn with every frame of it.
    let mut fan = Room::new();
    fan.knobs.drone_on = false;
    let mut seed = 7u32;
    let mut noise = |_: f64| {
        seed = seed.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        0.0252 * (f64::from(seed) / f64::from(u32::MAX) - 0.5)
    };
    heard(&mut fan, 2.0, &mut noise);
    let drawn = heard(&mut fan, 4.0, &mut noise);
    assert!((8..=16).contains(&drawn), "noise at -38 dBFS: {drawn} times in four seconds");
    let frames = heard(&mut fan, 0.9, &mut |t| noise(t) + 0.1 * voice(t));
    assert!(frames > 120, "a voice in it: {frames}");
}
