//! Learns the drone's way from the loudspeaker to the microphone while both go on.
//!
//! In: hops of the drone as sent and of the microphone, 16 kHz, and whether a voice is heard. Out: from time to time,
//! new taps of the path: 560 ms from the moment of sending on, up to 4 kHz.
//!
//! Method: a Kalman filter in the frequency domain (Enzner and Vary 2006), one complex gain a bin with its own
//! uncertainty, at 8 kHz. Against the paper's rectangular blocks, the update sees the last second through a Hann window:
//! the partials of a voice then stay in few bins and leave the others clean, and so do the drone's (by 4 to 10 dB more of
//! it removed on own mixtures). The error in that window is computed anew with the newest path, so that nothing
//! old is counted. Cost: seven real FFTs of 8192 and 16384 every [`BLOCK`] samples.

use super::half::{Half, SIDE, between, double};
use super::transform::Transform;
use crate::input::HOP;
use crate::units::num;
use realfft::num_complex::Complex;

/// Taps of the path at 16 kHz: 560 ms, 500 of delay and some of a room; whole hops.
pub(super) const TAPS: usize = 112 * HOP;
/// Taps at 8 kHz.
const HALF_TAPS: usize = TAPS / 2;
/// The window that an update sees, samples at 8 kHz: 1.02 s, longer than the path.
const WINDOW: usize = 8192;
const BINS: usize = WINDOW / 2 + 1;
/// Transform in which the path's output over a whole window does not wrap.
const LONG: usize = 2 * WINDOW;
/// Drone kept: the window and the path before it.
const KEPT: usize = WINDOW + HALF_TAPS;
/// Hops from one update to the next.
const EVERY: usize = 13;
/// Samples at 8 kHz from one update to the next.
pub(super) const BLOCK: usize = EVERY * HOP / 2;

/// Uncertainty of a bin at first, times the share of the drone's power that comes through: a little more than one, so that
/// the first update takes most of what it sees (chosen on own mixtures; 1 to 16 differ by 3 dB).
const SURE: f32 = 4.0;
/// How much more noise is assumed than the error shows: none, since errors of neighbouring windows are not the same.
const OVERLAP: f32 = 1.0;
/// How many times more while a voice is heard: a true Sa is coherent with the drone (chosen on own mixtures).
const HOLD: f32 = 3.0;
/// Windows overlap, and each sees but a part that is new: certainty grows by so much of a whole window's worth per new
/// share (chosen on own mixtures; 2 to 4.5 differ by 1 dB).
const FASTER: f32 = 3.0;
/// How far the path may have strayed from one update to the next, as a share of its power (Enzner and Vary 2006: 1 - A^2).
const DRIFT: f32 = 2e-4;
/// Power of the drone in the window below which nothing is learned: -100 dBFS.
const SILENT: f32 = 1e-4;

pub(super) struct Path {
    drone: Vec<f32>,
    microphone: Vec<f32>,
    halves: [Half; 2],
    hops: usize,
    voiced: usize,
    taps: Vec<f32>,
    wide: Vec<f32>,
    between: [f32; 2 * SIDE],
    uncertain: Vec<f32>,
    coupled: f32,
    shape: Vec<f32>,
    error: Vec<f32>,
    long: Transform,
    short: Transform,
    sent: Vec<Complex<f32>>,
    gained: Vec<Complex<f32>>,
    strength: Vec<f32>,
}

impl Path {
    pub(super) fn new() -> Self {
        Self {
            drone: vec![0.0; KEPT],
            microphone: vec![0.0; WINDOW],
            halves: [Half::new(), Half::new()],
            hops: 0,
            voiced: 0,
            taps: vec![0.0; HALF_TAPS],
            wide: vec![0.0; TAPS],
            between: between(),
            uncertain: vec![0.0; BINS],
            coupled: 0.0,
            shape: (0..WINDOW)
                .map(|i| num::single(0.5 - 0.5 * (std::f64::consts::TAU * (i as f64 + 0.5) / WINDOW as f64).cos()))
                .collect(),
            error: vec![0.0; WINDOW],
            long: Transform::new(LONG),
            short: Transform::new(WINDOW),
            sent: vec![Complex::new(0.0, 0.0); BINS],
            gained: vec![Complex::new(0.0, 0.0); LONG / 2 + 1],
            strength: vec![0.0; BINS],
        }
    }

    /// Takes a hop of both; true where the taps have changed.
    pub(super) fn step(&mut self, sent: &[f32; HOP], heard: &[f32; HOP], voiced: bool) -> bool {
        let Self { drone, microphone, halves: [of_drone, of_microphone], .. } = self;
        for (kept, half, hop) in [(drone, of_drone, sent), (microphone, of_microphone, heard)] {
            let rest = kept.len() - HOP / 2;
            kept.copy_within(HOP / 2.., 0);
            for (to, pair) in kept.iter_mut().skip(rest).zip(hop.as_chunks::<2>().0) {
                *to = half.step(*pair);
            }
        }
        self.hops += 1;
        self.voiced += usize::from(voiced);
        if self.hops < EVERY {
            return false;
        }
        let share = self.voiced as f32 / EVERY as f32;
        self.hops = 0;
        self.voiced = 0;
        self.update(share)
    }

    fn update(&mut self, voiced: f32) -> bool {
        // What the newest path makes of the drone, over the whole window.
        for (to, from) in self.gained.iter_mut().zip(self.long.forward(self.taps.iter().copied())) {
            *to = *from;
        }
        for (to, from) in self.strength.iter_mut().zip(self.gained.iter().step_by(2)) {
            *to = from.norm_sqr();
        }
        for (to, from) in self.gained.iter_mut().zip(self.long.forward(self.drone.iter().copied())) {
            *to *= *from;
        }
        let heard = self.long.inverse(self.gained.iter().copied());
        for ((to, y), d) in self.error.iter_mut().zip(&self.microphone).zip(heard.iter().skip(HALF_TAPS)) {
            *to = y - d / LONG as f32;
        }
        let windowed = self.drone.iter().skip(HALF_TAPS).zip(&self.shape).map(|(x, w)| x * w);
        for (to, from) in self.sent.iter_mut().zip(self.short.forward(windowed)) {
            *to = *from;
        }
        let windowed = self.error.iter().zip(&self.shape).map(|(x, w)| x * w);
        let error = self.short.forward(windowed);
        // How much of the drone comes through, by its own strongest bins: the geometric mean over them, since a voice
        // fills but few of them.
        let (mut weight, mut sum) = (0.0f32, 0.0f32);
        for (e, x) in error.iter().zip(&self.sent) {
            let x2 = x.norm_sqr();
            weight += x2;
            sum += x2 * ((e.norm_sqr() + 1e-12) / (x2 + 1e-12)).ln();
        }
        if weight < SILENT {
            return false;
        }
        let coupling = SURE * (sum / weight).exp();
        if coupling > self.coupled {
            let raise = if self.coupled > 0.0 { coupling / self.coupled } else { 0.0 };
            for p in &mut self.uncertain {
                *p = if raise > 0.0 { *p * raise } else { coupling };
            }
            self.coupled = coupling;
        }
        let ov = OVERLAP * (1.0 + HOLD * voiced);
        let fade = FASTER * (2 * BLOCK) as f32 / (2.0 * WINDOW as f32);
        let drift = DRIFT;
        for ((to, p), (s, (e, x))) in
            self.gained.iter_mut().zip(&mut self.uncertain).zip(self.strength.iter().zip(error.iter().zip(&self.sent)))
        {
            let x2 = x.norm_sqr();
            let share = *p / (*p * x2 + ov * e.norm_sqr() + 1e-12);
            *to = x.conj() * e * share;
            *p = *p * (1.0 - fade * share * x2).max(0.1) + drift * s;
        }
        let change = self.short.inverse(self.gained.iter().take(BINS).copied());
        for (tap, d) in self.taps.iter_mut().zip(change) {
            *tap += d / WINDOW as f32;
        }
        true
    }

    /// The taps at 16 kHz.
    pub(super) fn taps(&mut self) -> &[f32] {
        double(&self.taps, &self.between, &mut self.wide);
        &self.wide
    }

    pub(super) fn reset(&mut self) {
        self.drone.fill(0.0);
        self.microphone.fill(0.0);
        self.halves.iter_mut().for_each(Half::reset);
        self.hops = 0;
        self.voiced = 0;
        self.taps.fill(0.0);
        self.uncertain.fill(0.0);
        self.coupled = 0.0;
    }
}
