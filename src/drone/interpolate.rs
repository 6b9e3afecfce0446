//! Raises the strings to a host rate of 88.2 kHz and more without changing their pitch or adding anything above.
//!
//! In: samples at the strings' own rate. Out: 1 to 4 samples for each of them. Method: windowed-sinc polyphase filter
//! (Crochiere and Rabiner 1983), 32 taps a phase, Blackman window, corner at 0.43 of the own rate (-6 dB); images more
//! than 70 dB down. Delay 16 own samples (0.4 ms). Cost: 32 multiply-adds a host sample; none at factor 1.

use crate::units::num;
use std::f64::consts::{PI, TAU};

/// Taps of each phase.
const TAPS: usize = 32;
/// Corner, share of the own rate.
const CORNER: f64 = 0.43;

/// A whole-number interpolator.
pub(super) struct Interpolator {
    phases: Vec<[f32; TAPS]>,
    history: [f32; TAPS],
    at: usize,
}

impl Interpolator {
    /// For `factor` outputs an input.
    pub(super) fn new(factor: usize) -> Self {
        let length = TAPS * factor;
        let tap = |i: usize| {
            let t = (i as f64 - 0.5 * (length - 1) as f64) / factor as f64;
            let x = 2.0 * CORNER * PI * t;
            let sinc = if x == 0.0 { 1.0 } else { x.sin() / x };
            let place = TAU * (i as f64 + 0.5) / length as f64;
            2.0 * CORNER * sinc * (0.42 - 0.5 * place.cos() + 0.08 * (2.0 * place).cos())
        };
        let phases = (0..factor).map(|phase| {
            let taps: [f64; TAPS] = std::array::from_fn(|k| tap(k * factor + phase));
            let sum: f64 = taps.iter().sum();
            taps.map(|tap| num::single(tap / sum))
        });
        Self { phases: phases.collect(), history: [0.0; TAPS], at: 0 }
    }

    /// Whether the next output needs a new input first.
    #[inline]
    pub(super) fn wants_input(&self) -> bool {
        self.at == 0
    }

    /// Takes one input.
    #[inline]
    pub(super) fn push(&mut self, sample: f32) {
        if self.phases.len() > 1 {
            self.history.copy_within(..TAPS - 1, 1);
        }
        if let Some(newest) = self.history.first_mut() {
            *newest = sample;
        }
    }

    /// The next output.
    #[inline]
    pub(super) fn pull(&mut self) -> f32 {
        if self.phases.len() == 1 {
            return self.history.first().copied().unwrap_or(0.0);
        }
        let taps = self.phases.get(self.at).unwrap_or(&[0.0; TAPS]);
        self.at = (self.at + 1) % self.phases.len();
        taps.iter().zip(&self.history).map(|(tap, x)| tap * x).sum()
    }

    /// Forgets what it holds.
    pub(super) fn reset(&mut self) {
        self.history = [0.0; TAPS];
        self.at = 0;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sine_comes_out_as_the_same_sine_at_four_times_the_rate() {
        let mut interpolator = Interpolator::new(4);
        let f = 0.11;
        let sine = |t: f64| (TAU * f * t).sin();
        let delay = 0.5 * (TAPS * 4 - 1) as f64 / 4.0;
        for n in 0..800 {
            interpolator.push(num::single(sine(f64::from(n))));
            for phase in 0..4 {
                let out = f64::from(interpolator.pull());
                let want = sine(f64::from(n) + f64::from(phase) / 4.0 - delay);
                assert!(n < 40 || (out - want).abs() < 1e-3, "sample {n}.{phase}: {out} {want}");
            }
        }
    }
}
