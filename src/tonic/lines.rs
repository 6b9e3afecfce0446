//! Finds the tones that stay: the steady lines in a sound, whatever moves over them.
//!
//! In: 5 ms of sound at 16 kHz at a time. Out: up to [`MAX_LINES`] spectral lines (Hz to some 0.1 cents
//! when alone and steady, dB). Method: decimated to 4 kHz, Hann windows of 2 s, transformed every half
//! second; the logarithms of their power spectra are averaged, so that a tone that is always there
//! outweighs a louder one that passes (a geometric mean); peaks above their surroundings, their places by
//! a parabola through the logarithms (J. O. Smith III, Spectral Audio Signal Processing, "Quadratic
//! interpolation of spectral peaks"). Cost: one 16384-point transform every 0.5 s; memory is fixed, taken
//! in `new`. Does not handle lines closer than 2 Hz.

use crate::input::HOP;
use crate::units::num;
use realfft::num_complex::Complex;
use realfft::{RealFftPlanner, RealToComplex};
use std::sync::Arc;

/// The rate the lines are sought at, Hz: partials to 1.6 kHz tell a tonic.
const RATE_HZ: f64 = 4_000.0;
/// Input samples to one kept sample: 16 kHz to 4 kHz.
const DECIMATION: usize = 4;
/// Taps of the decimation filter: 60 dB at 2.4 kHz with a Hann window, flat below 1.6 kHz.
const TAPS: usize = 64;
/// Cut-off of the decimation filter, Hz: between the band used and half the kept rate.
const CUTOFF_HZ: f64 = 1_850.0;
/// Window, kept samples: 2.05 s resolves lines 2 Hz apart.
const WINDOW: usize = 8_192;
/// Step, kept samples: a quarter window, the usual overlap for Hann.
const STEP: usize = 2_048;
/// Transform length: twice the window, so that the parabola errs by less than 0.02 bins.
const PADDED: usize = 2 * WINDOW;
/// Width of a transform's bin, Hz.
const BIN_HZ: f64 = RATE_HZ / PADDED as f64;
/// Lowest and highest line sought, Hz: the low Sa of 1 kattai is 65 Hz, of madhya 60 Hz it is 30 Hz,
/// which no small loudspeaker carries; above 1600 Hz strings are stiff and the filter falls.
const BAND_HZ: (f64, f64) = (40.0, 1_600.0);
/// As many lines as are kept, strongest first.
pub const MAX_LINES: usize = 40;
/// A line may be this much weaker than the strongest, dB.
const RANGE_DB: f64 = 45.0;
/// A line stands out from the mean level around it by this much, dB (chosen by data: peaks of noise
/// averaged over three windows stay below).
const PROMINENCE_DB: f64 = 12.0;
/// Half width of "around it", bins: 20 Hz, under half the distance between the lines of a low drone.
const AROUND: usize = 82;
/// A weaker peak within so many bins of a stronger one is its skirt (Hann: 4 bins of the window).
const SKIRT: usize = 9;
/// Windows below this mean power per sample (-75 dBFS) count as silence and are left out.
const SILENCE: f64 = 3e-8;

/// A tone that stays.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Line {
    /// Its frequency, Hz.
    pub hz: f64,
    /// Its mean level, dB relative to the strongest line.
    pub db: f64,
    /// How its level scatters from window to window, dB (standard deviation): a drone is always there, a
    /// sung note comes and goes.
    pub scatter_db: f64,
}

/// The lines found, strongest first; fixed size.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Found {
    lines: [Line; MAX_LINES],
    count: usize,
}

impl Found {
    /// No lines.
    pub const NONE: Found = Found { lines: [Line { hz: 0.0, db: -200.0, scatter_db: 0.0 }; MAX_LINES], count: 0 };

    /// The lines, strongest first.
    #[must_use]
    pub fn lines(&self) -> &[Line] {
        self.lines.get(..self.count).unwrap_or(&[])
    }

    /// Only the lines whose level scatters by at most `limit_db`.
    #[must_use]
    pub fn steady(&self, limit_db: f64) -> Found {
        let mut steady = Found::NONE;
        for line in self.lines().iter().filter(|line| line.scatter_db <= limit_db) {
            steady.insert(*line);
        }
        steady
    }

    /// Keeps the strongest.
    fn insert(&mut self, line: Line) {
        let at = self.lines().iter().position(|other| other.db < line.db).unwrap_or(self.count);
        if at >= MAX_LINES {
            return;
        }
        self.count = (self.count + 1).min(MAX_LINES);
        if let Some(tail) = self.lines.get_mut(at..self.count) {
            tail.rotate_right(1);
            tail[0] = line;
        }
    }
}

/// Gathers the averaged spectrum.
pub struct Lines {
    taps: [f64; TAPS],
    recent: [f64; TAPS],
    recent_at: usize,
    phase: usize,
    kept: Vec<f64>,
    kept_at: usize,
    kept_total: usize,
    hann: Vec<f64>,
    fft: Arc<dyn RealToComplex<f64>>,
    padded: Vec<f64>,
    spectrum: Vec<Complex<f64>>,
    scratch: Vec<Complex<f64>>,
    /// Sum of ln(power) by bin.
    sums: Vec<f64>,
    /// Sum of its squares.
    squares: Vec<f64>,
    windows: usize,
    /// The averaged spectrum in dB, made when lines are asked for.
    levels: Vec<f64>,
}

impl Default for Lines {
    fn default() -> Self {
        Self::new()
    }
}

impl Lines {
    /// All memory is taken here.
    #[must_use]
    pub fn new() -> Self {
        let fft = RealFftPlanner::<f64>::new().plan_fft_forward(PADDED);
        let bins = PADDED / 2 + 1;
        let hann =
            (0..WINDOW).map(|i| 0.5 - 0.5 * (std::f64::consts::TAU * (i as f64 + 0.5) / WINDOW as f64).cos()).collect();
        Self {
            taps: low_pass(),
            recent: [0.0; TAPS],
            recent_at: 0,
            phase: 0,
            kept: vec![0.0; WINDOW],
            kept_at: 0,
            kept_total: 0,
            hann,
            padded: fft.make_input_vec(),
            spectrum: fft.make_output_vec(),
            scratch: fft.make_scratch_vec(),
            fft,
            sums: vec![0.0; bins],
            squares: vec![0.0; bins],
            windows: 0,
            levels: vec![0.0; bins],
        }
    }

    /// Back to the state of [`Lines::new`].
    pub fn reset(&mut self) {
        self.recent = [0.0; TAPS];
        (self.recent_at, self.phase, self.kept_at, self.kept_total) = (0, 0, 0, 0);
        self.kept.fill(0.0);
        self.sums.fill(0.0);
        self.squares.fill(0.0);
        self.windows = 0;
    }

    /// How many windows were not silent.
    #[must_use]
    pub fn windows(&self) -> usize {
        self.windows
    }

    /// Takes 5 ms in. Non-finite samples count as silence.
    pub fn push(&mut self, sound: &[f32; HOP]) {
        for &sample in sound {
            let sample = f64::from(sample);
            if let Some(slot) = self.recent.get_mut(self.recent_at) {
                *slot = if sample.is_finite() { sample } else { 0.0 };
            }
            self.recent_at = (self.recent_at + 1) % TAPS;
            self.phase = (self.phase + 1) % DECIMATION;
            if self.phase == 0 {
                self.keep();
            }
        }
    }

    /// Filters, keeps one sample, and weighs a window when one is due.
    fn keep(&mut self) {
        let (newer, older) = self.recent.split_at(self.recent_at);
        let value: f64 = older.iter().chain(newer).zip(&self.taps).map(|(sample, tap)| sample * tap).sum();
        if let Some(slot) = self.kept.get_mut(self.kept_at) {
            *slot = value;
        }
        self.kept_at = (self.kept_at + 1) % WINDOW;
        self.kept_total += 1;
        if self.kept_total >= WINDOW && (self.kept_total - WINDOW).is_multiple_of(STEP) {
            self.weigh();
        }
    }

    /// Adds the window that is in `kept` to the average.
    fn weigh(&mut self) {
        let (newer, older) = self.kept.split_at(self.kept_at);
        let power = self.kept.iter().map(|x| x * x).sum::<f64>() / WINDOW as f64;
        if power < SILENCE {
            return;
        }
        self.padded.fill(0.0);
        for ((slot, sample), weight) in self.padded.iter_mut().zip(older.iter().chain(newer)).zip(&self.hann) {
            *slot = sample * weight;
        }
        if self.fft.process_with_scratch(&mut self.padded, &mut self.spectrum, &mut self.scratch).is_err() {
            return;
        }
        for ((sum, square), bin) in self.sums.iter_mut().zip(&mut self.squares).zip(&self.spectrum) {
            // 1e-12 is far below one step of 24-bit audio: it only keeps the logarithm finite.
            let level = (bin.norm_sqr() + 1e-12).ln();
            *sum += level;
            *square += level * level;
        }
        self.windows += 1;
    }

    /// The lines in all that was taken in. Never allocates.
    pub fn find(&mut self) -> Found {
        let mut found = Found::NONE;
        if self.windows == 0 {
            return found;
        }
        let scale = 10.0 / std::f64::consts::LN_10 / self.windows as f64;
        for (level, sum) in self.levels.iter_mut().zip(&self.sums) {
            *level = sum * scale;
        }
        let first = num::index(BAND_HZ.0 / BIN_HZ).max(AROUND + 1);
        let last = num::index(BAND_HZ.1 / BIN_HZ);
        let Some(band) = self.levels.get(first..last) else { return found };
        let top = band.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        for bin in first..last {
            if let Some(line) = self.peak(bin, top) {
                found.insert(line);
            }
        }
        found
    }

    /// The line at `bin` if there is one.
    fn peak(&self, bin: usize, top: f64) -> Option<Line> {
        let around = self.levels.get(bin - AROUND..=bin + AROUND)?;
        let level = *around.get(AROUND)?;
        if level < top - RANGE_DB {
            return None;
        }
        let skirt = around.get(AROUND - SKIRT..=AROUND + SKIRT)?;
        if skirt.iter().any(|&other| other > level) {
            return None;
        }
        let mean = around.iter().sum::<f64>() / around.len() as f64;
        if level < mean + PROMINENCE_DB {
            return None;
        }
        let (below, above) = (*around.get(AROUND - 1)?, *around.get(AROUND + 1)?);
        let curve = below - 2.0 * level + above;
        let shift = if curve < 0.0 { (0.5 * (below - above) / curve).clamp(-0.5, 0.5) } else { 0.0 };
        let windows = self.windows as f64;
        let mean_ln = self.sums.get(bin)? / windows;
        let variance = (self.squares.get(bin)? / windows - mean_ln * mean_ln).max(0.0);
        let scatter_db = variance.sqrt() * 10.0 / std::f64::consts::LN_10;
        Some(Line { hz: (bin as f64 + shift) * BIN_HZ, db: level - top, scatter_db })
    }
}

/// Windowed-sinc low-pass taps, sum 1.
fn low_pass() -> [f64; TAPS] {
    let mut taps = [0.0; TAPS];
    let middle = (TAPS as f64 - 1.0) / 2.0;
    for (i, tap) in taps.iter_mut().enumerate() {
        let t = i as f64 - middle;
        let x = std::f64::consts::TAU * CUTOFF_HZ / (RATE_HZ * DECIMATION as f64) * t;
        let sinc = if x.abs() < 1e-9 { 1.0 } else { x.sin() / x };
        *tap = sinc * (0.5 + 0.5 * (std::f64::consts::PI * t / (middle + 1.0)).cos());
    }
    let sum: f64 = taps.iter().sum();
    taps.map(|tap| tap / sum)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tonic::roots::folded_cents;
    use crate::tonic::test_sound::{hops, noise, reed};

    fn heard(sound: &[f64]) -> Lines {
        let mut lines = Lines::new();
        for hop in hops(sound) {
            lines.push(&hop.voice);
        }
        lines
    }

    #[test]
    fn lines_lie_where_the_partials_are() {
        // Analytic truth: partials of 148.3 Hz up to 1.6 kHz.
        let found = heard(&reed(148.3, &[1.0], 3.0)).find();
        assert_eq!(found.lines().len(), 10);
        for line in found.lines() {
            let partial = (line.hz / 148.3).round();
            assert!(folded_cents(line.hz / (148.3 * partial)).abs() < 0.1, "{}", line.hz);
        }
        assert_eq!(found.lines()[0].db, 0.0);
        assert!((found.lines()[0].hz - 148.3).abs() < 0.05);
    }

    #[test]
    fn silence_noise_and_broken_samples_have_no_lines() {
        assert_eq!(heard(&vec![0.0; 80_000]).find(), Found::NONE);
        assert_eq!(heard(&vec![f64::NAN; 80_000]).find(), Found::NONE);
        let mut lines = heard(&noise(0.1, 5.0));
        assert!(lines.find().lines().len() <= 2, "{:?}", lines.find().lines());
    }

    #[test]
    fn reset_forgets() {
        let mut lines = heard(&reed(200.0, &[1.0, 1.5], 3.0));
        let first = lines.find();
        lines.reset();
        assert_eq!(lines.find(), Found::NONE);
        for hop in hops(&reed(200.0, &[1.0, 1.5], 3.0)) {
            lines.push(&hop.voice);
        }
        assert_eq!(lines.find(), first);
    }
}
