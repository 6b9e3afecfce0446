//! The judged part of a note, summed as it goes: where it lay, how it drifted, how much it wavered.
//!
//! In: the line's cents, frame by frame, in order. Out: median, straight-line fit, spread about it, time in band.
//! All in running sums and a histogram of 0.2-cent bins, so that a note may last for minutes; constant cost per frame.
//!
//! Formulas, x in cents over t in seconds, n frames: slope b = (n Σtx - Σt Σx) / (n Σt² - (Σt)²) (least squares);
//! wobble = sqrt(Σe² / n) with e the residuals; the slope's standard error is that of least squares with the number of
//! frames replaced by the number of independent ones, n' = n (1 - r) / (1 + r), r the residuals' correlation 50 ms
//! apart from their von Neumann ratio (r = 1 - Σ(Δe)² / 2Σe²; Bayley and Hammersley 1946).

use super::line::FRAMES_PER_S;
use crate::units::num;

/// Width of a bin, cents.
const BIN_CENTS: f64 = 0.2;
/// Bins: the first frame's pitch +-410 cents; what lies beyond counts in the outermost bin.
const BINS: usize = 4096;
/// Distance at which neighbouring frames are compared for their independence, frames (50 ms).
const APART: usize = 10;

/// Counts of frames over cents, about a reference.
pub(super) struct Histogram {
    bins: Box<[u32]>,
    about: f64,
    total: u64,
}

impl Histogram {
    fn new() -> Self {
        Self { bins: vec![0; BINS].into_boxed_slice(), about: 0.0, total: 0 }
    }

    fn clear(&mut self, about: f64) {
        self.bins.fill(0);
        self.about = about;
        self.total = 0;
    }

    fn add(&mut self, cents: f64) {
        let bin = num::index((cents - self.about) / BIN_CENTS + (BINS / 2) as f64).min(BINS - 1);
        if let Some(count) = self.bins.get_mut(bin) {
            *count += 1;
            self.total += 1;
        }
    }

    /// Each filled bin: its middle in cents and its frames.
    pub(super) fn filled(&self) -> impl Iterator<Item = (f64, u32)> + '_ {
        let about = self.about;
        self.bins
            .iter()
            .enumerate()
            .filter(|(_, count)| **count > 0)
            .map(move |(bin, count)| (about + (bin as f64 - (BINS / 2) as f64) * BIN_CENTS, *count))
    }

    /// The value that `share` of the frames lie below, interpolated inside its bin.
    fn quantile(&self, share: f64) -> Option<f64> {
        let wanted = share * self.total as f64;
        let mut below = 0.0;
        for (middle, count) in self.filled() {
            let count = f64::from(count);
            if below + count >= wanted {
                return Some(middle + ((wanted - below) / count - 0.5) * BIN_CENTS);
            }
            below += count;
        }
        None
    }

    /// Share of the frames within `half` cents of `target`.
    fn within(&self, target: f64, half: f64) -> f64 {
        let inside: u64 = self
            .filled()
            .filter(|(middle, _)| (middle - target).abs() <= half)
            .map(|(_, count)| u64::from(count))
            .sum();
        if self.total > 0 { inside as f64 / self.total as f64 } else { 0.0 }
    }
}

/// The straight line through a part.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct Fit {
    /// Cents per second.
    pub(super) slope: f64,
    /// Its standard error, cents per second.
    pub(super) slope_error: f64,
    /// RMS about the line, cents.
    pub(super) wobble: f64,
    /// Frames that count as independent.
    pub(super) independent: f64,
}

/// Running sums over a note's judged part.
pub(super) struct Part {
    histogram: Histogram,
    recent: [f64; APART],
    frames: u64,
    first: u64,
    n: f64,
    st: f64,
    stt: f64,
    sx: f64,
    sxx: f64,
    stx: f64,
    jumps: f64,
    jump: f64,
    jump_squares: f64,
}

impl Part {
    pub(super) fn new() -> Self {
        Self {
            histogram: Histogram::new(),
            recent: [f64::NAN; APART],
            frames: 0,
            first: 0,
            n: 0.0,
            st: 0.0,
            stt: 0.0,
            sx: 0.0,
            sxx: 0.0,
            stx: 0.0,
            jumps: 0.0,
            jump: 0.0,
            jump_squares: 0.0,
        }
    }

    /// Forgets everything; never allocates.
    pub(super) fn clear(&mut self) {
        self.histogram.clear(0.0);
        self.recent = [f64::NAN; APART];
        self.frames = 0;
        (self.n, self.st, self.stt, self.sx, self.sxx, self.stx) = (0.0, 0.0, 0.0, 0.0, 0.0, 0.0);
        (self.jumps, self.jump, self.jump_squares) = (0.0, 0.0, 0.0);
    }

    /// Takes the line at `frame`; a frame without pitch (`NaN`) only lets time pass.
    pub(super) fn add(&mut self, frame: u64, cents: f64) {
        if self.frames == 0 {
            self.first = frame;
        }
        self.frames = frame.saturating_sub(self.first) + 1;
        let slot = usize::try_from(frame % APART as u64).unwrap_or(0);
        let before = self.recent.get(slot).copied().unwrap_or(f64::NAN);
        if let Some(recent) = self.recent.get_mut(slot) {
            *recent = cents;
        }
        if !cents.is_finite() {
            return;
        }
        if self.n == 0.0 {
            self.histogram.clear(cents);
        }
        self.histogram.add(cents);
        let (t, x) = (frame.saturating_sub(self.first) as f64 / FRAMES_PER_S, cents - self.histogram.about);
        self.n += 1.0;
        self.st += t;
        self.stt += t * t;
        self.sx += x;
        self.sxx += x * x;
        self.stx += t * x;
        if before.is_finite() {
            let jump = cents - before;
            self.jumps += 1.0;
            self.jump += jump;
            self.jump_squares += jump * jump;
        }
    }

    /// Frames with a pitch.
    pub(super) fn count(&self) -> f64 {
        self.n
    }

    pub(super) fn median(&self) -> Option<f64> {
        self.histogram.quantile(0.5)
    }

    pub(super) fn histogram(&self) -> &Histogram {
        &self.histogram
    }

    /// Share of the judged frames within `half` cents of `target`.
    pub(super) fn in_tune(&self, target: f64, half: f64) -> f64 {
        self.histogram.within(target, half)
    }

    /// The straight line; all zero for fewer than three frames.
    pub(super) fn fit(&self) -> Fit {
        let n = self.n;
        let t_spread = self.stt - self.st * self.st / n.max(1.0);
        if n < 3.0 || t_spread <= 0.0 {
            return Fit::default();
        }
        let slope = (self.stx - self.st * self.sx / n) / t_spread;
        let x_spread = self.sxx - self.sx * self.sx / n;
        let residual = (x_spread - slope * slope * t_spread).max(0.0);
        let step = APART as f64 / FRAMES_PER_S;
        let moved = (self.jump_squares - 2.0 * slope * step * self.jump + self.jumps * (slope * step).powi(2)).max(0.0);
        let r = if residual > 0.0 && self.jumps > 0.0 {
            (1.0 - moved / self.jumps * n / (2.0 * residual)).clamp(0.0, 0.99)
        } else {
            0.0
        };
        let independent = (n / APART as f64 * (1.0 - r) / (1.0 + r)).max(1.0);
        let variance = residual / n;
        let freedom = (independent - 2.0).max(0.5) / independent;
        let slope_error = (variance / freedom / (independent * t_spread / n)).sqrt();
        Fit { slope, slope_error, wobble: variance.sqrt(), independent }
    }
}
