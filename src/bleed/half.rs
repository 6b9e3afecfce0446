//! Halves the sample rate, and doubles it again, for what happens below 4 kHz.
//!
//! In: hops at 16 kHz, or taps at 8 kHz. Out: half as many values, or twice as many. Method: a half-band filter,
//! the sinc under a cosine-squared taper (Crochiere and Rabiner 1983, Multirate digital signal processing, section 4.1.2):
//! flat to 3.7 kHz within 0.1 dB, 45 dB down from 4.3 kHz. Delay of halving: 47 samples at 16 kHz. Cost: 48 products a value.

use crate::input::HOP;
use crate::units::num;

/// Taps on each side of a value between two samples.
pub(super) const SIDE: usize = 24;

/// Weights for the value half way between two neighbours, of `2 SIDE` values around it.
pub(super) fn between() -> [f32; 2 * SIDE] {
    let mut weights = [0.0; 2 * SIDE];
    let at = |k: usize| {
        let x = std::f64::consts::PI * (k as f64 - SIDE as f64 + 0.5);
        x.sin() / x * (x / (2.0 * SIDE as f64 + 1.0)).cos().powi(2)
    };
    let sum: f64 = (0..2 * SIDE).map(at).sum();
    for (k, weight) in weights.iter_mut().enumerate() {
        *weight = num::single(at(k) / sum);
    }
    weights
}

/// Takes every second sample of a sound that comes in hops.
pub(super) struct Half {
    weights: [f32; 2 * SIDE],
    /// The centre tap falls on the odd samples, the sides on the even ones.
    even: [f32; 2 * SIDE - 1 + OUT],
    odd: [f32; SIDE + OUT],
}

/// Values a hop.
pub(super) const OUT: usize = HOP / 2;

impl Half {
    pub(super) fn new() -> Self {
        Self { weights: between(), even: [0.0; 2 * SIDE - 1 + OUT], odd: [0.0; SIDE + OUT] }
    }

    pub(super) fn step(&mut self, hop: &[f32; HOP]) -> [f32; OUT] {
        self.even.copy_within(OUT.., 0);
        self.odd.copy_within(OUT.., 0);
        let newest = self.even.iter_mut().skip(2 * SIDE - 1).zip(self.odd.iter_mut().skip(SIDE));
        for ((even, odd), [first, second]) in newest.zip(hop.as_chunks::<2>().0) {
            *even = *first;
            *odd = *second;
        }
        let mut out = [0.0; OUT];
        for (from, weight) in self.even.windows(OUT).zip(&self.weights) {
            for (to, x) in out.iter_mut().zip(from) {
                *to += weight * x;
            }
        }
        for (to, centre) in out.iter_mut().zip(&self.odd) {
            *to = 0.5 * (*to + centre);
        }
        out
    }

    pub(super) fn reset(&mut self) {
        self.even.fill(0.0);
        self.odd.fill(0.0);
    }
}

/// Doubles the rate of a path's taps, the path's gain below 4 kHz unchanged: `wide` has twice the length of `taps`. A value
/// before the first tap cannot be, so where the path begins `at_once` the first [`SIDE`] taps are not spread over what lies
/// between: what they let through is the same below 4 kHz, and its mirror above, where nothing is asked of a path.
pub(super) fn double(taps: &[f32], weights: &[f32; 2 * SIDE], at_once: bool, wide: &mut [f32]) {
    let plain = if at_once { SIDE } else { 0 };
    let pairs = wide.as_chunks_mut::<2>().0;
    for (i, (pair, tap)) in pairs.iter_mut().zip(taps.iter().copied().chain(std::iter::repeat(0.0))).enumerate() {
        *pair = [if i < plain { tap } else { 0.5 * tap }, 0.0];
    }
    for (k, weight) in weights.iter().enumerate() {
        // The value after tap i weighs tap i + 1 + k - SIDE, where that is spread.
        let first = plain.max((k + 1).saturating_sub(SIDE));
        for ([_, value], tap) in pairs.iter_mut().skip(first + SIDE - 1 - k).zip(taps.iter().skip(first)) {
            *value += 0.5 * weight * tap;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::TAU;

    /// RMS after over RMS before, dB, of a tone.
    fn gain(hz: f64) -> f64 {
        let mut half = Half::new();
        let tone: Vec<f32> = (0..8000).map(|i| num::single((TAU * hz * f64::from(i) / 16_000.0).sin())).collect();
        let out: Vec<f32> = tone.as_chunks::<HOP>().0.iter().flat_map(|hop| half.step(hop)).collect();
        let power: f64 = out[1000..].iter().map(|x| f64::from(*x).powi(2)).sum::<f64>() / (out.len() - 1000) as f64;
        10.0 * (2.0 * power).log10()
    }

    #[test]
    fn below_4_khz_all_passes_and_above_nothing() {
        for hz in [100.0, 1000.0, 2500.0, 3300.0, 3700.0] {
            assert!(gain(hz).abs() < 0.1, "{hz} Hz: {} dB", gain(hz));
        }
        for hz in [4300.0, 5000.0, 6500.0, 7800.0] {
            assert!(gain(hz) < -45.0, "{hz} Hz: {} dB", gain(hz));
        }
    }

    #[test]
    fn a_doubled_path_has_the_same_gain() {
        // One tap, 200 samples at 8 kHz late: at 16 kHz a sinc of gain 1 below 4 kHz around tap 400.
        let mut taps = [0.0; 400];
        taps[200] = 1.0;
        let mut wide = [0.0; 800];
        double(&taps, &between(), false, &mut wide);
        for hz in [50.0, 1000.0, 3600.0] {
            let angle = TAU * hz / 16_000.0;
            let real: f64 =
                wide.iter().enumerate().map(|(k, h)| f64::from(*h) * (angle * (k as f64 - 400.0)).cos()).sum();
            assert!((real - 1.0).abs() < 0.02, "{hz} Hz: {real}");
        }
    }
}
