//! How far f0 strays from a straight line: a throat flutters and scoops, a string settles smoothly.
//!
//! In: the f0 of each frame, where there is one with a voice. Out: the standard deviation about the least-squares line
//! through the last frames of one note, cents. Cost: two sums over 20 numbers a hop.

use crate::units::Hertz;

/// Hops of a full look: 100 ms.
pub(super) const FULL: usize = 20;
/// Hops of the first look at a note: 30 ms.
const LEAST: usize = 6;
/// A leap beyond this begins another note, cents from hop to hop.
pub(super) const LEAP_CENTS: f64 = 40.0;

/// How far f0 strays, over how many hops.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Strays {
    pub(super) cents: f64,
    pub(super) hops: usize,
}

pub(super) struct Straight {
    /// Cents above 1 Hz, the newest first.
    line: [f64; FULL],
    hops: usize,
}

impl Straight {
    pub(super) fn new() -> Self {
        Self { line: [0.0; FULL], hops: 0 }
    }

    /// Takes a frame.
    pub(super) fn step(&mut self, f0: Option<Hertz>) -> Option<Strays> {
        let Some(f0) = f0 else {
            self.hops = 0;
            return None;
        };
        let cents = 1200.0 * f0.0.log2();
        let [before, ..] = self.line;
        self.hops = if self.hops > 0 && (cents - before).abs() < LEAP_CENTS { (self.hops + 1).min(FULL) } else { 1 };
        self.line.rotate_right(1);
        self.line[0] = cents;
        let seen = self.line.get(..self.hops).filter(|seen| seen.len() >= LEAST)?;
        Some(Strays { cents: about_line(seen), hops: self.hops })
    }

    pub(super) fn reset(&mut self) {
        self.hops = 0;
    }
}

/// Standard deviation about the least-squares line through equally spaced values.
fn about_line(values: &[f64]) -> f64 {
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    let (mut along, mut square) = (0.0, 0.0);
    for (i, value) in values.iter().enumerate() {
        along += (i as f64 - 0.5 * (n - 1.0)) * (value - mean);
        square += (value - mean).powi(2);
    }
    // The line takes (sum x y)^2 / sum x^2; sum x^2 = n (n^2 - 1) / 12.
    let line = along * along * 12.0 / (n * (n * n - 1.0));
    ((square - line).max(0.0) / n).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn last(cents: impl Fn(f64) -> f64, hops: u32) -> Option<Strays> {
        let mut straight = Straight::new();
        (0..hops).map(|i| straight.step(Some(Hertz(220.0 * (cents(f64::from(i)) / 1200.0).exp2())))).last().flatten()
    }

    #[test]
    fn a_glide_strays_by_nothing_and_a_flutter_by_its_deviation() {
        assert!(last(|i| 3.0 * i, 40).unwrap().cents < 1e-6);
        // Four swings of 2 cents to each side within the look: 2 / sqrt 2, hardly a slope among them.
        let flutter = last(|i| 2.0 * (std::f64::consts::TAU * 0.2 * i).sin(), 40).unwrap();
        assert!((flutter.cents - 2.0 / 2f64.sqrt()).abs() < 0.05 && flutter.hops == FULL, "{flutter:?}");
    }

    #[test]
    fn a_note_is_looked_at_from_30_ms_on_and_a_leap_begins_another() {
        assert_eq!(last(|_| 0.0, 5), None);
        assert_eq!(last(|_| 0.0, 6).map(|s| s.hops), Some(6));
        assert_eq!(last(|i| if i < 30.0 { 0.0 } else { 700.0 }, 36).map(|s| s.hops), Some(6));
        let mut straight = Straight::new();
        assert_eq!((0..30).filter_map(|_| straight.step(Some(Hertz(220.0)))).count(), 25);
        assert_eq!(straight.step(None), None);
        assert_eq!(straight.step(Some(Hertz(220.0))), None);
    }
}
