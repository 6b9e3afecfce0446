//! Whether the harmonics of an f0 keep the phases of a machine, although they are too unsteady for one from look to look.
//!
//! In: spectra, look by look, and an f0. Out: how well the phases of its harmonics are kept, 0 to 1. Method: that of
//! [`lines`](super::lines) with half a second from one phase to the other. What a codec does to a steady tone is forgotten
//! from one frame of it to the next: the phase strays by as much over half a second as over a tenth, and comes back. A
//! throat's phase does not come back: over half a second at 1 kHz one cent is a third of a turn. Measured on sung clips
//! (means over a second): voices 0.2 to 0.6, at most 0.76 in 20 s of a Sa that wavers by less than 2 cents; reeds through a
//! codec of 24 kbit/s 0.75 to 1, their median 0.9. Plucked strings start anew too often. Cost: some operations a bin and look.

use super::lines::{BIN_HZ, BINS};
use crate::units::num;
use realfft::num_complex::Complex;

/// Looks from one phase to the other: 480 ms.
pub(super) const FAR: usize = 12;
/// Share of a new look in the mean: a second of them.
const NEW: f32 = 0.04;
/// From here up a throat's flutter is seen, Hz.
const FROM_HZ: f64 = 350.0;
/// Power below the strongest at which a harmonic says nothing: 30 dB.
const WEAK: f32 = 1e-3;
/// Fewer harmonics say nothing, and more than so many add nothing.
const LEAST: usize = 3;
const MOST: u32 = 24;
/// A turn whose square would underflow counts as silence.
const SILENT: f32 = 1e-18;

pub(super) struct Phases {
    /// Mean turn as unit phasors, per bin.
    mean: Vec<Complex<f32>>,
    seen: u32,
}

impl Phases {
    pub(super) fn new() -> Self {
        Self { mean: vec![Complex::new(0.0, 0.0); BINS], seen: 0 }
    }

    /// Takes the newest look and the one [`FAR`] before it.
    pub(super) fn step(&mut self, newest: &[Complex<f32>], far: &[Complex<f32>]) {
        self.seen = self.seen.saturating_add(1);
        let share = NEW.max(1.0 / self.seen as f32);
        for ((mean, new), old) in self.mean.iter_mut().zip(newest).zip(far) {
            let turn = new * old.conj();
            *mean += (turn / (turn.norm_sqr().sqrt() + SILENT) - *mean) * share;
        }
    }

    /// How well the harmonics of `f0`, Hz, keep their phases; `power` per bin. `None` where too few are loud enough.
    pub(super) fn kept(&self, f0: f64, power: &[f32], strongest: f32) -> Option<f32> {
        if self.seen < (1.0 / NEW) as u32 {
            return None;
        }
        let (mut sum, mut count) = (0.0, 0);
        for hz in (1..=MOST).map(|k| f0 * f64::from(k)).filter(|hz| *hz > FROM_HZ) {
            let bin = num::index((hz / BIN_HZ).round());
            let around = power.get(bin.saturating_sub(1)..(bin + 2).min(BINS)).unwrap_or(&[]);
            let loudest = around.iter().zip(&self.mean[bin.saturating_sub(1).min(BINS)..]).max_by(|a, b| a.0.total_cmp(b.0));
            if let Some((_, mean)) = loudest.filter(|(power, _)| **power > WEAK * strongest) {
                sum += mean.norm_sqr().sqrt();
                count += 1;
            }
        }
        (count >= LEAST).then(|| sum / count as f32)
    }

    pub(super) fn reset(&mut self) {
        self.mean.fill(Complex::new(0.0, 0.0));
        self.seen = 0;
    }
}
