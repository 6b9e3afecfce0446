//! Which pitches a voice stayed on, how long, and where its phrases ended.
//!
//! In: f0 frames, one each 5 ms. Out: a histogram of held pitch in 5-cent bins over five octaves, one
//! more for phrase ends, folded and smoothed on demand. Method: a frame counts when the frames 100 ms
//! around it stay within 40 cents, from 0.2 s on; a held stretch that a rest follows is a
//! phrase end. Cost: 21 comparisons a frame; memory is fixed. Does not handle several voices.

use crate::pitch::F0Frame;
use crate::units::num;

/// Frames around a frame that must agree: 105 ms.
const AROUND: usize = 21;
/// How far they may lie apart, cents: over a voice's flutter, under a slow kampita.
const SPREAD_CENTS: f64 = 40.0;
/// A stretch counts from so many frames on: 100 ms after its window filled, so 0.2 s in all.
const LEAST_RUN: u32 = 20;
/// A rest is so many frames without a voice: 0.25 s.
const REST: u32 = 50;
/// The histogram's lowest pitch, Hz.
const BASE_HZ: f64 = 55.0;
/// Width of a bin, cents.
pub const BIN_CENTS: f64 = 5.0;
/// Bins in an octave.
pub const OCTAVE: usize = 240;
/// Bins in all: five octaves.
const BINS: usize = 5 * OCTAVE;
/// Standard deviation of the smoothing, bins: 10 cents, the precision of held notes (Viraraghavan and
/// others, ISMIR 2018).
const SMOOTH_BINS: f64 = 2.0;

/// Gathers held pitches.
pub struct Held {
    recent: [f64; AROUND],
    filled: usize,
    at: usize,
    run: u32,
    run_bin: usize,
    silent: u32,
    total: f64,
    held: Vec<f64>,
    ending: Vec<f64>,
}

impl Default for Held {
    fn default() -> Self {
        Self::new()
    }
}

impl Held {
    /// All memory is taken here.
    #[must_use]
    pub fn new() -> Self {
        Self {
            recent: [0.0; AROUND],
            filled: 0,
            at: 0,
            run: 0,
            run_bin: 0,
            silent: 0,
            total: 0.0,
            held: vec![0.0; BINS],
            ending: vec![0.0; OCTAVE],
        }
    }

    /// Back to the state of [`Held::new`].
    pub fn reset(&mut self) {
        (self.filled, self.at, self.run, self.run_bin, self.silent) = (0, 0, 0, 0, 0);
        self.total = 0.0;
        self.held.fill(0.0);
        self.ending.fill(0.0);
    }

    /// Takes a frame in.
    pub fn push(&mut self, frame: &F0Frame) {
        let hz = frame.f0.filter(|f0| frame.voiced && f0.0.is_finite() && f0.0 > BASE_HZ);
        let Some(hz) = hz else {
            self.filled = 0;
            self.silent = self.silent.saturating_add(1);
            if self.silent == REST {
                self.end_phrase();
            }
            return;
        };
        self.silent = 0;
        if let Some(slot) = self.recent.get_mut(self.at) {
            *slot = 1200.0 * (hz.0 / BASE_HZ).log2();
        }
        self.at = (self.at + 1) % AROUND;
        self.filled = (self.filled + 1).min(AROUND);
        if self.filled < AROUND {
            self.run = 0;
            return;
        }
        let low = self.recent.iter().copied().fold(f64::INFINITY, f64::min);
        let high = self.recent.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        if high - low > SPREAD_CENTS {
            self.run = 0;
            return;
        }
        self.run = self.run.saturating_add(1);
        let mean = self.recent.iter().sum::<f64>() / AROUND as f64;
        self.run_bin = num::index(mean / BIN_CENTS);
        if self.run >= LEAST_RUN
            && let Some(slot) = self.held.get_mut(self.run_bin)
        {
            *slot += 1.0;
            self.total += 1.0;
        }
    }

    /// Counts the stretch that the voice stopped on, by its length.
    pub fn end_phrase(&mut self) {
        if self.run >= LEAST_RUN
            && let Some(slot) = self.ending.get_mut(self.run_bin % OCTAVE)
        {
            *slot += f64::from(self.run);
        }
        self.run = 0;
    }

    /// Seconds held in all.
    #[must_use]
    pub fn seconds(&self) -> f64 {
        self.total * 0.005
    }

    /// Held time and phrase ends by pitch class, both as shares of all held time, smoothed; bin 0 at 55 Hz.
    #[must_use]
    pub fn profiles(&self) -> Profiles {
        let mut profiles = Profiles { held: [0.0; OCTAVE], ending: [0.0; OCTAVE] };
        let mut folded = [0.0; OCTAVE];
        for (bin, value) in self.held.iter().enumerate() {
            if let Some(slot) = folded.get_mut(bin % OCTAVE) {
                *slot += value / self.total.max(1.0);
            }
        }
        smooth(&folded, &mut profiles.held);
        for (slot, value) in folded.iter_mut().zip(&self.ending) {
            *slot = value / self.total.max(1.0);
        }
        smooth(&folded, &mut profiles.ending);
        profiles
    }

    /// The middle, on a cents scale, between the pitches that 3 % and 97 % of the held time lie below, Hz;
    /// `None` when nothing was held.
    #[must_use]
    pub fn middle_hz(&self) -> Option<f64> {
        let bin = |share: f64| {
            let mut sum = 0.0;
            self.held.iter().position(|value| {
                sum += value;
                *value > 0.0 && sum >= share * self.total
            })
        };
        let middle = (bin(0.03)? + bin(0.97)?) as f64 / 2.0;
        Some(BASE_HZ * (middle * BIN_CENTS / 1200.0).exp2())
    }
}

/// Shares by pitch class, 5 cents a bin.
#[derive(Debug, Clone, Copy)]
pub struct Profiles {
    held: [f64; OCTAVE],
    ending: [f64; OCTAVE],
}

impl Profiles {
    /// A value within `half` bins of `bin`, summed around the circle.
    fn around(profile: &[f64; OCTAVE], bin: usize, half: usize) -> f64 {
        (0..=2 * half).map(|i| profile.get((bin + OCTAVE + i - half) % OCTAVE).copied().unwrap_or(0.0)).sum()
    }

    /// The share of held time within 30 cents of a class (`bin`).
    #[must_use]
    pub fn held_at(&self, bin: usize) -> f64 {
        Self::around(&self.held, bin, 6)
    }

    /// The share of held time that phrases ended on, within 30 cents of a class.
    #[must_use]
    pub fn ending_at(&self, bin: usize) -> f64 {
        Self::around(&self.ending, bin, 6)
    }

    /// The class's bins that are peaks of the held profile (no higher one within 40 cents).
    pub fn peaks(&self) -> impl Iterator<Item = usize> + '_ {
        (0..OCTAVE).filter(|&bin| {
            let here = self.held[bin];
            here > 0.0
                && (1..=8).all(|apart| {
                    let above = self.held[(bin + apart) % OCTAVE];
                    let below = self.held[(bin + OCTAVE - apart) % OCTAVE];
                    above <= here && below < here
                })
        })
    }

    /// The centre of a peak, Hz in the octave from 55 Hz: the mean within 20 cents, by share.
    #[must_use]
    pub fn centre_hz(&self, bin: usize) -> f64 {
        let (mut sum, mut moment) = (0.0, 0.0);
        for i in 0..=8usize {
            let share = self.held.get((bin + OCTAVE + i - 4) % OCTAVE).copied().unwrap_or(0.0);
            sum += share;
            moment += share * (i as f64 - 4.0);
        }
        let shift = if sum > 0.0 { moment / sum } else { 0.0 };
        BASE_HZ * ((bin as f64 + shift) * BIN_CENTS / 1200.0).exp2()
    }
}

/// The bin of a frequency's pitch class.
#[must_use]
pub fn class_bin(hz: f64) -> usize {
    let octaves = (hz / BASE_HZ).log2();
    num::index((octaves - octaves.floor()) * OCTAVE as f64) % OCTAVE
}

/// Smooths around the circle with a Gaussian.
fn smooth(from: &[f64; OCTAVE], to: &mut [f64; OCTAVE]) {
    const HALF: usize = 6;
    let mut kernel = [0.0; 2 * HALF + 1];
    for (i, value) in kernel.iter_mut().enumerate() {
        *value = (-0.5 * ((i as f64 - HALF as f64) / SMOOTH_BINS).powi(2)).exp();
    }
    let sum: f64 = kernel.iter().sum();
    for (bin, slot) in to.iter_mut().enumerate() {
        *slot = kernel.iter().enumerate().map(|(i, k)| k / sum * from[(bin + OCTAVE + i - HALF) % OCTAVE]).sum();
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tonic::test_sound::frame;

    #[test]
    fn a_hold_counts_a_slide_does_not() {
        let mut held = Held::new();
        for _ in 0..200 {
            held.push(&frame(Some(220.0)));
        }
        for i in 0..200 {
            held.push(&frame(Some(220.0 * (f64::from(i) / 200.0).exp2())));
        }
        for _ in 0..REST {
            held.push(&frame(None));
        }
        // 1 s less 40 frames until a stretch counts, and 40 of the slide's cents (6 a frame): 161 + 7 frames.
        assert!((held.seconds() - 0.84).abs() < 0.011, "{}", held.seconds());
        let profiles = held.profiles();
        let peak = profiles.peaks().next().unwrap();
        assert!(profiles.held_at(peak) > 0.98);
        assert!(profiles.ending_at(peak) < 1e-9);
        let apart = crate::tonic::roots::folded_cents(profiles.centre_hz(peak) / 220.0);
        assert!(apart.abs() < 1.0, "{apart}");
        held.reset();
        assert_eq!(held.middle_hz(), None);
    }

    #[test]
    fn a_phrase_ends_where_a_rest_follows() {
        let mut held = Held::new();
        for _ in 0..100 {
            held.push(&frame(Some(165.0)));
        }
        for _ in 0..REST {
            held.push(&frame(None));
        }
        assert!(held.profiles().ending_at(class_bin(165.0)) > 0.98);
        for hz in [f64::NAN, f64::INFINITY, 0.0, -1.0] {
            held.push(&frame(Some(hz)));
        }
        assert!(held.middle_hz().is_some_and(|hz| (1200.0 * (hz / 165.0).log2()).abs() < 3.0));
    }
}
