//! What sounds without the voice, learned while there is none, so that it can be taken away.
//!
//! In: the long power spectrum and whether there is a voice. Out: a gain per bin, 0.003 to 1, and how
//! much of the sound is floor. Spectral subtraction (Boll 1979) with over-subtraction 1.3 (Berouti et
//! al. 1979). Another floor (the power of a known drone) can be added per bin before weighing.

use super::spectrum::LONG_BINS;

/// Floors subtracted (Berouti, Schwartz and Makhoul 1979 use 1 to 5; chosen by data on sung clips).
const SUBTRACTED: f32 = 1.3;
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
/// Hops until the long window is full, before which nothing is learned.
const FILLED_HOPS: u32 = 8;
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

/// What is left of `power` after the floor is taken away, as a share of it.
pub(crate) fn gain(power: f32, floor: f32) -> f32 {
    if power > 0.0 { (1.0 - SUBTRACTED * floor / power).max(LEAST_GAIN) } else { LEAST_GAIN }
}

pub(crate) struct Floor {
    power: Vec<f32>,
    extra: Vec<f32>,
    /// Floor and what is known from elsewhere, as of the frame that was weighed last.
    all: Vec<f32>,
    gains: Vec<f32>,
    learned: u32,
    clear: u32,
    heard: u32,
}

impl Floor {
    pub(crate) fn new() -> Self {
        Self {
            power: vec![0.0; LONG_BINS],
            extra: vec![0.0; LONG_BINS],
            all: vec![0.0; LONG_BINS],
            gains: vec![1.0; LONG_BINS],
            learned: 0,
            clear: 0,
            heard: 0,
        }
    }

    /// Floor and what is known from elsewhere, per bin.
    pub(crate) fn all(&self) -> &[f32] {
        &self.all
    }

    /// Sets the gains for this frame.
    pub(crate) fn weigh(&mut self, spectrum: &[f32]) -> Noise {
        let (mut signal, mut noise) = (0.0f32, 0.0f32);
        for ((all, floor), extra) in self.all.iter_mut().zip(&self.power).zip(&self.extra) {
            *all = floor + extra;
        }
        for ((gain, power), floor) in self.gains.iter_mut().zip(spectrum).zip(&self.all) {
            *gain = self::gain(*power, *floor);
            signal += (power - SUBTRACTED * floor).max(0.0);
            noise += floor.min(*power);
        }
        self.spread();
        let sum = signal + noise;
        Noise {
            share: if sum > 0.0 { noise / sum } else { 1.0 },
            ratio: if signal > 0.0 { (noise / signal).min(100.0) } else { 100.0 },
        }
    }

    /// Gives each bin the greatest gain of itself and its neighbours: what is left of a line keeps its
    /// skirts, without which its window would seem longer than it is and every multiple of a period better.
    fn spread(&mut self) {
        let (mut before, mut here) = (0.0f32, self.gains.first().copied().unwrap_or(0.0));
        for i in 0..self.gains.len() {
            let after = self.gains.get(i + 1).copied().unwrap_or(0.0);
            if let Some(gain) = self.gains.get_mut(i) {
                *gain = before.max(here).max(after);
            }
            (before, here) = (here, after);
        }
    }

    /// Learns from a frame without a voice.
    pub(crate) fn learn(&mut self, spectrum: &[f32], voiced: bool, value: f32) {
        if voiced {
            self.clear = 0;
            return;
        }
        self.heard = self.heard.saturating_add(1);
        self.clear = self.clear.saturating_add(1);
        if self.heard < FILLED_HOPS {
            return;
        }
        if self.clear < CLEAR_HOPS && self.learned >= FIRST_HOPS || value > MAYBE_VOICE {
            return;
        }
        self.learned = self.learned.saturating_add(1);
        let up = if self.learned <= FIRST_HOPS { 1.0 / self.learned as f32 } else { UP };
        self.follow(spectrum, up, up.max(DOWN));
    }

    /// Learns from a frame that is too steady to be a throat.
    pub(crate) fn learn_lines(&mut self, spectrum: &[f32]) {
        self.follow(spectrum, DOWN, DOWN);
    }

    fn follow(&mut self, spectrum: &[f32], up: f32, down: f32) {
        for (floor, power) in self.power.iter_mut().zip(spectrum) {
            *floor += (if power > floor { up } else { down }) * (power - *floor);
        }
    }

    pub(crate) fn gains(&self) -> &[f32] {
        &self.gains
    }

    pub(crate) fn power(&self) -> &[f32] {
        &self.power
    }

    /// The power that is known to come from elsewhere in the next frame, per bin of the long spectrum.
    pub(crate) fn know(&mut self, power: &[f32]) {
        let told = power.iter().copied().map(|p| if p.is_finite() { p.max(0.0) } else { 0.0 });
        for (to, from) in self.extra.iter_mut().zip(told.chain(std::iter::repeat(0.0))) {
            *to = from;
        }
    }

    pub(crate) fn reset(&mut self) {
        self.power.fill(0.0);
        self.extra.fill(0.0);
        self.all.fill(0.0);
        self.gains.fill(1.0);
        self.learned = 0;
        self.clear = 0;
        self.heard = 0;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_was_learned_is_taken_away_and_the_rest_is_left() {
        let mut floor = Floor::new();
        let room = vec![2.0; LONG_BINS];
        for _ in 0..100 {
            floor.learn(&room, false, 0.0);
        }
        let mut sound = room.clone();
        sound[100] += 200.0;
        let noise = floor.weigh(&sound);
        // Berouti et al. 1979: what is left is power less 1.3 floors; neighbours share the greatest gain.
        let gain = (202.0 - 1.3 * 2.0) / 202.0;
        assert!((floor.gains()[99..=101].iter().all(|g| (g - gain).abs() < 1e-4)));
        assert!(floor.gains()[150] <= LEAST_GAIN);
        assert!((noise.ratio - 2.0 * LONG_BINS as f32 / 199.4).abs() < 0.01, "{}", noise.ratio);
    }

    #[test]
    fn a_voice_is_not_learned_and_what_is_told_counts_once() {
        let mut floor = Floor::new();
        let voice = vec![5.0; LONG_BINS];
        for _ in 0..100 {
            floor.learn(&voice, true, 0.9);
            floor.learn(&voice, false, 0.9);
        }
        assert!(floor.power().iter().all(|p| *p == 0.0));
        floor.know(&voice);
        assert!((floor.weigh(&voice).share - 1.0).abs() < 1e-6);
        floor.know(&[f32::NAN]);
        assert_eq!(floor.weigh(&voice), Noise::default());
    }
}
