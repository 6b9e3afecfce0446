//! The demo take: an evening's practice of a pupil whom we made up, 37 s long.
//!
//! Meenal sings at 5.5 kattai (Sa = G sharp below middle C): a long Sa, a Pa that is flat, an upper Sa that is sharp,
//! a Sa that sinks, one sarali line of Mayamalavagowla up and down with a low Ri and a low Ni, a kampita on Ma, a slide,
//! a Pa with vibrato and a last Sa. Everything is in the truth beside it. Targets are the 5-limit ratios.

use super::phrase::{Manner, Phrase, Sung};
use super::sing::{Performance, Singer, sing};
use super::tract::Vowel;
use crate::swara::Swara;
use crate::units::{Cents, Decibels, Hertz, SampleRate};

/// The demo's tonic in the form that the take checker understands.
pub const TONIC: &str = "G#3";

/// The demo's raga, by its melakarta name.
pub const RAGA: &str = "Mayamalavagowla";

/// Rate of the stored demo take, Hz: enough for a voice, small on the disk.
pub const RATE_HZ: f64 = 22_050.0;

/// Madhya Sa of the demo take: G sharp 3 (MIDI key 56) at A4 = 440 Hz.
#[must_use]
pub fn sa() -> Hertz {
    Hertz::of_midi_key(56.0, Hertz(440.0))
}

/// The seven swaras of Mayamalavagowla (melakarta 15) with upper Sa: name, register, ratio, vowel of its syllable.
const SCALE: [(Swara, i8, f64, Vowel); 8] = [
    (Swara::S, 0, 1.0, Vowel::A),
    (Swara::R1, 0, 16.0 / 15.0, Vowel::I),
    (Swara::G3, 0, 5.0 / 4.0, Vowel::A),
    (Swara::M1, 0, 4.0 / 3.0, Vowel::A),
    (Swara::P, 0, 3.0 / 2.0, Vowel::A),
    (Swara::D1, 0, 8.0 / 5.0, Vowel::A),
    (Swara::N3, 0, 15.0 / 8.0, Vowel::I),
    (Swara::S, 1, 1.0, Vowel::A),
];

/// Errors of the sarali line, cents, up and down.
const UP: [f64; 8] = [2.0, -28.0, 5.0, -4.0, -9.0, 11.0, -31.0, 8.0];
const DOWN: [f64; 8] = [6.0, -26.0, 9.0, -6.0, -3.0, 7.0, -24.0, -2.0];

/// Length of a swara in the sarali line, seconds: the first speed at 80 beats a minute.
const SARALI_S: f64 = 0.75;

/// What is sung.
#[must_use]
pub fn phrase() -> Phrase {
    let [sa, _, _, ma, pa, ..] = SCALE;
    let held =
        |s: (Swara, i8, f64, Vowel), seconds| Sung::held(s.0, Cents::of_ratio(s.2).0, seconds).register(s.1).on(s.3);
    let mut phrase = Phrase::new()
        .rest(0.6)
        .sing(held(sa, 3.5).off(-4.0))
        .rest(0.7)
        .sing(held(pa, 2.8).off(-27.0).scooped(-120.0))
        .rest(0.6)
        .sing(held(sa, 2.2).register(1).off(29.0))
        .rest(0.8)
        .sing(held(sa, 3.6).off(-2.0).manner(Manner::Held { drift_per_s: -6.0 }))
        .rest(0.9);
    for (swara, off) in SCALE.into_iter().zip(UP) {
        phrase = phrase.sing(held(swara, SARALI_S).off(off));
    }
    phrase = phrase.rest(0.5);
    for (swara, off) in SCALE.into_iter().rev().zip(DOWN) {
        phrase = phrase.sing(held(swara, SARALI_S).off(off));
    }
    phrase
        .rest(0.7)
        .sing(held(ma, 1.8).manner(Manner::Kampita { width: 160.0, hz: 4.2 }))
        .sing(held(pa, 0.9))
        .sing(held(pa, 0.7).manner(Manner::Glide { by: Cents::of_ratio(4.0 / 3.0).0 }))
        .rest(0.6)
        .sing(held(pa, 2.4).off(5.0).manner(Manner::Vibrato { width: 70.0, hz: 5.6 }))
        .rest(0.5)
        .sing(held(sa, 2.6).off(3.0).scooped(-60.0))
        .rest(0.5)
}

/// The demo take with its truth.
#[must_use]
pub fn demo_take(rate: SampleRate) -> Performance {
    let singer = Singer {
        breath: Decibels(-44.0),
        flutter: Cents(5.0),
        jitter: Cents(3.0),
        seed: 0x5A_9A_5A,
        ..Singer::clear(sa())
    };
    sing(&phrase(), &singer, rate)
}
