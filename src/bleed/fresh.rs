//! Whether a string of the known drone has just sounded for the first time.
//!
//! In: hops of the drone as sent, while it is new, and by how much it arrives late. Out: whether something that was not in it
//! before can have arrived within the last third of a second. Why: of a string that has not sounded yet the way is not known;
//! all of it is left over when it does, and passes for a voice that begins on its pitch. Method: power per bin against
//! its mean of late. Cost: a transform of 1024 a hop, in the first two seconds of a drone.

use super::newest::Newest;
use super::transform::Transform;
use crate::input::HOP;
use crate::pitch::{KNOWN_BINS, KNOWN_FFT, KNOWN_WINDOW, hann};
use crate::units::num;

/// Power against its mean of late above which a bin is new: 6 dB.
const RISEN: f32 = 4.0;
/// Share of the drone's power that must be.
const SHARE: f32 = 0.2;
/// How fast the mean follows, per hop: half a second.
const MEAN: f32 = 0.01;
/// Hops for which it counts after it can first have arrived: 300 ms, the length of a path and some updates of it.
const COUNTS: usize = 60;

pub(super) struct Fresh {
    sent: Newest,
    shape: Vec<f32>,
    transform: Transform,
    mean: Vec<f32>,
    counts: usize,
}

impl Fresh {
    pub(super) fn new() -> Self {
        Self {
            sent: Newest::new(),
            shape: hann(KNOWN_WINDOW).map(num::single).collect(),
            transform: Transform::new(KNOWN_FFT),
            mean: vec![0.0; KNOWN_BINS],
            counts: 0,
        }
    }

    /// Takes a hop of the drone, which arrives `late` hops later.
    pub(super) fn step(&mut self, sent: &[f32; HOP], late: usize) -> bool {
        self.sent.push(sent);
        let (mut all, mut new) = (0.0f32, 0.0f32);
        for (mean, bin) in self.mean.iter_mut().zip(self.transform.forward(self.sent.windowed(&self.shape))) {
            let power = bin.norm_sqr();
            all += power;
            new += if power > RISEN * *mean { power } else { 0.0 };
            *mean += MEAN * (power - *mean);
        }
        self.counts = if new > SHARE * all { late + COUNTS } else { self.counts.saturating_sub(1) };
        self.counts > 0
    }

    pub(super) fn reset(&mut self) {
        self.sent.reset();
        self.mean.fill(0.0);
        self.counts = 0;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::input::ANALYSIS_RATE_HZ;
    use std::f64::consts::TAU;

    #[test]
    fn a_second_string_counts_for_a_third_of_a_second_from_when_it_can_arrive() {
        let mut fresh = Fresh::new();
        let mut said = Vec::new();
        for hop in 0..500 {
            let mut sent = [0.0; HOP];
            for (i, x) in sent.iter_mut().enumerate() {
                let t = (hop * HOP + i) as f64 / ANALYSIS_RATE_HZ;
                let string = |hz: f64, begins: f64| if t < begins { 0.0 } else { (TAU * hz * (t - begins)).sin() };
                *x = num::single(0.1 * (string(220.0, 0.0) + string(294.0, 1.25)));
            }
            said.push(fresh.step(&sent, 10));
        }
        // The first string: as the drone begins. The second: from 1.25 s, hop 250, until it has been there for a while.
        assert!(said[0] && said[60] && !said[180..245].contains(&true));
        let ends = 265 + said[265..].iter().position(|new| !new).unwrap();
        assert!(!said[265..ends].contains(&false) && (320..380).contains(&ends), "{ends}");
        assert!(!said[ends..].contains(&true));
        fresh.reset();
        assert!(!fresh.step(&[0.0; HOP], 10));
    }
}
