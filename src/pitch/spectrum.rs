//! How strong each frequency is, through windows of several lengths around one instant.
//!
//! In: the voice at 16 kHz, hop by hop. Out: power spectra up to 4 kHz of three concentric Hann
//! windows (38.6, 21 and 12 ms), and of a fourth (27.5 ms) for the second value; powers are those of
//! the windowed signal, unnormalised. Cost: four real FFTs a hop.

use crate::input::HOP;
use realfft::num_complex::Complex;
use realfft::{RealFftPlanner, RealToComplex};
use std::sync::Arc;

/// Length of the long window, samples at 16 kHz: two periods of 52 Hz (Boersma 1993 asks for three of
/// the lowest; two are enough where a path is followed).
pub(crate) const LONG: usize = 618;
/// FFT length for the long window: its half plus the longest lag must not wrap.
pub(crate) const LONG_FFT: usize = 1024;
/// The middle window: three periods of 143 Hz.
pub(crate) const MIDDLE: usize = 336;
pub(crate) const MIDDLE_FFT: usize = 512;
/// The short window: three periods of 250 Hz.
pub(crate) const SHORT: usize = 192;
pub(crate) const SHORT_FFT: usize = 256;
/// Window of the second value.
pub(crate) const SECOND: usize = 440;
/// The last bin of the long spectrum that counts: 4 kHz.
pub(crate) const LONG_BINS: usize = LONG_FFT / 4 + 1;
/// Samples kept.
const KEPT: usize = LONG + HOP;

/// Power spectra around one instant; bin k of a spectrum of FFT length n lies at 16 kHz k / n.
pub(crate) struct Spectra {
    /// Long window, 15.625 Hz a bin.
    pub(crate) long: Vec<f32>,
    /// Middle window, 31.25 Hz a bin.
    pub(crate) middle: Vec<f32>,
    /// Short window, 62.5 Hz a bin.
    pub(crate) short: Vec<f32>,
    /// Second window, 15.625 Hz a bin.
    pub(crate) second: Vec<f32>,
    /// Mean square of the samples under the long window.
    pub(crate) power: f64,
    /// How far the middle of the windowed sound's power lies behind the middle of the long window, in hops.
    pub(crate) lean: f64,
}

/// One window with its transform.
struct Window {
    shape: Vec<f32>,
    fft: Arc<dyn RealToComplex<f32>>,
    input: Vec<f32>,
    output: Vec<Complex<f32>>,
    scratch: Vec<Complex<f32>>,
}

/// Keeps the newest samples and looks at them through all windows.
pub(crate) struct Analyser {
    kept: Vec<f32>,
    windows: [Window; 4],
    spectra: Spectra,
}

/// Hann window of `n` samples.
pub(crate) fn hann(n: usize) -> impl Iterator<Item = f64> {
    (0..n).map(move |i| 0.5 - 0.5 * (std::f64::consts::TAU * (i as f64 + 0.5) / n as f64).cos())
}

impl Window {
    fn new(length: usize, fft_length: usize, planner: &mut RealFftPlanner<f32>) -> Self {
        let fft = planner.plan_fft_forward(fft_length);
        Self {
            shape: hann(length).map(crate::units::num::single).collect(),
            input: fft.make_input_vec(),
            output: fft.make_output_vec(),
            scratch: fft.make_scratch_vec(),
            fft,
        }
    }

    /// Power spectrum of the middle of `samples`.
    fn look(&mut self, samples: &[f32], power: &mut [f32]) {
        let start = samples.len().saturating_sub(self.shape.len()) / 2;
        let part = samples.get(start..).unwrap_or(&[]);
        self.input.fill(0.0);
        for ((to, from), w) in self.input.iter_mut().zip(part).zip(&self.shape) {
            *to = from * w;
        }
        // The lengths are the plan's own: it cannot fail, and if it did the spectrum would be silence.
        if self.fft.process_with_scratch(&mut self.input, &mut self.output, &mut self.scratch).is_err() {
            self.output.fill(Complex::new(0.0, 0.0));
        }
        for (to, from) in power.iter_mut().zip(&self.output) {
            *to = from.norm_sqr();
        }
    }
}

/// Mean square, summed in eight lanes.
fn power(samples: &[f32]) -> f64 {
    let (parts, rest) = samples.as_chunks::<8>();
    let mut sums = [0.0f32; 8];
    for part in parts {
        for (sum, x) in sums.iter_mut().zip(part) {
            *sum += x * x;
        }
    }
    f64::from(sums.iter().sum::<f32>() + rest.iter().map(|x| x * x).sum::<f32>()) / samples.len().max(1) as f64
}

/// The middle of the windowed sound's power, against the window's own middle, in hops.
fn lean(samples: &[f32], shape: &[f32]) -> f64 {
    let (mut sum, mut moment, mut at) = (0.0f32, 0.0f32, 0.0f32);
    for (x, w) in samples.iter().zip(shape) {
        let p = (x * w).powi(2);
        sum += p;
        moment += at * p;
        at += 1.0;
    }
    if sum > 0.0 { (f64::from(moment / sum) - 0.5 * (LONG as f64 - 1.0)) / HOP as f64 } else { 0.0 }
}

impl Analyser {
    pub(crate) fn new() -> Self {
        let mut planner = RealFftPlanner::new();
        Self {
            kept: vec![0.0; KEPT],
            windows: [
                Window::new(LONG, LONG_FFT, &mut planner),
                Window::new(MIDDLE, MIDDLE_FFT, &mut planner),
                Window::new(SHORT, SHORT_FFT, &mut planner),
                Window::new(SECOND, LONG_FFT, &mut planner),
            ],
            spectra: Spectra {
                long: vec![0.0; LONG_BINS],
                middle: vec![0.0; MIDDLE_FFT / 4 + 1],
                short: vec![0.0; SHORT_FFT / 4 + 1],
                second: vec![0.0; LONG_BINS],
                power: 0.0,
                lean: 0.0,
            },
        }
    }

    /// Takes in a hop and looks at the newest long window.
    pub(crate) fn push(&mut self, hop: &[f32; HOP]) {
        self.kept.copy_within(HOP.., 0);
        if let Some(tail) = self.kept.get_mut(KEPT - HOP..) {
            tail.copy_from_slice(hop);
        }
        let seen = self.kept.get(HOP..).unwrap_or(&[]);
        self.spectra.power = power(seen);
        self.spectra.lean = self.windows.first().map_or(0.0, |long| lean(seen, &long.shape));
        let Spectra { long, middle, short, second, .. } = &mut self.spectra;
        for (window, power) in self.windows.iter_mut().zip([long, middle, short, second]) {
            window.look(seen, power);
        }
    }

    pub(crate) fn spectra(&self) -> &Spectra {
        &self.spectra
    }

    pub(crate) fn reset(&mut self) {
        self.kept.fill(0.0);
    }
}
