//! Takes steady lines out of the sound, sample by sample and without delay.
//!
//! In: hops at 16 kHz, the lines' frequencies and which of them to leave as they are for now. Out: what was taken for the
//! lines, to be subtracted. Method: the adaptive noise canceller with sinusoids as reference (Widrow et al. 1975), which is
//! a notch of fixed width at each (Glover 1977), all driven by one error. While it is louder than the drone alone, no line is
//! taken for stronger than it was in the drone alone. Cost: ten operations a line and sample, and some a line and hop.

use super::lines::Line;
use crate::input::{ANALYSIS_RATE_HZ, HOP};
use crate::units::num;
use std::f64::consts::TAU;

/// The most lines at once.
const MOST: usize = 256;
/// Half width of a notch, Hz.
const HALF_HZ: f64 = 2.0;
/// How much faster, and wider, the notches learn a string that was plucked under a voice: within 30 ms.
const PLUCKED: f32 = 2.5;
/// Lines nearer than this share the width of one notch.
const SHARED_HZ: f64 = 16.0;
/// Time in which a line that is left alone fades to 1/e, seconds: as a plucked string does.
const FADE_S: f64 = 1.0;
/// How much of the greatest square stays from hop to hop: half of it after 17 s, three pluck cycles.
const FORGET: f32 = 0.9998;
/// How much it grows from hop to hop where it is passed, 12 dB/s: a string that was never plucked so hard is learned, and a voice
/// on its pitch is found before it is (chosen on sung clips; 8 to 15 differ little).
const GROWS: f32 = 1.0139;
/// A line is found half a second and more after its pluck: it was stronger by so much, 6 dB, where all of it was heard under a
/// voice.
const LATE: f32 = 4.0;

pub(super) struct Bank {
    re: [f32; MOST],
    im: [f32; MOST],
    cos: [f32; MOST],
    sin: [f32; MOST],
    learn: [f32; MOST],
    rate: [f32; MOST],
    keep: [f32; MOST],
    /// The greatest square of each line's amplitude while the drone sounded alone; with a minus, `-0.0` to begin with, what it
    /// may have been at its pluck where it has never sounded alone.
    most: [f32; MOST],
    /// The bin of each slot's line; 0: free.
    bin: [usize; MOST],
    hz: [f64; MOST],
    used: usize,
}

impl Bank {
    pub(super) fn new() -> Self {
        Self {
            re: [0.0; MOST],
            im: [0.0; MOST],
            cos: [0.0; MOST],
            sin: [0.0; MOST],
            learn: [0.0; MOST],
            rate: [0.0; MOST],
            keep: [0.0; MOST],
            most: [-0.0; MOST],
            bin: [0; MOST],
            hz: [0.0; MOST],
            used: 0,
        }
    }

    /// Takes over the lines as they are now.
    pub(super) fn follow(&mut self, lines: &[Line]) {
        for slot in 0..MOST {
            let bin = self.bin[slot];
            if bin == 0 {
                continue;
            }
            // The line may have moved to the next bin.
            let near = [bin, bin - 1, bin + 1];
            let best = near
                .into_iter()
                .filter(|b| !self.bin.contains(b) || *b == bin)
                .find_map(|b| lines.get(b).filter(|line| line.is()).map(|line| (b, line.hz)));
            match best {
                Some((b, hz)) => self.tune(slot, b, hz),
                None => self.free(slot),
            }
        }
        for (bin, line) in lines.iter().enumerate().filter(|(bin, line)| *bin > 0 && line.is()) {
            let taken = self.bin.iter().any(|b| *b != 0 && b.abs_diff(bin) <= 1);
            if taken {
                continue;
            }
            if let Some(slot) = self.bin.iter().position(|b| *b == 0) {
                self.tune(slot, bin, line.hz);
            }
        }
        let full = 2.0 * TAU * HALF_HZ / ANALYSIS_RATE_HZ;
        self.used = self.bin.iter().rposition(|b| *b != 0).map_or(0, |last| (last + 1).next_multiple_of(8)).min(MOST);
        for slot in 0..self.used {
            let near = |(bin, hz): (&usize, &f64)| {
                if *bin == 0 { 0.0 } else { (1.0 - (hz - self.hz[slot]).abs() / SHARED_HZ).max(0.0) }
            };
            let crowd: f64 = self.bin.iter().zip(&self.hz).take(self.used).map(near).sum();
            self.learn[slot] = num::single(full / crowd.max(1.0));
        }
    }

    fn tune(&mut self, slot: usize, bin: usize, hz: f64) {
        self.bin[slot] = bin;
        self.hz[slot] = hz;
        let (sin, cos) = (TAU * hz / ANALYSIS_RATE_HZ).sin_cos();
        self.cos[slot] = num::single(cos);
        self.sin[slot] = num::single(sin);
    }

    fn free(&mut self, slot: usize) {
        self.bin[slot] = 0;
        self.re[slot] = 0.0;
        self.im[slot] = 0.0;
        self.most[slot] = -0.0;
        self.rate[slot] = 0.0;
    }

    /// Lets all lines learn but those near a harmonic of `voice`, which fade; none in a `riddle`: far louder than
    /// the drone alone, and nobody knows why. `plucked`: a string was, under the voice.
    pub(super) fn guard(&mut self, voice: Option<f64>, riddle: bool, plucked: bool) {
        let speed = if plucked { PLUCKED } else { 1.0 };
        let fade = num::single((-1.0 / (FADE_S * ANALYSIS_RATE_HZ)).exp());
        for slot in 0..self.used {
            let sung = voice.is_some_and(|f0| super::near_harmonic(self.hz[slot], f0));
            self.rate[slot] = if self.bin[slot] == 0 || sung || riddle { 0.0 } else { speed * self.learn[slot] };
            self.keep[slot] = if sung { fade } else { 1.0 };
        }
    }

    /// What of the hop are the lines; `louder`: than the drone alone.
    pub(super) fn step(&mut self, hop: &[f32; HOP], louder: bool) -> [f32; HOP] {
        let mut taken = [0.0; HOP];
        for (to, x) in taken.iter_mut().zip(hop) {
            let mut sums = [0.0f32; 8];
            for part in self.re[..self.used].as_chunks::<8>().0 {
                for (sum, re) in sums.iter_mut().zip(part) {
                    *sum += re;
                }
            }
            let lines: f32 = sums.iter().sum();
            *to = lines;
            let error = x - lines;
            for i in 0..self.used {
                let re = self.keep[i] * self.re[i] + self.rate[i] * error;
                let im = self.keep[i] * self.im[i];
                self.re[i] = re * self.cos[i] - im * self.sin[i];
                self.im[i] = re * self.sin[i] + im * self.cos[i];
            }
        }
        self.bound(louder);
        taken
    }

    /// Learns how strong each line is, or keeps it from being more.
    fn bound(&mut self, louder: bool) {
        for slot in 0..self.used {
            let square = self.re[slot].powi(2) + self.im[slot].powi(2);
            let most = self.most[slot];
            if !louder {
                self.most[slot] = square.max(FORGET * most.abs());
            } else if most.is_sign_negative() {
                self.most[slot] = most.min(-LATE * square);
            } else if square > most {
                self.most[slot] *= GROWS;
                let less = (self.most[slot] / square).sqrt();
                self.re[slot] *= less;
                self.im[slot] *= less;
            }
        }
    }

    pub(super) fn reset(&mut self) {
        *self = Self::new();
    }
}

#[cfg(test)]
mod tests {
    use super::super::lines::Lines;
    use super::*;

    /// Power that a second of the bank leaves of two tones, dB, after a second of learning.
    fn left(voice: Option<f64>) -> f64 {
        let tone = |n: usize| {
            let t = n as f64 / ANALYSIS_RATE_HZ;
            num::single([220.0, 330.0, 440.0, 550.0].iter().map(|hz| 0.05 * (TAU * hz * t).sin()).sum())
        };
        let (mut lines, mut bank) = (Lines::new(), Bank::new());
        let (mut before, mut after) = (0.0, 0.0);
        for hop in 0..600 {
            let mut samples = [0.0; HOP];
            for (i, x) in samples.iter_mut().enumerate() {
                *x = tone(hop * HOP + i);
            }
            if lines.step(&samples, None, true) {
                bank.follow(lines.lines());
            }
            bank.guard(voice, false, false);
            let taken = bank.step(&samples, false);
            if hop >= 500 {
                before += samples.iter().map(|x| f64::from(x * x)).sum::<f64>();
                after += samples.iter().zip(taken).map(|(x, d)| f64::from((x - d).powi(2))).sum::<f64>();
            }
        }
        10.0 * (after / before).log10()
    }

    #[test]
    fn lines_are_taken_out_and_what_is_sung_is_left() {
        assert!(left(None) < -35.0, "{}", left(None));
        // Two of the four are harmonics of a voice at 220 Hz.
        let sung = left(Some(220.0));
        assert!((sung - 10.0 * 0.5f64.log10()).abs() < 0.3, "{sung}");
    }
}
