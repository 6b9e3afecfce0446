//! The chain as a whole: sound in, events out, the same in any blocks.

use super::*;
use crate::note::{Band, Expected};
use crate::swara::{Swara, Target, Targets};
use crate::units::{Cents, Hertz};
use std::f64::consts::{LN_2, TAU};

const HZ: f64 = 48_000.0;

fn setting() -> Setting {
    let mut by_position = [None; 12];
    by_position[0] = Some(Target { swara: Swara::S, cents: Cents(0.0) });
    by_position[7] = Some(Target { swara: Swara::P, cents: Cents(701.955) });
    Setting::new(Hertz(146.832), Targets { by_position }, Band { fixed: Cents(20.0), others: Cents(25.0) })
}

/// A plain voice-like sound: ten partials falling by 6 dB an octave, in notes of 0.8 s with rests of 0.3 s between, with
/// the flutter that every throat has: 3 cents at 4 Hz.
fn sound(notes_hz: &[f64]) -> Vec<f32> {
    let mut out = vec![0.0; 14_400];
    for hz in notes_hz {
        let length = 38_400_u32;
        for k in 0..length {
            let t = f64::from(k) / HZ;
            let flutter = TAU * 4.0;
            let turns = hz * (t - 3.0 / 1200.0 * LN_2 * (flutter * t).cos() / flutter);
            let fade = (f64::from(k.min(length - k)) / 960.0).min(1.0);
            let wave: f64 = (1..=10).map(|h| (TAU * f64::from(h) * turns).sin() / f64::from(h)).sum();
            out.push(num::single(0.1 * fade * wave));
        }
        out.extend(std::iter::repeat_n(0.0, 14_400));
    }
    out
}

/// All readings' pitches and all notes of `voice` in blocks whose lengths repeat `blocks`.
fn heard(listener: &mut Listener, voice: &[f32], blocks: &[usize]) -> (Vec<Option<f64>>, Vec<Note>) {
    let (mut readings, mut notes) = (Vec::new(), Vec::new());
    let mut say = |event: Event<'_>| match event {
        Event::Reading(reading) => readings.push(reading.cents.map(|c| c.0)),
        Event::Note(note) => notes.push(*note),
        Event::Octave(_) | Event::Pass(_) => {}
    };
    let mut rest = voice;
    for length in blocks.iter().cycle() {
        let (block, after) = rest.split_at((*length).min(rest.len()));
        listener.process(block, None, &mut say);
        rest = after;
        if rest.is_empty() {
            break;
        }
    }
    listener.finish(&mut say);
    (readings, notes)
}

#[test]
fn blocks_are_the_hosts_business_and_reset_is_a_new_start() {
    let rate = SampleRate::new(HZ).unwrap();
    let voice = sound(&[146.832, 220.5, 293.0]);
    let mut listener = Listener::new(rate, setting());
    let whole = heard(&mut listener, &voice, &[voice.len()]);
    let held: Vec<_> = whole.1.iter().filter(|n| n.kind == Kind::Held).map(|n| (n.swara, n.sthayi.0)).collect();
    assert_eq!(held, [(Swara::S, 0), (Swara::P, 0), (Swara::S, 1)]);
    for blocks in [&[1, 7, 64, 4096][..], &[512], &[333, 2]] {
        listener.reset();
        listener.with_meter(Meter::clear);
        assert_eq!(heard(&mut listener, &voice, blocks), whole, "{blocks:?}");
    }
    assert_eq!(listener.snapshot().rows[0].notes, 2);
    assert_eq!(listener.snapshot().rows_by_register[3][0].notes, 1);
    assert_eq!(listener.meter().row(7).notes, 1);
}

#[test]
fn another_sa_is_another_page_and_closes_the_note_on_the_old_one() {
    let rate = SampleRate::new(HZ).unwrap();
    let mut listener = Listener::new(rate, setting());
    let voice = sound(&[146.832]);
    let mut notes = 0;
    listener.process(&voice[..48_000], None, &mut |_| ());
    let mut count = |event: Event<'_>| notes += u32::from(matches!(event, Event::Note(_)));
    let mut wider = setting();
    wider.band.fixed = Cents(30.0);
    assert!(!listener.set(wider, &mut count));
    let other = Setting { sa: Hertz(155.563), ..wider };
    assert!(listener.set(other, &mut count));
    assert_eq!((notes, listener.meter().row(0).notes, listener.snapshot().page), (1, 1, 1));
    assert_eq!(listener.snapshot().voice_sa, Hertz(155.563));
    let target = Target { swara: Swara::P, cents: Cents(701.955) };
    let asked = Setting { expected: Some(Expected { target, sthayi: Sthayi(0) }), ..other };
    assert!(!listener.set(asked, &mut |_| ()));
}

#[test]
fn a_loop_jump_opens_a_pass_and_notes_know_their_place() {
    let rate = SampleRate::new(HZ).unwrap();
    let mut listener = Listener::new(rate, setting());
    let voice = sound(&[146.832]);
    let (mut notes, mut passes) = (Vec::new(), Vec::new());
    for from in [1_000, 1_000] {
        for (k, voice) in (0..).zip(voice.chunks(480)) {
            let block = Block { voice, drone: None, timeline: Some(from + 480 * k) };
            listener.process_block(block, &mut |event| match event {
                Event::Note(note) => notes.push(*note),
                Event::Pass(pass) => passes.push(pass),
                _ => {}
            });
        }
    }
    listener.finish(&mut |event| {
        if let Event::Note(note) = event {
            notes.push(*note);
        }
    });
    assert_eq!(passes, [1]);
    assert_eq!(notes.iter().map(|note| note.pass).collect::<Vec<_>>(), [0, 1]);
    let places: Vec<i64> = notes.iter().filter_map(|note| note.timeline).collect();
    assert_eq!(places.len(), 2);
    // Both begin 0.3 s into the loop, to a few frames.
    assert!(places.iter().all(|at| (at - 1_000 - 14_400).abs() < 2_400), "{places:?}");
}

#[test]
fn a_voice_an_octave_up_is_followed_where_asked() {
    let rate = SampleRate::new(HZ).unwrap();
    let voice = sound(&[[293.66, 440.5]; 12].concat());
    for follow in [false, true] {
        let mut listener = Listener::new(rate, Setting { follow_octave: follow, ..setting() });
        let (mut said, mut last) = (Vec::new(), None);
        for block in voice.chunks(512) {
            listener.process(block, None, &mut |event| match event {
                Event::Octave(octaves) => said.push(octaves),
                Event::Note(note) => last = Some(note.sthayi.0),
                _ => {}
            });
        }
        assert_eq!(said, [1]);
        assert_eq!(last, Some(i8::from(!follow)));
        assert_eq!(listener.snapshot().octave_followed, i8::from(follow));
        assert_eq!(listener.snapshot().octave_remark, Some(1));
    }
}

#[test]
fn what_two_sing_at_once_is_not_counted() {
    let mut voice = sound(&[146.832; 4]);
    // From the third note on, another one beside it.
    for (x, other) in voice.iter_mut().zip(sound(&[192.4; 4])).skip(117_600) {
        *x += 0.5 * other;
    }
    let mut listener = Listener::new(SampleRate::new(HZ).unwrap(), setting());
    let (readings, notes) = heard(&mut listener, &voice, &[512]);
    assert_eq!(notes.len(), 2, "{notes:?}");
    let (voiced_s, sung_s) = (readings.iter().flatten().count() as f64 * 0.005, listener.snapshot().sung.sung_s);
    assert!(voiced_s > 3.0 && (1.5..2.0).contains(&sung_s), "{sung_s} of {voiced_s}");
}

#[test]
fn nothing_is_scored_out_of_turn() {
    for turn in [Turn::Teacher, Turn::Nobody] {
        let mut listener = Listener::new(SampleRate::new(HZ).unwrap(), Setting { turn, ..setting() });
        let (readings, notes) = heard(&mut listener, &sound(&[146.832]), &[512]);
        assert!(readings.iter().flatten().count() > 100 && notes.is_empty());
        assert_eq!(listener.snapshot().sung.sung_s, 0.0);
    }
}

#[test]
fn a_teacher_sees_the_note_that_is_sung_and_it_counts_nowhere() {
    let rate = SampleRate::new(HZ).unwrap();
    // An octave up, so often that a pupil's would be followed, and each a fifth of a semitone sharp.
    let voice = sound(&[297.07, 445.6].repeat(12));
    for turn in [Turn::Teacher, Turn::Nobody] {
        let mut listener = Listener::new(rate, Setting { turn, follow_octave: true, ..setting() });
        let (mut said, mut held) = (0, 0.0_f64);
        for block in voice.chunks(512) {
            listener.process(block, None, &mut |event| said += u32::from(!matches!(event, Event::Reading(_))));
            held = held.max(listener.current().map_or(0.0, |current| current.seconds));
        }
        assert_eq!(held > 0.5, turn == Turn::Teacher, "{turn:?}: the note that sounds, {held} s");
        let before = listener.snapshot();
        assert_eq!((said, before.notes, before.last), (0, 0, None));
        assert_eq!((before.octave_remark, before.octave_followed, before.shift), (None, 0, None));
        assert!(listener.meter().is_empty());
        // The turn changes in the middle of a note: what was sung of it by the one is no note of the other.
        let half = sound(&[146.832]);
        let half = &half[..half.len() / 2];
        let (_, notes) = heard(&mut listener, half, &[512]);
        assert!(notes.is_empty());
        listener.set(setting(), &mut |event| panic!("{event:?}"));
        assert!(listener.current().is_none());
        let (_, notes) = heard(&mut listener, &sound(&[146.832]), &[512]);
        assert_eq!(notes.len(), 1);
    }
}

#[test]
fn bad_samples_are_silence() {
    let mut listener = Listener::new(SampleRate::new(HZ).unwrap(), setting());
    let bad = [f32::NAN, f32::INFINITY, f32::NEG_INFINITY].repeat(8_000);
    let (_, notes) = heard(&mut listener, &bad, &[512]);
    assert!(notes.is_empty());
    let (_, notes) = heard(&mut listener, &sound(&[146.832]), &[512]);
    assert_eq!(notes.len(), 1);
    assert!(notes[0].offset.0.abs() < 1.0, "{:?}", notes[0]);
}

#[cfg(not(feature = "plugin"))]
#[test]
fn listening_never_allocates() {
    let mut listener = Listener::new(SampleRate::new(HZ).unwrap(), setting());
    let voice = sound(&[146.832, 220.5]);
    let mut notes = 0;
    nice_assert_no_alloc::assert_no_alloc(|| {
        let mut count = |event: Event<'_>| notes += u32::from(matches!(event, Event::Note(_)));
        for block in voice.chunks(128) {
            listener.process(block, None, &mut count);
        }
        listener.new_pass(&mut count);
        listener.set(Setting { sa: Hertz(150.0), ..setting() }, &mut count);
        listener.with_meter(Meter::clear);
        listener.reset();
    });
    assert_eq!(notes, 2);
}

/// Plucked strings whose Sa is a fifth of a semitone under the chosen one: known, told, and nothing of it allocates.
#[cfg(not(feature = "plugin"))]
#[test]
fn a_drone_that_nobody_told_of_is_known_by_its_sa() {
    let mut listener = Listener::new(SampleRate::new(HZ).unwrap(), setting());
    let sa = 146.832 * (-20.0f64 / 1200.0).exp2();
    let strings: Vec<f32> = (0..crate::units::num::index(6.0 * HZ))
        .map(|i| {
            let t = i as f64 / HZ;
            let pluck = (t / 1.2).floor();
            let string = |back: f64| {
                let since = t - 1.2 * (pluck - back);
                let of = [0.75, 1.0, 1.001, 0.5][crate::units::num::index(pluck - back + 4.0) % 4] * sa;
                let partial = |k: f64| (std::f64::consts::TAU * k * of * since + k * k).sin() / k;
                10f64.powf(-0.6 * since) * (1..12).map(|k| partial(f64::from(k))).sum::<f64>()
            };
            crate::units::num::single(0.02 * (string(0.0) + string(1.0) + string(2.0)))
        })
        .collect();
    nice_assert_no_alloc::assert_no_alloc(|| {
        for block in strings.chunks(128) {
            listener.process(block, None, &mut |_| ());
        }
    });
    let found = foreign::sa(listener.snapshot().drone.iter().flatten(), Hertz(146.832)).unwrap();
    assert!((found.cents_above(Hertz(146.832)).unwrap().0 + 20.0).abs() < 3.0, "{found:?}");
}

/// Our own strings out of another loudspeaker, 60 cents above the chosen Sa, at a window that looks three times a second.
#[test]
fn the_sa_of_strings_that_nobody_told_of_is_said_within_six_seconds_and_stays() {
    use crate::drone::{DroneSetting, render};

    let sa = setting().sa.up(Cents(60.0));
    let rate = SampleRate::new(HZ).unwrap();
    let strings = render(&DroneSetting { sa, ..DroneSetting::default() }, rate, 21.0).unwrap();
    let (mut listener, mut drone) = (Listener::new(rate, setting()), DroneSa::default());
    let mut said = Vec::new();
    for (look, block) in strings.chunks(16_000).enumerate() {
        listener.process(block, None, &mut |_| ());
        let time_s = (look + 1) as f64 / 3.0;
        let found = drone.look(&listener.snapshot().drone, setting().sa, time_s);
        said.push((time_s, found.map(|sa| sa.cents_above(setting().sa).unwrap().0)));
    }
    let from = said.iter().position(|(_, cents)| cents.is_some()).unwrap();
    assert!(said[from].0 <= 6.0 && said[from..].len() >= 45, "{said:?}");
    assert!(said[from..].iter().all(|(_, cents)| cents.is_some_and(|cents| (cents - 60.0).abs() < 5.0)), "{said:?}");
}

/// Who wears headphones has a drone that is told and is not in the microphone: the notes are the same as without it.
#[test]
fn a_drone_that_is_told_and_not_heard_changes_no_note() {
    use crate::drone::{DroneSetting, Kind, render};
    use crate::swara::{Nudges, Scale, Tuning};
    use crate::voice::demo;

    let rate = SampleRate::new(demo::RATE_HZ).unwrap();
    let take = demo::demo_take(rate).samples;
    let targets = Scale::find(demo::RAGA).unwrap().targets(&Tuning::default(), &Nudges::default());
    let notes = |drone: Option<&[f32]>, before: usize| {
        let band = Band { fixed: Cents(20.0), others: Cents(25.0) };
        let mut listener = Listener::new(rate, Setting::new(demo::sa(), targets, band));
        listener.told_ahead(true);
        let mut notes: Vec<Note> = Vec::new();
        let mut say = |event: Event<'_>| {
            if let Event::Note(note) = event {
                notes.push(*note);
            }
        };
        let voice: Vec<f32> = std::iter::repeat_n(0.0, before).chain(take.iter().copied()).collect();
        for (i, block) in voice.chunks(256).enumerate() {
            let sent = drone.and_then(|drone| drone.get(256 * i..256 * i + block.len()));
            listener.process(block, sent, &mut say);
        }
        listener.finish(&mut say);
        notes.retain(|note| note.kind == crate::note::Kind::Held);
        notes
    };
    let without = notes(None, 0);
    assert_eq!(without.len(), 23);
    for kind in [Kind::Strings, Kind::Reed] {
        let drone = render(&DroneSetting { sa: demo::sa(), kind, ..DroneSetting::default() }, rate, 50.0).unwrap();
        for before in [0, 2205, 8160, 66_150] {
            let with = notes(Some(&drone), before);
            assert_eq!(with.len(), without.len(), "{kind:?} {before}");
            for (a, b) in with.iter().zip(&without) {
                let apart = (a.start.0 - num::int(before as f64) - b.start.0) as f64 / rate.hz();
                let off = a.offset.0 - b.offset.0;
                assert!(a.swara == b.swara && apart.abs() < 0.006 && off.abs() < 0.1, "{kind:?} {before}: {a:?} {b:?}");
            }
        }
    }
}

/// Our own drone alone, told as it is told in the plugin, or as a file that is mixed in: no voice after its first second, however
/// late it comes and however loud.
#[test]
fn our_own_drone_alone_is_no_voice() {
    use crate::drone::{DroneSetting, Kind, render};
    use crate::swara::{Nudges, Scale, Tuning};

    let rate = SampleRate::new(16_000.0).unwrap();
    let targets = Scale::find("mela-29").unwrap().targets(&Tuning::default(), &Nudges::default());
    for kind in [Kind::Strings, Kind::Reed] {
        for sa in [130.81, 146.83, 220.0] {
            let setting = DroneSetting { sa: Hertz(sa), kind, ..DroneSetting::default() };
            let drone = render(&setting, rate, 12.0).unwrap();
            for (ahead_ms, late_ms) in [(25, -15i32), (25, 0), (25, 8), (25, 40), (25, 120), (0, 0)] {
                for gain in [0.05, 3.0] {
                    let band = Band { fixed: Cents(20.0), others: Cents(25.0) };
                    let mut listener = Listener::new(rate, Setting::new(Hertz(sa), targets, band));
                    listener.told_ahead(ahead_ms > 0);
                    let late = num::index(f64::from(ahead_ms + late_ms) * 16.0);
                    let microphone = std::iter::repeat_n(0.0, late).chain(drone.iter().map(|x| gain * x));
                    let microphone: Vec<f32> = microphone.take(drone.len()).collect();
                    let mut voiced = Vec::new();
                    for (heard, sent) in microphone.chunks(256).zip(drone.chunks(256)) {
                        listener.process(heard, Some(sent), &mut |event| {
                            if let Event::Reading(reading) = event {
                                voiced.push(reading.frame.voiced);
                            }
                        });
                    }
                    let share = |from: usize, to: usize| {
                        voiced[from..to].iter().filter(|v| **v).count() as f64 / (to - from) as f64
                    };
                    let (second, later) = (share(200, 400), share(400, 2300));
                    assert!(
                        second == 0.0 && later < 0.003,
                        "{kind:?} {sa} {ahead_ms} {late_ms} ms {gain}: {second} {later}"
                    );
                }
            }
        }
    }
}

/// Our own drone alone where nobody tells of it, as a pupil's is in a lesson, at once or after a silence: hardly a voice in its
/// second second, and none after that.
#[test]
fn a_drone_of_ours_that_nobody_told_of_is_no_voice() {
    use crate::drone::{DroneSetting, Kind, render};
    use crate::swara::{Nudges, Scale, Tuning};
    use crate::tonic::test_sound::noise;

    let rate = SampleRate::new(16_000.0).unwrap();
    let targets = Scale::find("mela-29").unwrap().targets(&Tuning::default(), &Nudges::default());
    let noise = noise(1.5e-4, 12.0);
    let mut seconds = Vec::new();
    for kind in [Kind::Strings, Kind::Reed] {
        for sa in [123.0, 146.83, 174.6, 207.65, 246.9] {
            let setting = DroneSetting { sa: Hertz(sa), kind, ..DroneSetting::default() };
            let drone = render(&setting, rate, 10.0).unwrap();
            for (before_s, gain) in [(0.0, 1.0), (0.5, 0.2), (2.0, 1.0)] {
                let band = Band { fixed: Cents(20.0), others: Cents(25.0) };
                let mut listener = Listener::new(rate, Setting::new(Hertz(sa), targets, band));
                let before = num::index(before_s * rate.hz());
                let heard = std::iter::repeat_n(0.0, before).chain(drone.iter().map(|x| gain * x));
                let heard: Vec<f32> = heard.zip(&noise).map(|(x, noise)| x + num::single(*noise)).collect();
                let mut voiced = Vec::new();
                for block in heard.chunks(256) {
                    listener.process(block, None, &mut |event| {
                        if let Event::Reading(reading) = event {
                            voiced.push(reading.frame.voiced);
                        }
                    });
                }
                let voiced = &voiced[before / crate::input::HOP..];
                let share = |from: usize, to: usize| {
                    voiced[from..to].iter().filter(|v| **v).count() as f64 / (to - from) as f64
                };
                let (second, later) = (share(200, 400), share(400, 1950));
                assert!(second < 0.15 && later == 0.0, "{kind:?} {sa} {before_s} {gain}: {second} {later}");
                seconds.push(second);
            }
        }
    }
    let mean = seconds.iter().sum::<f64>() / seconds.len() as f64;
    assert!(mean < 0.01, "{seconds:?}");
}
