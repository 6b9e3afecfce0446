//! How long a voice stood still: the longest stretch within which the pitch hardly moved.
//!
//! In: a note's judged line, frame by frame. Out: the longest run of frames, in seconds, at each of which the standard
//! deviation over the last second (or since the run began, where that is nearer) was at most [`STEADY_CENTS`]. Running sums
//! over a ring of one second; constant cost.

use super::line::FRAMES_PER_S;

/// The running window: one second of frames.
const WINDOW: usize = 200;
/// Largest standard deviation that counts as steady, cents (the long-tone exercise's default; our choice).
pub const STEADY_CENTS: f64 = 12.0;

/// Mean and standard deviation over the last second.
#[derive(Debug, Clone)]
pub struct LastSecond {
    ring: [f64; WINDOW],
    filled: usize,
    at: usize,
    sum: f64,
    squares: f64,
    about: f64,
}

impl Default for LastSecond {
    fn default() -> Self {
        Self::new()
    }
}

impl LastSecond {
    /// Frames in the window.
    pub const FRAMES: usize = WINDOW;

    /// An empty window.
    #[must_use]
    pub fn new() -> Self {
        Self { ring: [0.0; WINDOW], filled: 0, at: 0, sum: 0.0, squares: 0.0, about: 0.0 }
    }

    /// Empties it.
    pub fn clear(&mut self) {
        (self.filled, self.at, self.sum, self.squares) = (0, 0, 0.0, 0.0);
    }

    /// Takes one frame (5 ms), cents; a non-finite one empties the window.
    pub fn push(&mut self, cents: f64) {
        if !cents.is_finite() {
            self.clear();
            return;
        }
        if self.filled == 0 {
            self.about = cents;
        }
        let x = cents - self.about;
        if let Some(slot) = self.ring.get_mut(self.at) {
            if self.filled == WINDOW {
                self.sum -= *slot;
                self.squares -= *slot * *slot;
            }
            *slot = x;
        }
        self.at = (self.at + 1) % WINDOW;
        self.filled = (self.filled + 1).min(WINDOW);
        self.sum += x;
        self.squares += x * x;
    }

    /// Whether a whole second is in the window.
    #[must_use]
    pub fn full(&self) -> bool {
        self.filled == WINDOW
    }

    /// Mean over the window, cents; `None` when it is empty.
    #[must_use]
    pub fn mean(&self) -> Option<f64> {
        (self.filled > 0).then(|| self.about + self.sum / self.filled as f64)
    }

    /// Standard deviation over the window (about its mean, divided by the count), cents; 0 when it is empty.
    #[must_use]
    pub fn deviation(&self) -> f64 {
        let n = self.filled.max(1) as f64;
        (self.squares / n - (self.sum / n).powi(2)).max(0.0).sqrt()
    }
}

/// The longest run under [`STEADY_CENTS`].
pub(super) struct Steady {
    window: LastSecond,
    run: u64,
    longest: u64,
}

impl Steady {
    pub(super) fn new() -> Self {
        Self { window: LastSecond::new(), run: 0, longest: 0 }
    }

    pub(super) fn clear(&mut self) {
        self.window.clear();
        (self.run, self.longest) = (0, 0);
    }

    /// Takes the next frame; a frame without pitch (`NaN`) ends the run.
    pub(super) fn add(&mut self, cents: f64) {
        self.window.push(cents);
        if cents.is_finite() && self.window.deviation() <= STEADY_CENTS {
            self.run += 1;
            self.longest = self.longest.max(self.run);
        } else {
            self.window.clear();
            self.run = 0;
        }
    }

    /// The longest run so far, seconds.
    pub(super) fn longest_s(&self) -> f64 {
        self.longest as f64 / FRAMES_PER_S
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn window_against_the_definition() {
        let line: Vec<f64> = (0..700).map(|k| 700.0 + 9.0 * (f64::from(k) * 0.11).sin() + f64::from(k % 7)).collect();
        let mut window = LastSecond::new();
        for (k, x) in line.iter().enumerate() {
            window.push(*x);
            let last = &line[(k + 1).saturating_sub(WINDOW)..=k];
            let mean = last.iter().sum::<f64>() / last.len() as f64;
            let sd = (last.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / last.len() as f64).sqrt();
            assert!((window.mean().unwrap() - mean).abs() < 1e-8 && (window.deviation() - sd).abs() < 1e-6);
        }
    }

    #[test]
    fn a_jump_divides_the_run() {
        let mut steady = Steady::new();
        (0..300).for_each(|_| steady.add(0.0));
        (0..500).for_each(|_| steady.add(80.0));
        // The old pitch is out of the window at once, but for the frames that the jump itself takes.
        assert!((steady.longest_s() - 2.5).abs() < 0.06, "{}", steady.longest_s());
        steady.add(f64::NAN);
        (0..100).for_each(|_| steady.add(80.0));
        assert!((steady.longest_s() - 2.5).abs() < 0.06);
    }
}
