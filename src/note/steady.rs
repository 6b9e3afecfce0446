//! How long a voice stood still: the longest stretch within which the pitch hardly moved.
//!
//! In: a note's judged line, frame by frame. Out: the longest run of frames, in seconds, at each of which the standard
//! deviation over the last second (or since the beginning, where that is nearer) was at most the limit. Running sums over
//! a ring of one second; constant cost.

use super::line::FRAMES_PER_S;

/// The running window: one second of frames.
const WINDOW: usize = 200;
/// Largest standard deviation that counts as steady, cents (the long-tone exercise's default; our choice).
pub const STEADY_CENTS: f64 = 12.0;

/// The running standard deviation and the longest run under [`STEADY_CENTS`].
pub(super) struct Steady {
    ring: [f64; WINDOW],
    filled: usize,
    at: usize,
    sum: f64,
    squares: f64,
    about: f64,
    run: u64,
    longest: u64,
}

impl Steady {
    pub(super) fn new() -> Self {
        Self { ring: [0.0; WINDOW], filled: 0, at: 0, sum: 0.0, squares: 0.0, about: 0.0, run: 0, longest: 0 }
    }

    pub(super) fn clear(&mut self) {
        *self = Self::new();
    }

    /// Takes the next frame; a frame without pitch (`NaN`) ends the run.
    pub(super) fn add(&mut self, cents: f64) {
        if !cents.is_finite() {
            self.clear_window();
            return;
        }
        if self.filled == 0 {
            self.about = cents;
        }
        let x = cents - self.about;
        if self.filled == WINDOW
            && let Some(old) = self.ring.get(self.at)
        {
            self.sum -= old;
            self.squares -= old * old;
        }
        if let Some(slot) = self.ring.get_mut(self.at) {
            *slot = x;
        }
        self.at = (self.at + 1) % WINDOW;
        self.filled = (self.filled + 1).min(WINDOW);
        self.sum += x;
        self.squares += x * x;
        let n = self.filled as f64;
        let deviation = (self.squares / n - (self.sum / n).powi(2)).max(0.0).sqrt();
        if deviation <= STEADY_CENTS {
            self.run += 1;
            self.longest = self.longest.max(self.run);
        } else {
            self.clear_window();
        }
    }

    /// The longest run so far, seconds.
    pub(super) fn longest_s(&self) -> f64 {
        self.longest as f64 / FRAMES_PER_S
    }

    fn clear_window(&mut self) {
        (self.filled, self.at, self.sum, self.squares, self.run) = (0, 0, 0.0, 0.0, 0);
    }
}
