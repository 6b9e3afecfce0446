//! Steadiness beyond what a throat can do: hum and reeds, not voices.
//!
//! In: the voice at 16 kHz, the learned floor and the long spectra. Out: whether what sounds above the
//! floor has for a while kept its phases as only machines do, and how strong each bin was before that.
//! Method: the second difference of the phase of each spectral peak over three windows of 128 ms,
//! 60 ms apart: 1 - cos of it is 0 for a steady sine. Cost: one real FFT of 2048 every 20 ms.

use super::spectrum::{LONG, LONG_BINS, LONG_FFT, hann};
use crate::input::HOP;
use crate::units::num;
use realfft::num_complex::Complex;
use realfft::{RealFftPlanner, RealToComplex};
use std::sync::Arc;

/// Window and FFT, samples: 128 ms, so that lines 50 Hz apart do not mix.
pub(super) const WINDOW: usize = 2048;
/// Bins kept: up to 2 kHz, above which hum and reeds drown first.
const BINS: usize = WINDOW / 8 + 1;
/// Hops from one look to the next.
pub(super) const EVERY: usize = 4;
/// Looks from one phase to the next of a difference: 60 ms.
const APART: usize = 3;
/// Looks kept.
const KEPT: usize = 2 * APART + 1;
/// Mean of 1 - cos below which nothing sung sounds (chosen by data: hum and reeds 0.000 to 0.003,
/// held voices 0.1 to 0.6 at 9 of 10 looks, with their flutter of a few cents).
const STEADY: f32 = 0.03;
/// Looks that must agree: 240 ms.
const AGREE: u32 = 12;
/// Power below the strongest peak at which peaks are left out: 40 dB.
const WEAK: f32 = 1e-4;
/// Power of a line in this window against that in the long one: the windows' sums, squared.
const LINE: f32 = (WINDOW as f32 / LONG as f32) * (WINDOW as f32 / LONG as f32);
/// Hops by which the spectrum that is learned lies back: 150 ms, before any voice that is not yet seen.
const BACK: usize = 30;

pub(crate) struct Steady {
    samples: Vec<f32>,
    shape: Vec<f32>,
    fft: Arc<dyn RealToComplex<f32>>,
    input: Vec<f32>,
    output: Vec<Complex<f32>>,
    scratch: Vec<Complex<f32>>,
    looks: [Vec<Complex<f32>>; KEPT],
    /// Long spectra of the last `BACK` hops, in turn.
    past: Vec<f32>,
    hops: usize,
    agreed: u32,
}

impl Steady {
    pub(crate) fn new() -> Self {
        let fft = RealFftPlanner::new().plan_fft_forward(WINDOW);
        Self {
            samples: vec![0.0; WINDOW],
            shape: hann(WINDOW).map(num::single).collect(),
            input: fft.make_input_vec(),
            output: fft.make_output_vec(),
            scratch: fft.make_scratch_vec(),
            fft,
            looks: std::array::from_fn(|_| vec![Complex::new(0.0, 0.0); BINS]),
            past: vec![0.0; BACK * LONG_BINS],
            hops: 0,
            agreed: 0,
        }
    }

    /// One hop; true where all that sounds above `floor` is too steady for a voice.
    pub(crate) fn step(&mut self, hop: &[f32; HOP], floor: &[f32]) -> bool {
        self.samples.copy_within(HOP.., 0);
        if let Some(newest) = self.samples.get_mut(WINDOW - HOP..) {
            newest.copy_from_slice(hop);
        }
        self.hops += 1;
        if self.hops.is_multiple_of(EVERY) {
            self.look();
            let measure = self.turning(floor);
            let enough = self.hops * HOP > WINDOW + 2 * APART * EVERY * HOP;
            self.agreed = if enough && measure < STEADY { self.agreed.saturating_add(1) } else { 0 };
        }
        self.agreed()
    }

    /// What the last [`Steady::step`] said.
    pub(crate) fn agreed(&self) -> bool {
        self.agreed >= AGREE
    }

    /// The power spectrum up to 2 kHz, in the hops in which there is a new one.
    pub(crate) fn looked(&self) -> Option<impl Iterator<Item = f32>> {
        let [newest, ..] = &self.looks;
        self.hops.is_multiple_of(EVERY).then(|| newest.iter().map(Complex::norm_sqr))
    }

    /// The long spectrum of 150 ms ago.
    pub(crate) fn earlier(&self) -> &[f32] {
        let start = self.hops % BACK * LONG_BINS;
        self.past.get(start..start + LONG_BINS).unwrap_or(&[])
    }

    /// Keeps the newest long spectrum.
    pub(crate) fn keep(&mut self, newest: &[f32]) {
        let start = self.hops % BACK * LONG_BINS;
        if let Some(place) = self.past.get_mut(start..start + LONG_BINS) {
            place.copy_from_slice(newest);
        }
    }

    fn look(&mut self) {
        for ((to, from), w) in self.input.iter_mut().zip(&self.samples).zip(&self.shape) {
            *to = from * w;
        }
        if self.fft.process_with_scratch(&mut self.input, &mut self.output, &mut self.scratch).is_err() {
            self.output.fill(Complex::new(0.0, 0.0));
        }
        self.looks.rotate_right(1);
        let [newest, ..] = &mut self.looks;
        for (to, from) in newest.iter_mut().zip(&self.output) {
            *to = *from;
        }
    }

    /// Mean of 1 - cos of the second phase difference over the peaks above the floor.
    fn turning(&self, floor: &[f32]) -> f32 {
        let [newest, .., oldest] = &self.looks;
        let middle = self.looks.get(APART).unwrap_or(oldest);
        let strongest = middle.iter().map(Complex::norm_sqr).fold(0.0, f32::max);
        let (mut turned, mut peaks) = (0.0, 0.0);
        for (at, triple) in middle.windows(3).enumerate() {
            let [left, here, right] = triple else { continue };
            let power = here.norm_sqr();
            let known = floor.get((at + 1) * LONG_FFT / WINDOW).copied().unwrap_or(0.0);
            if power <= left.norm_sqr() || power < right.norm_sqr() || power < WEAK * strongest || power < LINE * known
            {
                continue;
            }
            let (Some(before), Some(after)) = (oldest.get(at + 1), newest.get(at + 1)) else { continue };
            // The phase of after * before / here^2 is the second difference.
            let second = after * before * (here * here).conj();
            let size = second.norm();
            turned += if size > 0.0 { 1.0 - second.re / size } else { 1.0 };
            peaks += 1.0;
        }
        if peaks > 0.0 { turned / peaks } else { 1.0 }
    }

    pub(crate) fn reset(&mut self) {
        self.samples.fill(0.0);
        self.past.fill(0.0);
        for look in &mut self.looks {
            look.fill(Complex::new(0.0, 0.0));
        }
        self.hops = 0;
        self.agreed = 0;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::input::ANALYSIS_RATE_HZ;
    use std::f64::consts::TAU;

    /// Share of the hops after the first half second that are called too steady; `cents` of flutter at 4 Hz.
    fn steady(hz: f64, cents: f64) -> f64 {
        let mut steady = Steady::new();
        let (mut phase, mut called) = (0.0, 0);
        for hop in 0..600 {
            let mut samples = [0.0; HOP];
            for (i, x) in samples.iter_mut().enumerate() {
                let t = (hop * HOP + i) as f64 / ANALYSIS_RATE_HZ;
                phase += TAU * hz * (cents * (TAU * 4.0 * t).sin() / 1200.0).exp2() / ANALYSIS_RATE_HZ;
                *x = num::single((1..20).map(|k| 0.1 / f64::from(k) * (phase * f64::from(k)).sin()).sum());
            }
            if steady.step(&samples, &[]) && hop >= 100 {
                called += 1;
            }
        }
        f64::from(called) / 500.0
    }

    #[test]
    fn machines_are_steady_and_throats_are_not() {
        for hz in [50.0, 60.0, 147.0, 220.0] {
            assert!(steady(hz, 0.0) > 0.98, "{hz} Hz");
            // A flutter of 2 cents is less than any of the voices measured.
            assert!(steady(hz, 2.0) < 1e-9, "{hz} Hz, with flutter");
        }
    }
}
