//! Plays the drone through what was learned of its way to the microphone, without delay.
//!
//! In: hops of 80 samples of the drone as sent, at 16 kHz, and the taps of the path. Out: hops of the drone as
//! the microphone should hear it, the same hop. Method: overlap-save convolution in equal partitions of one hop
//! (Kulp 1988; Wefers 2015, Partitioned convolution algorithms for real-time auralization, section 5.2). Cost: two
//! real FFTs of 160 and 81 complex products a partition and hop.

use super::transform::Transform;
use crate::input::HOP;
use realfft::num_complex::Complex;

/// Transform of two hops.
const FFT: usize = 2 * HOP;
const BINS: usize = HOP + 1;

pub(super) struct Filter {
    transform: Transform,
    /// Spectra of the newest drone blocks, newest first in a ring, real and imaginary parts apart.
    past: Vec<[[f32; BINS]; 2]>,
    newest: usize,
    /// Hops by which the path begins late.
    late: usize,
    /// Spectra of the path's partitions.
    path: Vec<[[f32; BINS]; 2]>,
    before: [f32; HOP],
}

/// The parts of a complex spectrum, scaled.
fn apart(spectrum: &[Complex<f32>], scale: f32) -> [[f32; BINS]; 2] {
    let mut parts = [[0.0; BINS]; 2];
    let [re, im] = &mut parts;
    for ((re, im), value) in re.iter_mut().zip(im.iter_mut()).zip(spectrum) {
        *re = scale * value.re;
        *im = scale * value.im;
    }
    parts
}

impl Filter {
    /// For a path of `partitions` hops that begins up to `latest` hops late.
    pub(super) fn new(partitions: usize, latest: usize) -> Self {
        Self {
            transform: Transform::new(FFT),
            past: vec![[[0.0; BINS]; 2]; partitions + latest],
            newest: 0,
            late: 0,
            path: vec![[[0.0; BINS]; 2]; partitions],
            before: [0.0; HOP],
        }
    }

    /// Takes a new path, tap by tap, that begins `late` hops late; what is missing is 0.
    pub(super) fn set(&mut self, taps: &[f32], late: usize) {
        self.late = late;
        let mut parts = taps.chunks(HOP);
        for partition in &mut self.path {
            let part = parts.next().unwrap_or(&[]);
            *partition = apart(self.transform.forward(part.iter().copied()), 1.0 / FFT as f32);
        }
    }

    /// One hop of the drone as sent; gives it as heard.
    pub(super) fn step(&mut self, sent: &[f32; HOP]) -> [f32; HOP] {
        let both = self.before.iter().chain(sent).copied();
        let block = apart(self.transform.forward(both), 1.0);
        self.before = *sent;
        self.newest = self.newest.checked_sub(1).unwrap_or(self.past.len().saturating_sub(1));
        if let Some(place) = self.past.get_mut(self.newest) {
            *place = block;
        }
        let (mut re, mut im) = ([0.0f32; BINS], [0.0f32; BINS]);
        let (later, sooner) = self.past.split_at(self.newest);
        for ([x_re, x_im], [h_re, h_im]) in sooner.iter().chain(later).skip(self.late).zip(&self.path) {
            for k in 0..BINS {
                re[k] += x_re[k] * h_re[k] - x_im[k] * h_im[k];
                im[k] += x_re[k] * h_im[k] + x_im[k] * h_re[k];
            }
        }
        let heard = self.transform.inverse(re.iter().zip(&im).map(|(re, im)| Complex::new(*re, *im)));
        let mut out = [0.0; HOP];
        for (to, from) in out.iter_mut().zip(heard.iter().skip(HOP)) {
            *to = *from;
        }
        out
    }

    pub(super) fn reset(&mut self) {
        for part in self.past.iter_mut().chain(&mut self.path) {
            *part = [[0.0; BINS]; 2];
        }
        self.newest = 0;
        self.late = 0;
        self.before = [0.0; HOP];
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn it_is_the_plain_convolution_as_late_as_the_path_and_no_later() {
        let mut state = 1u32;
        let mut random = || {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            (state >> 16) as f32 / 32_768.0 - 1.0
        };
        let sound: Vec<f32> = (0..20 * HOP).map(|_| random()).collect();
        let taps: Vec<f32> = (0..5 * HOP - 7).map(|_| 0.1 * random()).collect();
        for late in [0, 3] {
            let mut filter = Filter::new(5, 3);
            filter.set(&taps, late);
            for (n, hop) in sound.as_chunks::<HOP>().0.iter().enumerate() {
                for (i, got) in filter.step(hop).iter().enumerate() {
                    let at = n * HOP + i;
                    let heard = taps.iter().zip((0..=at).rev().skip(late * HOP));
                    let slow: f32 = heard.map(|(h, from)| h * sound[from]).sum();
                    assert!((got - slow).abs() < 1e-4, "{at}: {got} {slow}");
                }
            }
        }
    }
}
