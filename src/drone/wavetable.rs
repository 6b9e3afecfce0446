//! One period of a steady tone, stored once and read at any pitch, so that a reed or a reference tone is exactly in tune.
//!
//! In: the amplitudes of a tone's harmonics. Out: samples of that tone at a frequency, peak at most 1, for any rate.
//! Method: one period of 2048 points, read by linear interpolation with a double-precision phase that is wrapped every
//! sample: the frequency is exact and does not drift, unlike a recurrence. Harmonics above a share of the rate are left
//! out when the table is filled, so nothing folds back. Interpolation error for harmonic h is below (2 pi h / 2048)^2 / 8
//! of that harmonic (linear interpolation of a sine): -70 dB at h = 8, -46 dB of an already weak partial at h = 32.
//! Cost: filling one table with h harmonics takes 2048 h multiply-adds (about 2 microseconds a harmonic); reading, a few nanoseconds a sample.

use crate::units::num;
use std::f64::consts::TAU;

/// Points in one period.
const POINTS: usize = 2048;
/// The highest partial as a share of the sample rate; leaves room for a host's own filters below half the rate.
pub(super) const BAND: f64 = 0.45;

/// One period of a sine, shared by every table that is filled.
pub(super) struct Sine {
    points: Box<[f32]>,
}

impl Sine {
    /// Allocates.
    pub(super) fn new() -> Self {
        Self { points: (0..POINTS).map(|i| num::single((TAU * i as f64 / POINTS as f64).sin())).collect() }
    }
}

/// One period of a tone, peak 1.
#[derive(Clone)]
pub(super) struct Wavetable {
    points: Box<[f32]>,
}

impl Wavetable {
    /// A silent table. Allocates.
    pub(super) fn new() -> Self {
        Self { points: vec![0.0; POINTS + 1].into_boxed_slice() }
    }

    /// Fills the table with `harmonics` partials; partial h has `amplitude(h)` and Schroeder's phase
    /// pi h (h - 1) / `harmonics`, which keeps the crest low (Schroeder 1970); then scales the peak to 1. Never allocates.
    pub(super) fn fill(&mut self, sine: &Sine, harmonics: usize, amplitude: impl Fn(usize) -> f64) {
        self.points.fill(0.0);
        for h in 1..=harmonics {
            let (gain, order) = (num::single(amplitude(h)), h as f64);
            let turns = order * (order - 1.0) / (2.0 * harmonics as f64);
            let mut place = num::index(turns.fract() * POINTS as f64) % POINTS;
            for point in &mut self.points {
                *point += gain * sine.points.get(place).copied().unwrap_or(0.0);
                place = (place + h) % POINTS;
            }
        }
        let peak = self.points.iter().fold(0.0f32, |peak, x| peak.max(x.abs()));
        if peak > 0.0 {
            for point in &mut self.points {
                *point /= peak;
            }
        }
    }

    /// The tone at `phase` (turns, 0 to 1).
    #[inline]
    pub(super) fn at(&self, phase: f64) -> f32 {
        let place = phase * POINTS as f64;
        let below = num::floor_index(place);
        let share = num::single(place - below as f64);
        match self.points.get(below..below + 2) {
            Some([a, b]) => a + share * (b - a),
            _ => 0.0,
        }
    }
}

/// How many harmonics of `hz` fit below [`BAND`] of the rate, at most `most`.
pub(super) fn harmonics_that_fit(hz: f64, rate_hz: f64, most: usize) -> usize {
    num::floor_index((BAND * rate_hz / hz.max(1.0)).min(most as f64))
}

/// A phase that turns at an exact frequency.
#[derive(Clone, Copy, Default)]
pub(super) struct Turning {
    phase: f64,
    step: f64,
}

impl Turning {
    /// Starts at phase 0 with `hz` at `rate_hz`.
    pub(super) fn new(hz: f64, rate_hz: f64) -> Self {
        Self { phase: 0.0, step: (hz / rate_hz).clamp(0.0, 0.5) }
    }

    /// Goes on at another frequency, from the phase where it is.
    pub(super) fn turn_at(&mut self, hz: f64, rate_hz: f64) {
        self.step = (hz / rate_hz).clamp(0.0, 0.5);
    }

    /// The phase now, turns, and one sample on.
    #[inline]
    pub(super) fn next(&mut self) -> f64 {
        let now = self.phase;
        self.phase += self.step;
        if self.phase >= 1.0 {
            self.phase -= 1.0;
        }
        now
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_table_of_one_harmonic_is_a_sine() {
        let mut table = Wavetable::new();
        table.fill(&Sine::new(), 1, |_| 3.0);
        for i in 0..1000 {
            let phase = f64::from(i) / 1000.0;
            assert!((f64::from(table.at(phase)) - (TAU * phase).sin()).abs() < 5e-6, "phase {phase}");
        }
    }

    #[test]
    fn harmonics_stay_below_half_the_rate() {
        assert_eq!(harmonics_that_fit(100.0, 8_000.0, 40), 36);
        assert_eq!(harmonics_that_fit(1_000.0, 192_000.0, 40), 40);
        assert_eq!(harmonics_that_fit(5_000.0, 8_000.0, 40), 0);
    }
}
