//! The room as a whole, on drones and rooms that are made here.

use super::test_codec::unsteady_by;
use super::*;
use crate::drone::{DroneSetting, Kind, render};
use crate::input::ANALYSIS_RATE_HZ;
use crate::pitch::{F0Frame, Tracker};
use crate::swara::Swara;
use crate::units::{Cents, SampleRate, SampleTime};
use crate::voice::{Phrase, Singer, State, Sung, sing, truth::FRAME_S};
use std::f64::consts::TAU;

const SA: f64 = 196.0;

fn seconds(s: f64) -> usize {
    num::index(s * ANALYSIS_RATE_HZ)
}

fn tone(hz: f64, t: f64, partials: u32, fall: impl Fn(f64) -> f64) -> f64 {
    (1..=partials).map(f64::from).map(|k| fall(k) / k * (TAU * hz * k * t).sin()).sum()
}

/// Three strings in turn, one every 0.8 s, each ringing on.
fn strings(s: f64) -> Vec<f32> {
    let at = |t: f64| -> f64 {
        let plucked = |turn: usize| {
            let since = t - 0.8 * turn as f64;
            let hz = [0.75, 1.0, 0.5][turn % 3] * SA;
            if since < 0.0 { 0.0 } else { tone(hz, since, 14, |k| (-since * (0.8 + 0.1 * k)).exp()) }
        };
        (0..=num::index(t / 0.8)).rev().take(6).map(plucked).sum()
    };
    (0..seconds(s)).map(|i| num::single(0.05 * at(i as f64 / ANALYSIS_RATE_HZ))).collect()
}

/// Three reeds that swell in a tenth of a second.
fn reeds(s: f64) -> Vec<f32> {
    let at =
        |t: f64| [0.5, 0.751, 1.001].iter().map(|r| tone(r * SA, t, 14, |_| 1.0)).sum::<f64>() * (t / 0.1).min(1.0);
    (0..seconds(s)).map(|i| num::single(0.03 * at(i as f64 / ANALYSIS_RATE_HZ))).collect()
}

/// What a room of 0.3 s makes of a sound, `late` seconds late.
fn room(sound: &[f32], late: f64, seed: u32) -> Vec<f32> {
    let mut state = seed;
    let mut random = || {
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        state >> 8
    };
    let mut out = vec![0.0; sound.len()];
    for echo in 0..40_u16 {
        let after = if echo == 0 { 0.0 } else { f64::from(random() % 1000) / 1000.0 * 0.15 };
        let sign = if random() % 2 == 0 { 1.0 } else { -1.0 };
        let gain = if echo == 0 { 0.5 } else { num::single(sign * 0.1 * 10.0f64.powf(-3.0 * after / 0.3)) };
        for (to, from) in out.iter_mut().skip(seconds(late + after)).zip(sound) {
            *to += gain * from;
        }
    }
    out
}

/// A voice on Sa as steady as a voice can be: a flutter of 1.5 cents.
fn sa(s: f64) -> Vec<f32> {
    let mut phase = 0.0;
    let mut at = |t: f64| {
        phase += SA * (1.5 * (TAU * 4.0 * t).sin() / 1200.0).exp2() / ANALYSIS_RATE_HZ;
        tone(phase, 1.0, 14, |_| 1.0)
    };
    (0..seconds(s)).map(|i| num::single(0.05 * at(i as f64 / ANALYSIS_RATE_HZ))).collect()
}

/// Hop number `n`.
fn hop(n: usize, drone: &[f32; HOP], voice: &[f32; HOP]) -> Hop {
    let at = SampleTime(num::time(n * HOP));
    Hop { voice: *voice, drone: Some(*drone), available: at, describes: at, clipped: 0, still: false }
}

/// The cleaned microphone; `sings` says when a voice is heard on Sa.
fn cleaned(bleed: &mut KnownDrone, drone: &[f32], microphone: &[f32], sings: impl Fn(f64) -> bool) -> Vec<f32> {
    let hops = drone.as_chunks::<HOP>().0.iter().zip(microphone.as_chunks::<HOP>().0);
    hops.enumerate()
        .flat_map(|(n, (drone, voice))| {
            let hop = hop(n, drone, voice);
            let out = bleed.clean(&hop).map_or(hop.voice, |cleaned| cleaned.hop.voice);
            bleed.voice(sings((n * HOP) as f64 / ANALYSIS_RATE_HZ).then_some(Hertz(SA)));
            out
        })
        .collect()
}

/// Level between two times, dB.
fn level(sound: &[f32], from: f64, to: f64) -> f64 {
    let part = &sound[seconds(from)..seconds(to)];
    10.0 * (part.iter().map(|x| f64::from(*x).powi(2)).sum::<f64>() / part.len() as f64 + 1e-12).log10()
}

fn sum(a: &[f32], b: &[f32]) -> Vec<f32> {
    a.iter().zip(b).map(|(a, b)| a + b).collect()
}

#[test]
fn a_drone_is_taken_out_within_two_seconds_however_late_it_comes() {
    for (name, drone) in [("strings", strings(4.0)), ("reeds", reeds(4.0))] {
        let cases = [
            (false, &[0.0, 0.0004, 0.001, 0.003, 0.02, 0.12, 0.35, 0.5][..]),
            (true, &[-0.02, -0.01, 0.0, 0.003, 0.02, 0.12, 0.5]),
        ];
        for (ahead, lates) in cases {
            for late in lates {
                let heard = room(&drone, late + if ahead { DRONE_AHEAD_S } else { 0.0 }, 1);
                let mut bleed = KnownDrone::new();
                bleed.told_ahead(ahead);
                let rest = cleaned(&mut bleed, &drone, &heard, |_| false);
                let removed = level(&heard, 2.0, 4.0) - level(&rest, 2.0, 4.0);
                assert!(removed > 25.0, "{name} {late} s late, told ahead {ahead}: {removed} dB");
            }
        }
    }
}

#[test]
fn a_true_sa_is_left_as_it_is() {
    for (name, drone) in [("strings", strings(14.0)), ("reeds", reeds(14.0))] {
        let mut voice = sa(14.0);
        voice[..seconds(3.0)].fill(0.0);
        let rest = cleaned(&mut KnownDrone::new(), &drone, &sum(&voice, &room(&drone, 0.01, 1)), |t| t > 3.03);
        for second in 3..13_u8 {
            let (from, to) = (f64::from(second) + 0.1, f64::from(second) + 1.0);
            let lost = level(&voice, from, to) - level(&rest, from, to);
            assert!(lost.abs() < 1.0, "{name}, from {from} s: {lost} dB");
        }
    }
}

/// A voice over what a room makes of our own drone, `under` decibels softer and `late` seconds late, and the frames of it.
fn heard_over(kind: Kind, under: f64, late: f64, sung: &[f32]) -> Vec<F0Frame> {
    let rate = SampleRate::new(ANALYSIS_RATE_HZ).unwrap();
    let setting = DroneSetting { sa: Hertz(SA), kind, ..DroneSetting::default() };
    let drone = render(&setting, rate, sung.len() as f64 / ANALYSIS_RATE_HZ).unwrap();
    let heard = room(&drone, late, 1);
    let gain = num::single(10f64.powf((level(sung, 1.0, 9.0) - under - level(&heard, 1.0, 9.0)) / 20.0));
    let microphone: Vec<f32> = sung.iter().zip(&heard).map(|(voice, drone)| voice + gain * drone).collect();
    let (mut bleed, mut tracker) = (KnownDrone::new(), Tracker::new(rate));
    let hops = drone.as_chunks::<HOP>().0.iter().zip(microphone.as_chunks::<HOP>().0).enumerate();
    hops.map(|(n, (drone, voice))| {
        let hop = hop(n, drone, voice);
        let frame = match bleed.clean(&hop) {
            Some(Cleaned { hop, left, .. }) => tracker.process_with(&hop, Some(left)),
            None => tracker.process(&hop),
        };
        bleed.voice(frame.f0.filter(|_| frame.voiced));
        frame
    })
    .collect()
}

/// Sa, Pa and tara Sa in turn, over our own drone that sounded for three seconds before: each coherent with it as long as it
/// is held, and each to be heard.
#[test]
fn a_round_on_the_drones_own_pitches_is_heard() {
    let rate = SampleRate::new(ANALYSIS_RATE_HZ).unwrap();
    for (kind, under, late, rest) in [
        (Kind::Strings, 12.0, 0.02, 0.6),
        (Kind::Strings, 6.0, 0.12, 0.6),
        (Kind::Reed, 12.0, 0.02, 0.0),
        (Kind::Reed, 6.0, 0.12, 0.6),
        (Kind::Reed, 0.0, 0.02, 0.6),
    ] {
        let mut phrase = Phrase::new().rest(3.0);
        for _ in 0..3 {
            for (swara, cents) in [(Swara::S, 0.0), (Swara::P, 702.0), (Swara::S, 1200.0)] {
                phrase = phrase.sing(Sung::held(swara, cents, 2.0).off(3.0)).rest(rest);
            }
        }
        let song = sing(&phrase.rest(0.5), &Singer { flutter: Cents(10.0), ..Singer::clear(Hertz(SA)) }, rate);
        let (mut sung, mut right) = (0, 0);
        for frame in heard_over(kind, under, late, &song.samples) {
            let t = frame.time.0 as f64 / ANALYSIS_RATE_HZ;
            let Some((Some(f0), State::Voiced)) = song.truth.frames.get(num::index((t / FRAME_S).round())) else {
                continue;
            };
            sung += 1;
            let apart = frame.f0.filter(|_| frame.voiced).and_then(|f| f.cents_above(*f0));
            right += i32::from(apart.is_some_and(|apart| apart.0.abs() < 25.0));
        }
        let share = f64::from(right) / f64::from(sung);
        assert!(sung > 3000 && share > 0.99, "{kind:?} {under} dB under, {late} s late, rests {rest} s: {share}");
    }
}

/// What is left of a drone that has sounded alone for eight seconds, against what is foretold of its nearest line: per bin of
/// the tracker's up to 1.5 kHz, as ratios of power.
fn left(kind: Kind, line: impl Fn(&[f32]) -> Vec<f32>) -> Vec<f32> {
    let rate = SampleRate::new(ANALYSIS_RATE_HZ).unwrap();
    let setting = DroneSetting { sa: Hertz(SA), kind, ..DroneSetting::default() };
    let drone = render(&setting, rate, 8.0).unwrap();
    let heard = line(&room(&drone, 0.02, 1));
    let mut bleed = KnownDrone::new();
    let mut left = Vec::new();
    for (n, (drone, voice)) in drone.as_chunks::<HOP>().0.iter().zip(heard.as_chunks::<HOP>().0).enumerate() {
        left = bleed.clean(&hop(n, drone, voice)).map_or(Vec::new(), |cleaned| cleaned.left.power.to_vec());
        bleed.voice(None);
    }
    let foretold = bleed.transform.forward(bleed.heard.windowed(&bleed.shape));
    let strongest = |near: usize| {
        let near = foretold.iter().skip(near.saturating_sub(4)).take(9);
        near.map(|x| x.norm_sqr()).fold(f32::MIN_POSITIVE, f32::max)
    };
    left.iter().take(96).enumerate().map(|(bin, left)| left / strongest(bin)).collect()
}

/// Through a call's codec no linear way holds: more of strings is left on their lines, and the tracker is told of it.
#[test]
fn what_a_codec_leaves_of_strings_is_told() {
    let on_sa = |left: Vec<f32>| left.into_iter().skip(num::index(SA / 15.625)).take(2).fold(0.0, f32::max);
    let exact = on_sa(left(Kind::Strings, <[f32]>::to_vec));
    let coded = on_sa(left(Kind::Strings, |sound| unsteady_by(sound, 3.0)));
    assert!(exact < 0.05 && coded > 4.0 * exact, "{exact} {coded}");
}

/// In a room's noise little is known of the way between the drone's lines; that hides nothing that is sung there.
#[test]
fn between_the_drones_lines_no_more_is_left_than_on_them() {
    let noisy = |sound: &[f32]| -> Vec<f32> {
        let noise = crate::tonic::test_sound::noise(1e-3, 8.0);
        sound.iter().zip(&noise).map(|(x, n)| x + num::single(*n)).collect()
    };
    for kind in [Kind::Strings, Kind::Reed] {
        // Under the lowest of them there is nothing.
        let most = left(kind, noisy).into_iter().skip(8).fold(0.0, f32::max);
        assert!(most < 2.0, "{kind:?}: {most}");
    }
}

/// Who sings already when the drone begins, with headphones, is not taken for it while it swells.
#[test]
fn a_voice_that_was_there_before_the_drone_is_heard() {
    let rate = SampleRate::new(ANALYSIS_RATE_HZ).unwrap();
    for kind in [Kind::Strings, Kind::Reed] {
        let mut phrase = Phrase::new();
        for _ in 0..4 {
            phrase = phrase.sing(Sung::held(Swara::M2, 590.0, 1.2)).sing(Sung::held(Swara::G3, 386.0, 1.2));
        }
        let song = sing(&phrase, &Singer { flutter: Cents(20.0), ..Singer::clear(Hertz(SA)) }, rate);
        let frames = heard_over(kind, 100.0, 0.02, &song.samples);
        let heard = frames.iter().filter(|frame| frame.voiced).count() as f64 / frames.len() as f64;
        assert!(heard > 0.97, "{kind:?}: {heard}");
    }
}

/// A long steady Sa, begun before the drone is known, is coherent with it all the time: it must not be learned as its way,
/// or what is taken out is heard as a voice when it ends.
#[test]
fn a_long_sa_leaves_nothing_of_itself_when_it_ends() {
    let rate = SampleRate::new(ANALYSIS_RATE_HZ).unwrap();
    let phrase = Phrase::new().rest(0.4).sing(Sung::held(Swara::S, 1.0, 9.0)).rest(4.6);
    let sung = sing(&phrase, &Singer { flutter: Cents(6.0), ..Singer::clear(Hertz(SA)) }, rate).samples;
    let frames = heard_over(Kind::Reed, 12.0, 0.02, &sung);
    let share = |from: f64, to: f64| {
        let part = &frames[seconds(from) / HOP..seconds(to) / HOP];
        part.iter().filter(|frame| frame.voiced).count() as f64 / part.len() as f64
    };
    let (sung, rest) = (share(0.6, 9.4), share(9.5, 10.4));
    assert!(sung > 0.98 && rest < 0.15, "{sung} {rest}");
}

#[test]
fn a_singer_who_moves_is_followed_in_the_next_rest() {
    for (name, drone) in [("strings", strings(12.0)), ("reeds", reeds(12.0))] {
        let (here, there) = (room(&drone, 0.01, 1), room(&drone, 0.014, 2));
        let mut heard = here[..seconds(5.0)].to_vec();
        heard.extend_from_slice(&there[seconds(5.0)..]);
        let mut voice = sa(12.0);
        voice[..seconds(4.0)].fill(0.0);
        voice[seconds(7.0)..].fill(0.0);
        let sings = |t: f64| (4.03..7.03).contains(&t);
        let rest = cleaned(&mut KnownDrone::new(), &drone, &sum(&voice, &heard), sings);
        let removed = level(&heard, 10.0, 12.0) - level(&rest, 10.0, 12.0);
        assert!(removed > 10.0, "{name}: {removed} dB");
    }
}

#[test]
fn where_no_drone_is_heard_nothing_is_changed_and_a_reset_gives_the_same_again() {
    let drone = strings(3.0);
    let voice = sa(3.0);
    let mut bleed = KnownDrone::new();
    let rest = cleaned(&mut bleed, &drone, &voice, |_| true);
    assert!((level(&rest, 1.0, 3.0) - level(&voice, 1.0, 3.0)).abs() < 1.0);
    bleed.reset();
    assert_eq!(cleaned(&mut bleed, &vec![0.0; drone.len()], &voice, |_| true), voice);
    let heard = room(&drone, 0.3, 1);
    bleed.reset();
    let first = cleaned(&mut bleed, &drone, &heard, |_| false);
    bleed.reset();
    assert_eq!(cleaned(&mut bleed, &drone, &heard, |_| false), first);
}
