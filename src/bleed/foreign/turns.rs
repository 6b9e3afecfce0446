//! How the phase of each bin turns from one spectrum to another, on the average of late.

use super::lines::BINS;
use realfft::num_complex::Complex;

/// A turn whose square would underflow counts as silence.
const SILENT: f32 = 1e-18;

/// From each bin of an earlier spectrum to the newest one, as unit phasors.
pub(super) fn turns<'a>(
    newest: &'a [Complex<f32>],
    earlier: &'a [Complex<f32>],
) -> impl Iterator<Item = Complex<f32>> + 'a {
    newest.iter().zip(earlier).map(|(new, old)| {
        let turn = new * old.conj();
        turn / (turn.norm_sqr().sqrt() + SILENT)
    })
}

/// The running mean of the turns as unit phasors, per bin: it knows no loudness; its length tells how far the frequency
/// strays, its angle the frequency itself.
pub(super) struct Turns {
    mean: Vec<Complex<f32>>,
    /// Share of a new turn in the mean.
    new: f32,
    seen: u32,
}

impl Turns {
    pub(super) fn new(new: f32) -> Self {
        Self { mean: vec![Complex::new(0.0, 0.0); BINS], new, seen: 0 }
    }

    /// Takes the turns of a look; the first are a plain mean.
    pub(super) fn step(&mut self, turns: impl Iterator<Item = Complex<f32>>) {
        self.seen = self.seen.saturating_add(1);
        let share = self.new.max(1.0 / self.seen as f32);
        for (mean, turn) in self.mean.iter_mut().zip(turns) {
            *mean += (turn - *mean) * share;
        }
    }

    /// The mean, per bin.
    pub(super) fn mean(&self) -> &[Complex<f32>] {
        &self.mean
    }

    /// Turns so far.
    pub(super) fn seen(&self) -> u32 {
        self.seen
    }

    pub(super) fn reset(&mut self) {
        self.mean.fill(Complex::new(0.0, 0.0));
        self.seen = 0;
    }
}

/// The last turns themselves, of which any newest ones have a plain mean: what lies before them is forgotten at once.
pub(super) struct Last {
    /// In a ring.
    turns: Vec<Vec<Complex<f32>>>,
    newest: usize,
    mean: Vec<Complex<f32>>,
    seen: usize,
}

impl Last {
    /// So many.
    pub(super) fn new(count: usize) -> Self {
        let none = || vec![Complex::new(0.0, 0.0); BINS];
        Self { turns: (0..count).map(|_| none()).collect(), newest: 0, mean: none(), seen: 0 }
    }

    /// Takes the turns of a look.
    pub(super) fn step(&mut self, turns: impl Iterator<Item = Complex<f32>>) {
        self.seen = (self.seen + 1).min(self.turns.len());
        self.newest = if self.newest == 0 { self.turns.len() - 1 } else { self.newest - 1 };
        if let Some(newest) = self.turns.get_mut(self.newest) {
            for (to, turn) in newest.iter_mut().zip(turns) {
                *to = turn;
            }
        }
    }

    /// The newest, per bin.
    pub(super) fn newest(&self) -> impl Iterator<Item = Complex<f32>> + '_ {
        self.turns.get(self.newest).into_iter().flatten().copied()
    }

    /// So many, newest first, each per bin; fewer where fewer were seen.
    pub(super) fn newest_of(&self, count: usize) -> impl Iterator<Item = &[Complex<f32>]> {
        let (later, sooner) = self.turns.split_at(self.newest);
        sooner.iter().chain(later).take(count.min(self.seen)).map(Vec::as_slice)
    }

    /// The mean of so many, per bin; `None` before so many were seen.
    pub(super) fn mean(&mut self, count: usize) -> Option<&[Complex<f32>]> {
        if count > self.seen {
            return None;
        }
        self.mean.fill(Complex::new(0.0, 0.0));
        let (later, sooner) = self.turns.split_at(self.newest);
        for turns in sooner.iter().chain(later).take(count) {
            for (mean, turn) in self.mean.iter_mut().zip(turns) {
                *mean += turn;
            }
        }
        let share = 1.0 / count as f32;
        self.mean.iter_mut().for_each(|mean| *mean *= share);
        Some(&self.mean)
    }

    pub(super) fn reset(&mut self) {
        self.seen = 0;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_last_turns_are_those_and_no_others() {
        let mut last = Last::new(3);
        let one = vec![Complex::new(1.0, 0.0); BINS];
        for (seen, angle) in [2.0, 0.1, 0.2, 0.3f32].into_iter().enumerate() {
            assert_eq!(last.mean(3).is_some(), seen == 3);
            last.step(turns(&vec![Complex::from_polar(7.0, angle); BINS], &one));
        }
        for (count, mean) in [(1, 0.3), (2, 0.25), (3, 0.2f32)] {
            assert!((last.mean(count).unwrap()[5].arg() - mean).abs() < 1e-6);
        }
        assert!(last.mean(4).is_none());
        last.reset();
        assert!(last.mean(1).is_none());
    }
}
