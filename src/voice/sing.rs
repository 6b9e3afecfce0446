//! Makes the sound of the test voice from the written phrase.
//!
//! In: a [`Phrase`] and a [`Singer`]. Out: a [`Performance`]. The phase is the running sum of the pitch of each
//! sample; harmonic k is sin(k x phase) with the strength of the [`tract`](super::tract) at its frequency, made by the
//! recurrence sin(kx) = 2 cos(x) sin((k-1)x) - sin((k-2)x). Breath is noise that swells with each opening of the glottis.
//! The same singer and phrase give the same samples.

use super::phrase::{Instant, Phrase};
use super::tract::Tract;
use super::truth::Truth;
use crate::units::{Cents, Decibels, Hertz, SampleRate, num};
use std::f64::consts::TAU;

/// Samples between two updates of the harmonics' strengths; between them they move in straight lines.
const STEP: usize = 64;

/// Harmonics fade out between these shares of half the sample rate, so that none is cut off or folds back.
const FADE: (f64, f64) = (0.8, 0.95);

/// No harmonic above this is made, hertz: the voice has little there.
const TOP_HZ: f64 = 9_000.0;

/// Who sings.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Singer {
    /// Madhya Sa.
    pub sa: Hertz,
    /// Level over the sung time, dBFS (RMS).
    pub level: Decibels,
    /// Breath noise relative to the voice.
    pub breath: Decibels,
    /// Greatest slow waver of every voice, cents: a sum of three sines (12.7, 7.1, 4.7 Hz: Klatt and Klatt 1990). Part
    /// of the truth.
    pub flutter: Cents,
    /// Difference from one cycle to the next (standard deviation), cents; no slow part, not in the truth.
    pub jitter: Cents,
    /// Start of the random numbers.
    pub seed: u64,
}

impl Singer {
    /// A clear voice on `sa` at -20 dBFS: breath 40 dB down, no flutter, no jitter.
    #[must_use]
    pub fn clear(sa: Hertz) -> Self {
        Self { sa, level: Decibels(-20.0), breath: Decibels(-40.0), flutter: Cents(0.0), jitter: Cents(0.0), seed: 1 }
    }
}

/// A sung phrase and the truth about it.
#[derive(Debug, Clone, PartialEq)]
pub struct Performance {
    /// Sample rate.
    pub rate: SampleRate,
    /// The sound, full scale 1.
    pub samples: Vec<f32>,
    /// The truth.
    pub truth: Truth,
}

/// Sings `phrase` at `rate`.
#[must_use]
pub fn sing(phrase: &Phrase, singer: &Singer, rate: SampleRate) -> Performance {
    let length = num::index(phrase.seconds() * rate.hz());
    let mut throat = Throat::new(singer, rate);
    let (mut voice, mut breath) = (Vec::with_capacity(length), Vec::with_capacity(length));
    let mut curve = Vec::with_capacity(length);
    for n in 0..length {
        let t = n as f64 / rate.hz();
        let now = phrase.at(t).map(|i| Instant { cents: i.cents + flutter(t, singer.flutter.0), ..i });
        let (sound, air) = throat.sample(now);
        voice.push(sound);
        breath.push(air);
        curve.push(now.map(|i| (singer.sa.up(Cents(i.cents)).0, i.gain)));
    }
    let level = |signal: &[f64]| {
        let sung = curve.iter().flatten().count().max(1);
        (signal.iter().map(|x| x * x).sum::<f64>() / sung as f64).sqrt().max(1e-12)
    };
    let voice_gain = singer.level.amplitude() / level(&voice);
    let breath_gain = singer.level.amplitude() * singer.breath.amplitude() / level(&breath);
    let samples = voice.iter().zip(&breath).map(|(v, b)| num::single(v * voice_gain + b * breath_gain)).collect();
    Performance { rate, samples, truth: Truth::new(phrase, singer, rate, &curve) }
}

/// Klatt and Klatt 1990: a sum of sines with no short period, at most `depth`.
fn flutter(t: f64, depth: f64) -> f64 {
    depth / 3.0 * [12.7, 7.1, 4.7].iter().map(|hz| (TAU * hz * t).sin()).sum::<f64>()
}

/// The state of the sound.
struct Throat {
    rate: f64,
    sa: Hertz,
    jitter: f64,
    phase: f64,
    /// Pitch of this cycle relative to the curve.
    cycle: f64,
    until_update: usize,
    strengths: Vec<f64>,
    slopes: Vec<f64>,
    noise: Noise,
    last_noise: f64,
}

impl Throat {
    fn new(singer: &Singer, rate: SampleRate) -> Self {
        Self {
            rate: rate.hz(),
            sa: singer.sa,
            jitter: singer.jitter.0,
            phase: 0.0,
            cycle: 1.0,
            until_update: 0,
            strengths: Vec::new(),
            slopes: Vec::new(),
            noise: Noise(singer.seed.max(1)),
            last_noise: 0.0,
        }
    }

    /// Voice and breath of one sample.
    fn sample(&mut self, now: Option<Instant>) -> (f64, f64) {
        let Some(now) = now else {
            self.strengths.clear();
            self.until_update = 0;
            return (0.0, 0.0);
        };
        let hz = self.sa.up(Cents(now.cents)).0 * self.cycle;
        if self.until_update == 0 {
            self.aim(&now, hz);
        }
        self.until_update -= 1;
        // Sine and cosine of the phase give all harmonics by the recurrence.
        let (sine, cosine) = (TAU * self.phase).sin_cos();
        let (mut before, mut harmonic, mut sum) = (0.0, sine, 0.0);
        for (strength, slope) in self.strengths.iter_mut().zip(&self.slopes) {
            sum += *strength * harmonic;
            *strength += slope;
            (before, harmonic) = (harmonic, 2.0 * cosine * harmonic - before);
        }
        let white = self.noise.next();
        let air = (white - self.last_noise) * (0.6 - 0.4 * cosine);
        self.last_noise = white;
        self.phase += hz / self.rate;
        if self.phase >= 1.0 {
            self.phase -= self.phase.floor();
            self.cycle = Cents(self.jitter * self.noise.gauss()).ratio();
        }
        (sum * now.gain, air * now.gain)
    }

    /// Sets the way of each harmonic's strength over the next [`STEP`] samples.
    fn aim(&mut self, now: &Instant, hz: f64) {
        let (from, to, part) = now.vowels;
        let tract = Tract::of(from).towards(Tract::of(to), part);
        let top = (0.5 * self.rate * FADE.1).min(TOP_HZ);
        let fresh = self.strengths.is_empty();
        let count = num::index((top / hz).floor()).max(1);
        self.strengths.resize(count.max(self.strengths.len()), 0.0);
        self.slopes.resize(self.strengths.len(), 0.0);
        for (k, (strength, slope)) in self.strengths.iter_mut().zip(&mut self.slopes).enumerate() {
            let at = hz * (k + 1) as f64;
            let fade = ((top - at) / (top * (1.0 - FADE.0 / FADE.1))).clamp(0.0, 1.0);
            let goal = fade * tract.amplitude(at, hz);
            if fresh {
                *strength = goal;
            }
            *slope = (goal - *strength) / STEP as f64;
        }
        self.until_update = STEP;
    }
}

/// Random numbers: xorshift64* (Vigna 2016); the same on every machine.
struct Noise(u64);

impl Noise {
    /// Even between -1 and 1.
    fn next(&mut self) -> f64 {
        self.0 ^= self.0 >> 12;
        self.0 ^= self.0 << 25;
        self.0 ^= self.0 >> 27;
        let bits = self.0.wrapping_mul(0x2545_F491_4F6C_DD1D) >> 11;
        bits as f64 / (1_u64 << 52) as f64 - 1.0
    }

    /// About normal with unit deviation: the sum of twelve even numbers has variance 12 x 1/3.
    fn gauss(&mut self) -> f64 {
        (0..12).map(|_| self.next()).sum::<f64>() / 2.0
    }
}

#[cfg(test)]
mod tests {
    use super::super::phrase::{Manner, Sung};
    use super::*;
    use crate::swara::Swara;

    fn performance(cents: f64, rate: f64) -> Performance {
        let phrase = Phrase::new().sing(Sung::held(Swara::S, 0.0, 2.0).off(cents));
        sing(&phrase, &Singer::clear(Hertz(196.0)), SampleRate::new(rate).unwrap())
    }

    /// The frequency of the fundamental, by the phase advance of a sliding Fourier bin over a second: independent of the
    /// way the sound was made.
    fn fundamental_hz(samples: &[f32], rate: f64, near: f64) -> f64 {
        let window = num::index(0.3 * rate);
        let bin = |start: usize| {
            let (mut re, mut im) = (0.0, 0.0);
            for (n, x) in samples.iter().skip(start).take(window).enumerate() {
                let w = 0.5 - 0.5 * (TAU * n as f64 / window as f64).cos();
                let angle = TAU * near * (start + n) as f64 / rate;
                re += w * f64::from(*x) * angle.cos();
                im -= w * f64::from(*x) * angle.sin();
            }
            im.atan2(re)
        };
        let (a, b) = (num::index(0.3 * rate), num::index(1.3 * rate));
        let turn = (bin(b) - bin(a) + TAU / 2.0).rem_euclid(TAU) - TAU / 2.0;
        near + turn / TAU * rate / (b - a) as f64
    }

    #[test]
    fn the_sound_has_the_pitch_that_was_written() {
        for (cents, rate) in [(0.0, 48_000.0), (-23.0, 44_100.0), (31.0, 8_000.0)] {
            let sung = performance(cents, rate);
            // Within half a hertz of the truth, as the phase method needs it.
            let near = (196.0 * Cents(cents).ratio()).round();
            let hz = fundamental_hz(&sung.samples, rate, near);
            let error = Hertz(hz).cents_above(Hertz(196.0)).unwrap().0 - cents;
            assert!(error.abs() < 0.05, "{cents} cents at {rate} Hz: {error} cents off");
        }
    }

    #[test]
    fn level_is_as_asked_and_nothing_clips() {
        let sung = performance(0.0, 48_000.0);
        let power = sung.samples.iter().map(|x| f64::from(*x).powi(2)).sum::<f64>() / sung.samples.len() as f64;
        assert!((Decibels::of_amplitude(power.sqrt()).0 - -20.0).abs() < 0.1);
        assert!(sung.samples.iter().all(|x| x.abs() < 0.9));
    }

    #[test]
    fn the_same_singer_sings_the_same() {
        let phrase = Phrase::new()
            .sing(Sung::held(Swara::S, 0.0, 0.4).manner(Manner::Vibrato { width: 60.0, hz: 5.5 }))
            .rest(0.1);
        let singer = Singer { jitter: Cents(4.0), ..Singer::clear(Hertz(220.0)) };
        let rate = SampleRate::new(16_000.0).unwrap();
        assert_eq!(sing(&phrase, &singer, rate), sing(&phrase, &singer, rate));
    }
}
