//! Sounds whose Sa is known exactly, for this room's tests.
//!
//! In: Sa, tones, seconds. Out: 16 kHz samples, hops, frames. Method: sums of sine partials. Cost: tests
//! only. Does not handle rooms or microphones.

use crate::input::{ANALYSIS_RATE_HZ, HOP, Hop};
use crate::pitch::F0Frame;
use crate::units::{Decibels, Hertz, SampleTime, num};
use realfft::num_complex::Complex;

/// Adds a decaying tone of partials h * hz * sqrt(1 + B h^2) (stiff string; Fletcher 1964) from `start_s` on.
pub(crate) fn add_tone(out: &mut [f64], hz: f64, level: f64, start_s: f64, decay_s: f64, stiffness: f64) {
    let start = num::index(start_s * ANALYSIS_RATE_HZ);
    for h in 1..=24u32 {
        let h = f64::from(h);
        let partial = h * hz * (1.0 + stiffness * h * h).sqrt();
        if partial > 3_500.0 {
            break;
        }
        // A turning, shrinking pointer: the same as exp(-t / decay) sin(2 pi f t + phase), faster.
        let turn = Complex::from_polar(
            (-1.0 / (decay_s * ANALYSIS_RATE_HZ)).exp(),
            std::f64::consts::TAU * partial / ANALYSIS_RATE_HZ,
        );
        let mut pointer = Complex::from_polar(level * h.powf(-0.6), h * h);
        for sample in out.iter_mut().skip(start) {
            *sample += pointer.im;
            pointer *= turn;
        }
    }
}

/// A reed on these multiples of Sa.
pub(crate) fn reed(sa: f64, tones: &[f64], seconds: f64) -> Vec<f64> {
    let mut out = vec![0.0; num::index(seconds * ANALYSIS_RATE_HZ)];
    for tone in tones {
        add_tone(&mut out, sa * tone, 0.05, 0.0, 1e9, 0.0);
    }
    out
}

/// Strings plucked in turn, 1.2 s apart: first string, Sa, Sa, low Sa. Stiffness of steel and brass from
/// string mechanics: 2e-5 and 9e-5.
pub(crate) fn strings(sa: f64, first: f64, seconds: f64) -> Vec<f64> {
    let mut out = vec![0.0; num::index(seconds * ANALYSIS_RATE_HZ)];
    let mut start_s = 0.1;
    while start_s < seconds {
        for (i, (ratio, stiffness)) in [(first, 2e-5), (1.0, 2e-5), (1.0, 2e-5), (0.5, 9e-5)].into_iter().enumerate() {
            add_tone(&mut out, sa * ratio, 0.05, start_s + 1.2 * i as f64, 2.5, stiffness);
        }
        start_s += 4.8;
    }
    out
}

/// White noise from a fixed seed (Lehmer generator, Park and Miller 1988).
pub(crate) fn noise(level: f64, seconds: f64) -> Vec<f64> {
    let mut state = 1u64;
    (0..num::index(seconds * ANALYSIS_RATE_HZ))
        .map(|_| {
            state = state * 48_271 % 2_147_483_647;
            level * (state as f64 / 1_073_741_823.5 - 1.0)
        })
        .collect()
}

/// A voice without words that follows a pitch curve.
pub(crate) fn voice(seconds: f64, hz: impl Fn(f64) -> f64) -> Vec<f64> {
    let mut phase = 0.0;
    (0..num::index(seconds * ANALYSIS_RATE_HZ))
        .map(|i| {
            phase += hz(i as f64 / ANALYSIS_RATE_HZ) / ANALYSIS_RATE_HZ;
            (1..=8).map(|h| 0.05 / f64::from(h) * (std::f64::consts::TAU * phase * f64::from(h)).sin()).sum()
        })
        .collect()
}

/// The sound in hops.
pub(crate) fn hops(sound: &[f64]) -> impl Iterator<Item = Hop> + '_ {
    sound.chunks_exact(HOP).enumerate().map(|(i, chunk)| {
        let mut voice = [0.0; HOP];
        for (to, from) in voice.iter_mut().zip(chunk) {
            *to = num::single(*from);
        }
        let end = SampleTime(num::time((i + 1) * HOP));
        Hop { voice, drone: None, available: end, describes: end, clipped: 0, still: false }
    })
}

/// A frame with this f0, or an unvoiced one.
pub(crate) fn frame(hz: Option<f64>) -> F0Frame {
    F0Frame {
        time: SampleTime(0),
        available: SampleTime(0),
        f0: hz.map(Hertz),
        voiced: hz.is_some(),
        confidence: 1.0,
        level: Decibels(-20.0),
        clipped: false,
        several: false,
    }
}
