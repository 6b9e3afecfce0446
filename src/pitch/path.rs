//! The likely course of the pitch over time, followed forward without looking ahead.
//!
//! In: the grid of correlation values. Out: the grid point at the end of the best path so far.
//! Method: Viterbi's recursion (1967) with the newest state taken each time; a step costs in
//! proportion to its size, a jump anywhere costs the same. Both by one pass up and one down, so that
//! the cost is linear in the grid.

use super::correlation::{LOWEST_HZ, STEP_CENTS};

/// Weight of the correlation value (chosen by data on sung clips).
const WEIGHT: f32 = 14.0;
/// Cost of a step of one grid point, 20 cents in 5 ms.
const STEP: f32 = 0.3;
/// Cost of a jump anywhere.
const JUMP: f32 = 12.0;
/// What an octave lower must make up for: without it every multiple of the period would do as well
/// (Boersma 1993 calls it octave cost, 0.01). The second times the root of the floor's share comes on
/// top, for noise left by the subtraction favours long periods.
const OCTAVE: f32 = 0.03;
const OCTAVE_NOISE: f32 = 0.15;
/// Octaves from one grid point to the next: 20 cents.
const OCTAVES_PER_POINT: f32 = 1.0 / 60.0;

/// The end of the best path.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Best {
    /// Hz.
    pub(crate) hz: f64,
    /// Correlation there, without the octave's share.
    pub(crate) value: f32,
}

pub(crate) struct Path {
    scores: Vec<f32>,
}

impl Path {
    /// For a grid of so many points.
    pub(crate) fn new(points: usize) -> Self {
        Self { scores: vec![0.0; points] }
    }

    pub(crate) fn step(&mut self, grid: &[f32], noise_share: f32) -> Best {
        let top = self.scores.iter().copied().fold(f32::MIN, f32::max);
        let octave = OCTAVE + OCTAVE_NOISE * noise_share.sqrt();
        let mut carried = f32::MIN;
        for score in &mut self.scores {
            carried = (carried - STEP).max(*score);
            *score = carried;
        }
        carried = f32::MIN;
        for score in self.scores.iter_mut().rev() {
            carried = (carried - STEP).max(*score);
            *score = carried.max(top - JUMP) - top;
        }
        let (mut best, mut at) = (f32::MIN, 0);
        for (i, (score, value)) in self.scores.iter_mut().zip(grid).enumerate() {
            let octaves = i as f32 * OCTAVES_PER_POINT;
            *score += WEIGHT * (value.min(1.0) + octave * octaves);
            if *score > best {
                (best, at) = (*score, i);
            }
        }
        Best { hz: LOWEST_HZ * (at as f64 * STEP_CENTS / 1200.0).exp2(), value: grid.get(at).copied().unwrap_or(0.0) }
    }

    pub(crate) fn reset(&mut self) {
        self.scores.fill(0.0);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A grid with peaks of the given heights at the given points.
    fn grid(peaks: &[(usize, f32)]) -> Vec<f32> {
        (0..270_u16)
            .map(|i| {
                let near = peaks.iter().map(|(at, height)| height - 0.1 * (f32::from(i) - *at as f32).abs());
                near.fold(0.0, f32::max)
            })
            .collect()
    }

    fn point(best: Best) -> f64 {
        (best.hz / LOWEST_HZ).log2() * 1200.0 / STEP_CENTS
    }

    #[test]
    fn of_equal_peaks_an_octave_apart_the_higher_is_the_pitch() {
        let mut path = Path::new(270);
        let best = (0..20).map(|_| path.step(&grid(&[(100, 0.95), (160, 0.95)]), 0.0)).last().unwrap();
        assert!((point(best) - 160.0).abs() < 1e-6);
    }

    #[test]
    fn one_wrong_frame_does_not_move_the_path_and_a_true_leap_does() {
        let mut path = Path::new(270);
        for _ in 0..20 {
            path.step(&grid(&[(100, 0.95)]), 0.0);
        }
        assert!((point(path.step(&grid(&[(100, 0.6), (160, 0.95)]), 0.0)) - 100.0).abs() < 1e-6);
        let after = (0..4).map(|_| point(path.step(&grid(&[(130, 0.95)]), 0.0))).last().unwrap();
        assert!((after - 130.0).abs() < 1e-6, "{after}");
    }
}
