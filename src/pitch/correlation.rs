//! How well the sound repeats itself at every period that a voice can have.
//!
//! In: power spectra with their gains. Out: the normalised autocorrelation, 0 to 1, on a grid of 20
//! cents from 52 to 1150 Hz, each lag from the shortest window that holds about three of its periods.
//! Method: inverse transform of the power spectrum, divided by that of the window (Boersma 1993).
//! Cost: three inverse real FFTs a hop and eight multiplications a grid point.

use super::floor::gain;
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

/// How fast the shorter windows lose trust as the floor's share grows, a power of what is no floor: what is left of noise in
/// their few bins looks like a voice (chosen by data: false alarms 0.36 % at 4, 0.56 at 2, 0.72 at 1).
const TRUST: i32 = 4;

/// One window's autocorrelation.
struct Lags {
    inverse: Arc<dyn ComplexToReal<f32>>,
    input: Vec<Complex<f32>>,
    /// Lag by lag, 1 at 0 after normalising.
    values: Vec<f32>,
    scratch: Vec<Complex<f32>>,
    /// One over the window's own autocorrelation.
    window: Vec<f32>,
    /// The zero lag before normalising.
    power: f32,
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
            power: 0.0,
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
        self.power = zero;
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

/// The power of a shorter window less the floor that it sees: the long window's, spread over the shorter one's main lobe
/// (half of it on either side) and scaled by the windows' energies. A gain of the long window will not do: between its
/// narrow lines lies the skirt of the same line in the shorter one, and without it the window would seem longer than it
/// is and every longer period better.
fn clean<'a>(power: &'a [f32], floor: &'a [f32], window: usize, fft: usize) -> impl Iterator<Item = f32> + 'a {
    let step = LONG_FFT / fft;
    let half = LONG_FFT / window;
    let scale = window as f32 / LONG as f32 / (2 * half + 1) as f32;
    power.iter().enumerate().map(move |(bin, power)| {
        let at = step * bin;
        let seen = floor.get(at.saturating_sub(half)..(at + half + 1).min(floor.len())).unwrap_or(&[]);
        power * gain(*power, scale * seen.iter().sum::<f32>())
    })
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

    /// The values on the grid. `gains`: of the long spectrum; `floor`: what they took away, per bin; `share`: how much
    /// of the sound is floor; the more, the more the long window, whose lines are the narrowest, is believed.
    pub(crate) fn grid(&mut self, spectra: &Spectra, gains: &[f32], floor: &[f32], share: f32) -> &[f32] {
        let [long, middle, short] = &mut self.lags;
        long.of(spectra.long.iter().zip(gains).map(|(p, g)| p * g));
        middle.of(clean(&spectra.middle, floor, MIDDLE, MIDDLE_FFT));
        short.of(clean(&spectra.short, floor, SHORT, SHORT_FFT));
        // A period ends after the correlation has once been negative (McLeod and Wyvill 2005): before
        // that lies the slope of lag 0, high in any dark sound.
        let crossed = short.values.iter().take(SHORT_FFT / 2).position(|r| *r < 0.0).unwrap_or(0);
        let trust = (1.0 - share).powi(TRUST);
        for (value, point) in self.grid.iter_mut().zip(&self.points) {
            let at = |lags: &Lags| dot(&lags.values, point);
            let steadiest = at(long);
            *value = match point.from {
                From::Long => steadiest,
                From::Middle => steadiest + trust * (at(middle) - steadiest),
                From::Short if point.first + TAPS / 2 <= crossed => 0.0,
                From::Short => steadiest + trust * (at(short) - steadiest),
            };
        }
        &self.grid
    }

    /// Power in the short window after the gains.
    pub(crate) fn short_power(&self) -> f32 {
        let [.., short] = &self.lags;
        short.power
    }

    /// How many points the grid has.
    pub(crate) fn points(&self) -> usize {
        self.points.len()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::input::HOP;
    use crate::pitch::spectrum::{Analyser, LONG_BINS, hann};

    #[test]
    fn the_grid_is_the_slow_obvious_correlation() {
        // Seven lines below 4 kHz that make no harmonic series.
        let lines = [130.0, 271.0, 390.0, 655.0, 900.0, 1733.0, 2900.0];
        let at = |t: f64| lines.iter().map(|f| (std::f64::consts::TAU * f * t + f).sin()).sum::<f64>() / 20.0;
        let mut analyser = Analyser::new();
        for hop in 0..12 {
            let mut samples = [0.0; HOP];
            for (i, x) in samples.iter_mut().enumerate() {
                *x = num::single(at((hop * HOP + i) as f64 / ANALYSIS_RATE_HZ));
            }
            analyser.push(&samples);
        }
        let end = 12 * HOP;
        let mut correlation = Correlation::new();
        let grid = correlation.grid(analyser.spectra(), &[1.0; LONG_BINS], &[], 0.0).to_vec();
        // Time domain, at 16 times the rate so that every lag of the grid is nearly whole (Boersma 1993,
        // equations 6 to 9).
        let fine = 16;
        for (i, value) in grid.iter().enumerate().step_by(17) {
            let lag = ANALYSIS_RATE_HZ / (LOWEST_HZ * (i as f64 * STEP_CENTS / 1200.0).exp2());
            let window = if lag > LONG_ABOVE {
                LONG
            } else if lag > MIDDLE_ABOVE {
                MIDDLE
            } else {
                SHORT
            };
            let start = (end - LONG / 2 - window / 2) as f64 - 0.5;
            let shape: Vec<f64> = hann(window * fine).collect();
            let sound: Vec<f64> =
                (0..window * fine).map(|k| at((start + (k as f64 + 0.5) / fine as f64) / ANALYSIS_RATE_HZ)).collect();
            let shift = num::index(lag * fine as f64);
            let of = |x: &[f64]| {
                x.iter().zip(&x[shift..]).map(|(a, b)| a * b).sum::<f64>() / x.iter().map(|a| a * a).sum::<f64>()
            };
            let seen: Vec<f64> = sound.iter().zip(&shape).map(|(a, b)| a * b).collect();
            let slow = of(&seen) / of(&shape);
            let crossed = *value == 0.0;
            assert!(crossed || (f64::from(*value) - slow).abs() < 0.01, "lag {lag}: {value} {slow}");
        }
        assert!(grid.iter().filter(|v| **v != 0.0).count() > 200);
    }
}
