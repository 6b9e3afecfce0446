//! The exact pitch near the path: the top of the correlation's peak.
//!
//! In: a rough f0 and the spectra. Out: f0 in Hz. Two values: the top of the long window's
//! autocorrelation, exact for a steady voice; and that of a compressed spectrum (power to the 3/8,
//! after Tolonen and Karjalainen 2000), coarser but unbent by formants that move. Where they differ the
//! second is believed. The autocorrelation is the cosine sum of the power spectrum (Wiener 1930), so its
//! value and slopes at any lag are summed directly and the top is found by Newton's method: no
//! interpolation error. Cost: about ten sums of 257 terms a hop.

use super::spectrum::{LONG, LONG_BINS, LONG_FFT, SECOND, Spectra};
use crate::input::ANALYSIS_RATE_HZ;
use crate::units::{Cents, Hertz, num};
use std::f64::consts::TAU;

/// Distance of the points at which the top is sought, as a share of the lag: 20 cents.
const STEP: f64 = 0.011_619_44;
/// Points sought each way.
const REACH: i32 = 2;
/// Newton steps after the parabola.
const NEWTON: usize = 2;
/// Difference of the two values from which the second gains weight, and at which it has all, cents.
const DIFFER: (f64, f64) = (10.0, 20.0);
/// Above this f0 the compressed spectrum has too few harmonics: differences count a fifth.
const FEW_HARMONICS_HZ: f64 = 444.0;
/// Numbers summed side by side.
const LANES: usize = 8;

pub(crate) struct Fine {
    first: Vec<f32>,
    second: Vec<f32>,
}

impl Fine {
    pub(crate) fn new() -> Self {
        let length = LONG_BINS.next_multiple_of(LANES);
        Self { first: vec![0.0; length], second: vec![0.0; length] }
    }

    pub(crate) fn near(&mut self, hz: f64, spectra: &Spectra, gains: &[f32]) -> Option<Hertz> {
        for ((to, power), gain) in self.first.iter_mut().zip(&spectra.long).zip(gains) {
            *to = power * gain;
        }
        let first = top(&self.first, LONG, hz)?;
        for ((to, power), gain) in self.second.iter_mut().zip(&spectra.second).zip(gains) {
            // x^(1/4) x^(1/8)
            let quarter = (power * gain).sqrt().sqrt();
            *to = quarter * quarter.sqrt();
        }
        let Some(second) = top(&self.second, SECOND, hz) else { return Some(first) };
        let apart = second.cents_above(first)?.0;
        let stretch = if hz > FEW_HARMONICS_HZ { 5.0 } else { 1.0 };
        let weight = ((apart.abs() / stretch - DIFFER.0) / (DIFFER.1 - DIFFER.0)).clamp(0.0, 1.0);
        Some(first.up(Cents(weight * apart)))
    }
}

/// The highest point of the normalised correlation within reach of `hz`.
fn top(power: &[f32], window: usize, hz: f64) -> Option<Hertz> {
    let centre = TAU * ANALYSIS_RATE_HZ / hz / LONG_FFT as f64;
    let value = |k: i32| {
        let angle = centre * (1.0 + f64::from(k) * STEP);
        sum(power, angle) / shape(window, angle).0
    };
    let mut best = (f64::MIN, 0, 0.0);
    let mut values = [0.0; 2 * REACH as usize + 1];
    for (k, v) in (-REACH..=REACH).zip(&mut values) {
        *v = value(k);
    }
    for (k, triple) in (1 - REACH..REACH).zip(values.windows(3)) {
        let [left, middle, right] = triple else { continue };
        let bend = left - 2.0 * middle + right;
        if *middle > best.0 && bend < 0.0 {
            best = (*middle, k, (0.5 * (left - right) / bend).clamp(-1.0, 1.0));
        }
    }
    let mut angle = centre * (1.0 + (f64::from(best.1) + best.2) * STEP);
    for _ in 0..NEWTON {
        let [r, r1, r2] = slopes(power, angle);
        let (w, w1, w2) = shape(window, angle);
        // The top of r / w is where the logarithm's slope is nothing.
        let slope = r1 / r - w1 / w;
        let bend = r2 / r - (r1 / r).powi(2) - w2 / w + (w1 / w).powi(2);
        if r > 0.0 && bend < 0.0 {
            angle -= (slope / bend).clamp(-STEP * angle, STEP * angle);
        }
    }
    let hz = TAU * ANALYSIS_RATE_HZ / LONG_FFT as f64 / angle;
    (hz.is_finite() && hz > 0.0 && best.0 > 0.0).then_some(Hertz(hz))
}

/// The autocorrelation of a Hann window of `window` samples, 1 at lag 0, and its two slopes
/// (Boersma 1993, equation 8), over the angle 2 pi lag / FFT length.
fn shape(window: usize, angle: f64) -> (f64, f64, f64) {
    let scale = LONG_FFT as f64 / window as f64 / TAU;
    let x = angle * scale;
    let (sin, cos) = (TAU * x).sin_cos();
    let w = (1.0 - x) * (2.0 + cos) / 3.0 + sin / TAU;
    let w1 = (2.0 * cos - 2.0 - (1.0 - x) * TAU * sin) / 3.0;
    let w2 = -(TAU * sin + (1.0 - x) * TAU * TAU * cos) / 3.0;
    (w.max(1e-3), w1 * scale, w2 * scale * scale)
}

/// The turning of `LANES` neighbouring terms, and of a step over all of them.
fn turns(angle: f64) -> ([f32; LANES], [f32; LANES], f32, f32) {
    let (mut cos, mut sin) = ([0.0; LANES], [0.0; LANES]);
    let (s1, c1) = angle.sin_cos();
    let (mut c, mut s) = (1.0, 0.0);
    for (to_cos, to_sin) in cos.iter_mut().zip(&mut sin) {
        *to_cos = num::single(c);
        *to_sin = num::single(s);
        (c, s) = (c * c1 - s * s1, c * s1 + s * c1);
    }
    (cos, sin, num::single(c), num::single(s))
}

/// The cosine sum of `power` at an angle per bin.
fn sum(power: &[f32], angle: f64) -> f64 {
    let (mut cos, mut sin, c, s) = turns(angle);
    let mut total = [0.0f32; LANES];
    for part in power.as_chunks::<LANES>().0 {
        for i in 0..LANES {
            total[i] += part[i] * cos[i];
            (cos[i], sin[i]) = (cos[i] * c - sin[i] * s, cos[i] * s + sin[i] * c);
        }
    }
    f64::from(total.iter().sum::<f32>())
}

/// The same with its first and second slope.
fn slopes(power: &[f32], angle: f64) -> [f64; 3] {
    let (mut cos, mut sin, c, s) = turns(angle);
    let (mut r, mut r1, mut r2) = ([0.0f32; LANES], [0.0f32; LANES], [0.0f32; LANES]);
    let mut bin = [0.0f32, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0];
    for part in power.as_chunks::<LANES>().0 {
        for i in 0..LANES {
            let weighted = part[i] * bin[i];
            r[i] += part[i] * cos[i];
            r1[i] -= weighted * sin[i];
            r2[i] -= weighted * bin[i] * cos[i];
            bin[i] += 8.0;
            (cos[i], sin[i]) = (cos[i] * c - sin[i] * s, cos[i] * s + sin[i] * c);
        }
    }
    [r, r1, r2].map(|x| f64::from(x.iter().sum::<f32>()))
}
