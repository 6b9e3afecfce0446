//! How the phase of each bin turns from one spectrum to another, on the average of late.

use super::lines::BINS;
use realfft::num_complex::Complex;

/// A turn whose square would underflow counts as silence.
const SILENT: f32 = 1e-18;

/// The running mean of the turns as unit phasors, per bin: it knows no loudness; its length tells how far the frequency
/// strays, its angle the frequency itself.
pub(super) struct Turns {
    mean: Vec<Complex<f32>>,
    /// Share of a new turn in the mean.
    new: f32,
    seen: u32,
}

impl Turns {
    pub(super) fn new(new: f32) -> Self {
        Self { mean: vec![Complex::new(0.0, 0.0); BINS], new, seen: 0 }
    }

    /// Takes a spectrum and the earlier one; the first turns are a plain mean.
    pub(super) fn step(&mut self, newest: &[Complex<f32>], earlier: &[Complex<f32>]) {
        self.seen = self.seen.saturating_add(1);
        let share = self.new.max(1.0 / self.seen as f32);
        for ((mean, new), old) in self.mean.iter_mut().zip(newest).zip(earlier) {
            let turn = new * old.conj();
            *mean += (turn / (turn.norm_sqr().sqrt() + SILENT) - *mean) * share;
        }
    }

    /// The mean, per bin.
    pub(super) fn mean(&self) -> &[Complex<f32>] {
        &self.mean
    }

    /// Turns so far.
    pub(super) fn seen(&self) -> u32 {
        self.seen
    }

    pub(super) fn reset(&mut self) {
        self.mean.fill(Complex::new(0.0, 0.0));
        self.seen = 0;
    }
}
