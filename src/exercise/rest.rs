//! When a rest is due: one counter for every exercise.
//!
//! In: readings. Out: whether a rest is due. After so much singing it is, until the voice was silent for long enough; nothing is
//! gained by going on. Constant cost.

use super::FRAME_S;
use crate::swara::SwaraReading;

/// Sung time after which a rest is due, seconds, and the silence that counts as a rest, seconds (our choices).
const AFTER_S: f64 = 180.0;
const SILENCE_S: f64 = 20.0;

/// Counts what was sung since the last rest.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Rest {
    sung_s: f64,
    silent_s: f64,
}

impl Rest {
    /// Takes a reading; one in which another voice sounds too is not the singer's.
    pub(super) fn push(&mut self, reading: &SwaraReading) {
        if reading.cents.is_some_and(|c| c.0.is_finite()) && !reading.frame.several {
            self.silent_s = 0.0;
            self.sung_s += FRAME_S;
            return;
        }
        self.silent_s += FRAME_S;
        if self.silent_s >= SILENCE_S {
            self.sung_s = 0.0;
        }
    }

    /// Whether a rest is due.
    pub(super) fn due(&self) -> bool {
        self.sung_s >= AFTER_S
    }
}

#[cfg(test)]
mod tests {
    use super::super::testing::reading;
    use super::*;

    #[test]
    fn a_rest_is_asked_for_and_given() {
        let mut rest = Rest::default();
        // Breaths are no rest.
        for _ in 0..18 {
            (0..2001).for_each(|_| rest.push(&reading(Some(0.0))));
            (0..400).for_each(|_| rest.push(&reading(None)));
        }
        assert!(rest.due());
        (0..3500).for_each(|_| rest.push(&reading(None)));
        assert!(rest.due(), "not silent for long enough");
        (0..501).for_each(|_| rest.push(&reading(None)));
        assert!(!rest.due());
    }
}
