//! A Fourier transform and its inverse with all their memory, so that using them takes none.
//!
//! In and out: real samples and the half spectrum, unnormalised both ways (there and back multiplies by the length).

use realfft::num_complex::Complex;
use realfft::{ComplexToReal, RealFftPlanner, RealToComplex};
use std::sync::Arc;

pub(super) struct Transform {
    there: Arc<dyn RealToComplex<f32>>,
    back: Arc<dyn ComplexToReal<f32>>,
    samples: Vec<f32>,
    spectrum: Vec<Complex<f32>>,
    scratch: Vec<Complex<f32>>,
}

impl Transform {
    /// Of an even number of samples.
    pub(super) fn new(length: usize) -> Self {
        let mut planner = RealFftPlanner::new();
        let (there, back) = (planner.plan_fft_forward(length), planner.plan_fft_inverse(length));
        let scratch = there.get_scratch_len().max(back.get_scratch_len());
        Self {
            samples: there.make_input_vec(),
            spectrum: there.make_output_vec(),
            scratch: vec![Complex::new(0.0, 0.0); scratch],
            there,
            back,
        }
    }

    /// The spectrum of the samples; what is missing of them is 0.
    pub(super) fn forward(&mut self, samples: impl Iterator<Item = f32>) -> &[Complex<f32>] {
        for (to, from) in self.samples.iter_mut().zip(samples.chain(std::iter::repeat(0.0))) {
            *to = from;
        }
        // The lengths are the plan's own: it cannot fail, and if it did the spectrum would be silence.
        if self.there.process_with_scratch(&mut self.samples, &mut self.spectrum, &mut self.scratch).is_err() {
            self.spectrum.fill(Complex::new(0.0, 0.0));
        }
        &self.spectrum
    }

    /// The samples of a half spectrum; what is missing of it is 0.
    pub(super) fn inverse(&mut self, spectrum: impl Iterator<Item = Complex<f32>>) -> &[f32] {
        let nothing = Complex::new(0.0, 0.0);
        for (to, from) in self.spectrum.iter_mut().zip(spectrum.chain(std::iter::repeat(nothing))) {
            *to = from;
        }
        // The first and last value of a real signal's spectrum are real; the plan refuses anything else.
        for end in [0, self.spectrum.len().saturating_sub(1)] {
            if let Some(value) = self.spectrum.get_mut(end) {
                value.im = 0.0;
            }
        }
        if self.back.process_with_scratch(&mut self.spectrum, &mut self.samples, &mut self.scratch).is_err() {
            self.samples.fill(0.0);
        }
        &self.samples
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn there_and_back_is_the_length_times_the_same() {
        let mut transform = Transform::new(160);
        let samples: Vec<f32> = (0..160u16).map(|i| f32::from(i * 37 % 101) / 101.0).collect();
        let spectrum = transform.forward(samples.iter().copied()).to_vec();
        let again = transform.inverse(spectrum.into_iter());
        assert!(samples.iter().zip(again).all(|(a, b)| (160.0 * a - b).abs() < 1e-3));
    }
}
