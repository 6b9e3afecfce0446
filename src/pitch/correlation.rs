//! How well the sound repeats itself at every period that a voice can have.
//!
//! In: power spectra with their gains. Out: the normalised autocorrelation, 0 to 1, on a grid of 20
//! cents from 52 to 1150 Hz, each lag from the shortest window that holds about three of its periods.
//! Method: inverse transform of the power spectrum, divided by that of the window (Boersma 1993).
//! Cost: three inverse real FFTs a hop and eight multiplications a grid point.

use super::spectrum::{LONG, LONG_FFT, MIDDLE, MIDDLE_FFT, SHORT, SHORT_FFT, Spectra};
use crate::input::ANALYSIS_RATE_HZ;
use crate::units::num;
use realfft::num_complex::Complex;
use realfft::{ComplexToReal, RealFftPlanner};
use std::sync::Arc;

/// The lowest f0 on the grid, Hz: a little below the range, so that its peak has two sides.
pub(crate) const LOWEST_HZ: f64 = 52.0;
/// The highest.
pub(crate) const HIGHEST_HZ: f64 = 1150.0;
/// Grid step, cents.
pub(crate) const STEP_CENTS: f64 = 20.0;
/// Taps of the interpolation between lags; the spectrum ends at a quarter of the rate, where eight are exact to 0.1 %.
const TAPS: usize = 8;
/// Lags above this, samples, come from the long window (three periods of 143 Hz no longer fit the middle one).
const LONG_ABOVE: f64 = 112.0;
/// Lags above this come from the middle one.
const MIDDLE_ABOVE: f64 = 64.0;

/// One window's autocorrelation.
struct Lags {
    inverse: Arc<dyn ComplexToReal<f32>>,
    input: Vec<Complex<f32>>,
    /// Lag by lag, 1 at 0 after normalising.
    values: Vec<f32>,
    scratch: Vec<Complex<f32>>,
    /// One over the window's own autocorrelation.
    window: Vec<f32>,
}

/// The window that a lag is read from.
#[derive(Clone, Copy)]
enum From {
    Long,
    Middle,
    Short,
}

/// Where a grid point reads.
struct Point {
    from: From,
    first: usize,
    weights: [f32; TAPS],
}

pub(crate) struct Correlation {
    lags: [Lags; 3],
    points: Vec<Point>,
    grid: Vec<f32>,
}

/// Interpolation weights around lag `lag`, and the first lag they apply to.
fn taps(lag: f64) -> (usize, [f32; TAPS]) {
    let first = num::index((lag.floor() - (TAPS as f64 / 2.0 - 1.0)).max(0.0));
    let mut weights = [0.0; TAPS];
    for (i, weight) in weights.iter_mut().enumerate() {
        let x = lag - (first + i) as f64;
        let y = std::f64::consts::PI * x;
        let sinc = if x.abs() < 1e-9 { 1.0 } else { y.sin() / y };
        // Cosine-squared taper over the taps: the signal is oversampled twice, so little is needed.
        let taper = (0.5 * y / (TAPS as f64 / 2.0 + 0.5)).cos().powi(2);
        *weight = num::single(sinc * taper);
    }
    (first, weights)
}

impl Lags {
    fn new(window: usize, fft: usize, planner: &mut RealFftPlanner<f32>) -> Self {
        let inverse = planner.plan_fft_inverse(fft);
        let forward = planner.plan_fft_forward(fft);
        let mut shape = forward.make_input_vec();
        for (to, w) in shape.iter_mut().zip(super::spectrum::hann(window)) {
            *to = num::single(w);
        }
        let mut spectrum = forward.make_output_vec();
        let mut lags = Self {
            input: inverse.make_input_vec(),
            values: inverse.make_output_vec(),
            scratch: inverse.make_scratch_vec(),
            inverse,
            window: vec![1.0; fft],
        };
        if forward.process(&mut shape, &mut spectrum).is_ok() {
            let power: Vec<f32> = spectrum.iter().map(|c| c.norm_sqr()).collect();
            lags.transform(power.iter().copied());
            let zero = lags.values.first().copied().unwrap_or(1.0);
            for (to, r) in lags.window.iter_mut().zip(&lags.values) {
                // Beyond the window there is nothing to divide by.
                *to = if r / zero > 0.02 { zero / r } else { 0.0 };
            }
        }
        lags
    }

    /// Autocorrelation of a power spectrum, unnormalised.
    fn transform(&mut self, power: impl Iterator<Item = f32>) {
        self.input.fill(Complex::new(0.0, 0.0));
        for (to, p) in self.input.iter_mut().zip(power) {
            *to = Complex::new(p, 0.0);
        }
        if self.inverse.process_with_scratch(&mut self.input, &mut self.values, &mut self.scratch).is_err() {
            self.values.fill(0.0);
        }
    }

    /// Divided by its own zero lag and by the window.
    fn normalise(&mut self) {
        let zero = self.values.first().copied().unwrap_or(0.0);
        let scale = if zero > 1e-20 { 1.0 / zero } else { 0.0 };
        for (r, w) in self.values.iter_mut().zip(&self.window) {
            *r *= scale * w;
        }
    }

    /// The autocorrelation of a power spectrum under this window, normalised.
    fn of(&mut self, power: impl Iterator<Item = f32>) {
        self.transform(power);
        self.normalise();
    }
}

fn dot(values: &[f32], point: &Point) -> f32 {
    let near = values.get(point.first..point.first + TAPS).unwrap_or(&[]);
    near.iter().zip(&point.weights).map(|(a, b)| a * b).sum()
}

impl Correlation {
    pub(crate) fn new() -> Self {
        let mut planner = RealFftPlanner::new();
        let count = num::index(1200.0 * (HIGHEST_HZ / LOWEST_HZ).log2() / STEP_CENTS) + 1;
        let points: Vec<Point> = (0..count)
            .map(|i| {
                let octaves = i as f64 * STEP_CENTS / 1200.0;
                let hz = LOWEST_HZ * octaves.exp2();
                let lag = ANALYSIS_RATE_HZ / hz;
                let (first, weights) = taps(lag);
                let from = if lag > LONG_ABOVE {
                    From::Long
                } else if lag > MIDDLE_ABOVE {
                    From::Middle
                } else {
                    From::Short
                };
                Point { from, first, weights }
            })
            .collect();
        Self {
            lags: [
                Lags::new(LONG, LONG_FFT, &mut planner),
                Lags::new(MIDDLE, MIDDLE_FFT, &mut planner),
                Lags::new(SHORT, SHORT_FFT, &mut planner),
            ],
            grid: vec![0.0; points.len()],
            points,
        }
    }

    /// The values on the grid. `share`: how much of the sound is floor; the more, the more the long
    /// window, whose lines are the narrowest, is believed.
    pub(crate) fn grid(&mut self, spectra: &Spectra, gains: &[f32], share: f32) -> &[f32] {
        let [long, middle, short] = &mut self.lags;
        long.of(spectra.long.iter().zip(gains).map(|(p, g)| p * g));
        let near = |at: usize| gains.get(at).copied().unwrap_or(0.0);
        let three = |at: usize| (near(at.saturating_sub(1)) + near(at) + near(at + 1)) / 3.0;
        middle.of(spectra.middle.iter().enumerate().map(|(i, p)| p * three(2 * i)));
        let five = |at: usize| (near(at.saturating_sub(2)) + near(at + 2) + 3.0 * three(at)) / 5.0;
        short.of(spectra.short.iter().enumerate().map(|(i, p)| p * five(4 * i)));
        for (value, point) in self.grid.iter_mut().zip(&self.points) {
            let at = |lags: &Lags| dot(&lags.values, point);
            let steadiest = at(long);
            *value = match point.from {
                From::Long => steadiest,
                From::Middle => steadiest + (1.0 - share) * (at(middle) - steadiest),
                From::Short => steadiest + (1.0 - share) * (at(short) - steadiest),
            };
        }
        &self.grid
    }

    /// How many points the grid has.
    pub(crate) fn points(&self) -> usize {
        self.points.len()
    }
}
