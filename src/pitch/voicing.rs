//! Whether a voice sounds: a decision of its own, with a little memory.
//!
//! In: the correlation on the path and how much of the frame is floor. Out: voiced or not. Method: two
//! states whose balance is pushed by the evidence of each frame and limited, so that neither can be
//! left behind by more than a frame or two. What noise does to the correlation of a true voice is
//! allowed for: the threshold falls as the floor's share grows.

use super::floor::Noise;
use crate::units::num;

/// Threshold on the correlation in clean sound, and in sound that is all floor (chosen by data).
const CLEAN: f32 = 0.62;
const NOISY: f32 = 0.42;
/// How strongly floor beside the signal discounts the correlation.
const DISCOUNT: f32 = 0.4;
/// Push per hop and unit of correlation above the threshold.
const PUSH: f32 = 10.0;
/// The balance goes no further than this.
const LIMIT: f32 = 3.0;
/// Mean square below which nothing is a voice: -85 dBFS.
const SILENT: f64 = 3.2e-9;

/// The decision for a frame.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Decision {
    pub(crate) voiced: bool,
    /// 0 to 1.
    pub(crate) confidence: f32,
}

pub(crate) struct Voicing {
    balance: f32,
}

impl Voicing {
    pub(crate) fn new() -> Self {
        Self { balance: -LIMIT }
    }

    pub(crate) fn step(&mut self, value: f32, noise: Noise, power: f64) -> Decision {
        let discounted = value / (1.0 + DISCOUNT * noise.ratio);
        let threshold = CLEAN + (NOISY - CLEAN) * noise.share;
        let push = if power < SILENT { -LIMIT } else { PUSH * (discounted - threshold) };
        self.balance = (self.balance + push).clamp(-LIMIT, LIMIT);
        let confidence = 0.5 + 0.5 * f64::from(self.balance / LIMIT);
        Decision { voiced: self.balance > 0.0, confidence: num::single(confidence.clamp(0.0, 1.0)) }
    }

    pub(crate) fn reset(&mut self) {
        self.balance = -LIMIT;
    }
}
