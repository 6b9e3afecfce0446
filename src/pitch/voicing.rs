//! Whether a voice sounds: a decision of its own, with a little memory.
//!
//! In: the correlation on the path, how much of the frame is floor, and the power of the short window
//! after the gains. Out: voiced or not. Method: two states whose balance is pushed by the evidence of
//! each frame and limited, so that neither can be left behind by more than a frame or two. What noise
//! does to the correlation of a true voice is allowed for: the threshold falls as the floor's share
//! grows. A voice that has stopped still fills half of the long window: the short one, far below the
//! level just held, says so at once.

use super::floor::Noise;
use crate::input::{ANALYSIS_RATE_HZ, HOP};
use crate::units::num;

/// Threshold on the correlation in clean sound, and in sound that is all floor (chosen by data).
const CLEAN: f32 = 0.55;
const NOISY: f32 = 0.36;
/// How strongly floor beside the signal discounts the correlation.
const DISCOUNT: f32 = 0.4;
/// Push per hop and unit of correlation above the threshold.
const PUSH: f32 = 5.0;
/// The balance goes no further than this.
const LIMIT: f32 = 1.3;
/// Mean square below which nothing is a voice: -85 dBFS.
const SILENT: f64 = 3.2e-9;
/// Decibels below the level just held at which the end of a voice begins to be believed, and over how
/// many more it grows to the full push (chosen by data; a sung phrase seldom falls so far so fast).
const DROP_DB: (f32, f32) = (22.0, 5.0);
/// The full push of a drop.
const DROP_PUSH: f32 = 6.0;
/// How fast the level held is forgotten, dB/s: faster than any phrase fades, slower than a breath.
const FORGET_DB_S: f64 = 100.0;

/// The decision for a frame.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Decision {
    pub(crate) voiced: bool,
    /// 0 to 1.
    pub(crate) confidence: f32,
}

pub(crate) struct Voicing {
    balance: f32,
    /// Power of the short window at the strongest of late.
    held: f32,
    /// What it keeps from hop to hop.
    keeps: f32,
}

impl Voicing {
    pub(crate) fn new() -> Self {
        let per_hop = FORGET_DB_S * HOP as f64 / ANALYSIS_RATE_HZ;
        Self { balance: -LIMIT, held: 0.0, keeps: num::single(10f64.powf(-per_hop / 10.0)) }
    }

    /// `value`: correlation on the path; `short`: power of the short window after the gains; `power`:
    /// mean square of the samples.
    pub(crate) fn step(&mut self, value: f32, noise: Noise, short: f32, power: f64) -> Decision {
        let discounted = value / (1.0 + DISCOUNT * noise.ratio);
        let threshold = CLEAN + (NOISY - CLEAN) * noise.share;
        self.held = (self.held * self.keeps).max(short * discounted.clamp(0.0, 1.0));
        let drop = -10.0 * (short.max(f32::MIN_POSITIVE) / self.held.max(f32::MIN_POSITIVE)).log10();
        let ended = ((drop - DROP_DB.0) / DROP_DB.1).clamp(0.0, 1.0);
        let push = if power < SILENT { -LIMIT } else { PUSH * (discounted - threshold) - DROP_PUSH * ended };
        self.balance = (self.balance + push).clamp(-LIMIT, LIMIT);
        let confidence = 0.5 + 0.5 * f64::from(self.balance / LIMIT);
        Decision { voiced: self.balance > 0.0, confidence: num::single(confidence.clamp(0.0, 1.0)) }
    }

    pub(crate) fn reset(&mut self) {
        self.balance = -LIMIT;
        self.held = 0.0;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const CLEAR: Noise = Noise { share: 0.0, ratio: 0.0 };

    #[test]
    fn a_voice_begins_within_three_hops_and_ends_within_two_of_falling_silent() {
        let mut voicing = Voicing::new();
        let begun = (1..9).find(|_| voicing.step(0.98, CLEAR, 1.0, 1e-2).voiced).unwrap();
        assert!(begun <= 3, "{begun}");
        for _ in 0..20 {
            voicing.step(0.98, CLEAR, 1.0, 1e-2);
        }
        // The long window still holds the voice, the short one is 40 dB down.
        let ended = (1..9).find(|_| !voicing.step(0.98, CLEAR, 1e-4, 5e-3).voiced).unwrap();
        assert!(ended <= 2, "{ended}");
    }

    #[test]
    fn a_soft_voice_after_a_loud_one_is_heard_again() {
        let mut voicing = Voicing::new();
        for _ in 0..20 {
            voicing.step(0.98, CLEAR, 1.0, 1e-2);
        }
        // 30 dB softer: back within a fifth of a second at 100 dB/s.
        let heard = (1..200).filter(|_| voicing.step(0.98, CLEAR, 1e-3, 1e-5).voiced).count();
        assert!(heard > 160, "{heard}");
    }

    #[test]
    fn below_85_dbfs_nothing_is_a_voice() {
        let mut voicing = Voicing::new();
        assert!((0..50).all(|_| !voicing.step(1.0, CLEAR, 1e-9, 3e-9).voiced));
    }
}
