//! What sounds without the voice, learned while there is none, so that it can be taken away.
//!
//! In: the long power spectrum and whether there is a voice. Out: a gain per bin, 0.003 to 1, and how
//! much of the sound is floor. Spectral subtraction (Boll 1979) with over-subtraction 1.5 (Berouti et
//! al. 1979). Another floor (the power of a known drone) can be added per bin before weighing.

use super::spectrum::LONG_BINS;

/// Floors subtracted (Berouti, Schwartz and Makhoul 1979 use 1 to 5; chosen by data on sung clips).
const SUBTRACTED: f32 = 1.5;
/// The least gain: keeps a trace so that the correlation stays defined.
const LEAST_GAIN: f32 = 0.003;
/// How fast the floor follows a rising sound, per hop: slowly, or a soft onset is learned away.
const UP: f32 = 0.006;
/// How fast it follows a falling sound, per hop.
const DOWN: f32 = 0.1;
/// Unvoiced hops at the beginning over which the floor is a plain mean: a quarter of a second.
const FIRST_HOPS: u32 = 50;
/// Path value above which an unvoiced frame is left alone: it may be the beginning of a voice.
const MAYBE_VOICE: f32 = 0.55;
/// Hops without a voice before the floor is learned: the long window must have left the voice.
const CLEAR_HOPS: u32 = 8;

/// How much of a frame is floor.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(crate) struct Noise {
    /// floor / (signal + floor), 0 to 1.
    pub(crate) share: f32,
    /// floor / signal.
    pub(crate) ratio: f32,
}

pub(crate) struct Floor {
    power: Vec<f32>,
    extra: Vec<f32>,
    gains: Vec<f32>,
    learned: u32,
    clear: u32,
}

impl Floor {
    pub(crate) fn new() -> Self {
        Self {
            power: vec![0.0; LONG_BINS],
            extra: vec![0.0; LONG_BINS],
            gains: vec![1.0; LONG_BINS],
            learned: 0,
            clear: 0,
        }
    }

    /// Sets the gains for this frame.
    pub(crate) fn weigh(&mut self, spectrum: &[f32]) -> Noise {
        let (mut signal, mut noise) = (0.0f32, 0.0f32);
        for (((gain, power), floor), extra) in self.gains.iter_mut().zip(spectrum).zip(&self.power).zip(&self.extra) {
            let floor = floor + extra;
            let left = power - SUBTRACTED * floor;
            *gain = if *power > 0.0 { (left / power).max(LEAST_GAIN) } else { LEAST_GAIN };
            signal += left.max(0.0);
            noise += floor.min(*power);
        }
        let sum = signal + noise;
        Noise {
            share: if sum > 0.0 { noise / sum } else { 1.0 },
            ratio: if signal > 0.0 { (noise / signal).min(100.0) } else { 100.0 },
        }
    }

    /// Learns from a frame without a voice, or from one that is too steady to be a throat.
    pub(crate) fn learn(&mut self, spectrum: &[f32], voiced: bool, value: f32, too_steady: bool) {
        if voiced && !too_steady {
            self.clear = 0;
            return;
        }
        self.clear = self.clear.saturating_add(1);
        if !too_steady && (self.clear < CLEAR_HOPS && self.learned >= FIRST_HOPS || value > MAYBE_VOICE) {
            return;
        }
        self.learned = self.learned.saturating_add(1);
        let first = self.learned <= FIRST_HOPS;
        let mean = 1.0 / self.learned.max(1) as f32;
        for (floor, power) in self.power.iter_mut().zip(spectrum) {
            let rate = match (first, too_steady, power > floor) {
                (_, true, true) => DOWN,
                (true, ..) => mean,
                (false, _, true) => UP,
                (false, _, false) => DOWN,
            };
            *floor += rate * (power - *floor);
        }
    }

    pub(crate) fn gains(&self) -> &[f32] {
        &self.gains
    }

    pub(crate) fn power(&self) -> &[f32] {
        &self.power
    }

    pub(crate) fn reset(&mut self) {
        self.power.fill(0.0);
        self.extra.fill(0.0);
        self.gains.fill(1.0);
        self.learned = 0;
        self.clear = 0;
    }
}
