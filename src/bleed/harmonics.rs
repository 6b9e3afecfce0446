//! Where in a long spectrum a voice may lie: around the harmonics of all that it sang under the window.
//!
//! In: one f0 a hop, where there was a voice. Out: for how long of the window a bin was the voice's. The window that is spoken of is long
//! against a note, so every hop's harmonics count. Cost: two sums a hop and harmonic when asked, one a bin.

use crate::units::{Hertz, num};

/// Half the main lobe of a Hann window, and one: bins.
const LOBE: f32 = 3.0;
/// A throat flutters by some 5 cents, and f0 is not known better: share of the frequency.
const FLUTTER: f32 = 0.003;
/// f0 that jumps by more than this share is another note, not a glide.
const JUMP: f32 = 0.06;

pub(super) struct Harmonics {
    /// f0 of the last hops in bins, 0 where there was no voice.
    sung: Vec<f32>,
    newest: usize,
    voiced: usize,
    edges: Vec<i32>,
    bins_per_hz: f64,
}

impl Harmonics {
    /// For a window of so many samples, its transform's length, at `rate` Hz, `hop` samples a hop.
    pub(super) fn new(window: usize, rate: f64, hop: usize) -> Self {
        Self {
            sung: vec![0.0; window.div_ceil(hop)],
            newest: 0,
            voiced: 0,
            edges: vec![0; window / 2 + 2],
            bins_per_hz: window as f64 / rate,
        }
    }

    pub(super) fn push(&mut self, f0: Option<Hertz>) {
        self.newest = (self.newest + 1) % self.sung.len().max(1);
        if let Some(place) = self.sung.get_mut(self.newest) {
            let bins = f0.map_or(0.0, |f0| num::single(f0.0 * self.bins_per_hz).max(0.0));
            self.voiced -= usize::from(*place > 0.0);
            self.voiced += usize::from(bins > 0.0);
            *place = bins;
        }
    }

    /// The share of the window's hops that had a voice.
    pub(super) fn share(&self) -> f32 {
        self.voiced as f32 / self.sung.len() as f32
    }

    /// Says of each bin for which share of the window it was the voice's.
    pub(super) fn mark(&mut self, bins: &mut [f32]) {
        self.edges.fill(0);
        let (later, sooner) = self.sung.split_at((self.newest + 1).min(self.sung.len()));
        let mut before = 0.0f32;
        for &f0 in sooner.iter().chain(later) {
            if f0 > 0.0 {
                let step = (f0 - before).abs();
                let glide = if step < JUMP * f0 { 0.5 * step } else { 0.0 };
                let mut centre = f0;
                let mut k = 1.0;
                while centre < bins.len() as f32 {
                    let half = LOBE + FLUTTER * centre + k * glide;
                    let (from, to) =
                        (num::index(f64::from(centre - half).max(0.0)), num::index(f64::from(centre + half)) + 1);
                    for (at, change) in [(from, 1), (to, -1)] {
                        let last = self.edges.len() - 1;
                        if let Some(edge) = self.edges.get_mut(at.min(last)) {
                            *edge += change;
                        }
                    }
                    k += 1.0;
                    centre = k * f0;
                }
            }
            before = f0;
        }
        let mut covered = 0;
        for (bin, edge) in bins.iter_mut().zip(&self.edges) {
            covered += edge;
            *bin = covered.max(0) as f32 / self.sung.len() as f32;
        }
    }

    pub(super) fn reset(&mut self) {
        self.sung.fill(0.0);
        self.newest = 0;
        self.voiced = 0;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::input::HOP;

    #[test]
    fn harmonics_are_the_voices_and_what_lies_between_is_not() {
        let mut harmonics = Harmonics::new(8192, 8192.0, HOP / 2);
        let mut bins = [0.0; 4097];
        harmonics.mark(&mut bins);
        assert!(bins.iter().all(|share| *share == 0.0));
        for f0 in [None, Some(Hertz(200.0)), Some(Hertz(202.0)), None] {
            harmonics.push(f0);
        }
        harmonics.mark(&mut bins);
        for k in 1..20 {
            // Both values and what the voice passed on its way, and 5 Hz beside.
            assert!((200 * k..=202 * k).all(|bin| bins[bin] > 0.0), "{k}");
            assert!(bins[200 * k - 4 - k] == 0.0, "{k}");
            assert!(bins[202 * k + 6 + 2 * k] == 0.0 || k > 12, "{k}");
        }
        // Of two hops both lie in the middle between their values.
        assert!((bins[201] - 2.0 / 205.0).abs() < 1e-6, "{}", bins[201]);
        assert!((harmonics.share() - 2.0 / 205.0).abs() < 1e-6);
        for _ in 0..205 {
            harmonics.push(None);
        }
        harmonics.mark(&mut bins);
        assert!(bins.iter().all(|share| *share == 0.0) && harmonics.share() == 0.0);
    }
}
