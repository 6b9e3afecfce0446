//! What we make is sent a little later than it is made known to the listener.
//!
//! In: the drone as made. Out: the same, [`DRONE_AHEAD_S`] later. The voice is not delayed. Cost: a copy.

use crate::listener::DRONE_AHEAD_S;
use crate::units::{SampleRate, num};

pub(super) struct Later {
    samples: Vec<f32>,
    at: usize,
    /// Samples since something other than silence went in.
    silent_for: usize,
}

impl Later {
    /// All memory is taken here.
    pub(super) fn new(rate: SampleRate) -> Self {
        let length = num::index(DRONE_AHEAD_S * rate.hz()).max(1);
        Self { samples: vec![0.0; length], at: 0, silent_for: length }
    }

    /// Puts what was made in place of what is to be sent now.
    pub(super) fn step(&mut self, sound: &mut [f32]) {
        for x in sound {
            self.silent_for = if *x == 0.0 { self.silent_for.saturating_add(1) } else { 0 };
            if let Some(waiting) = self.samples.get_mut(self.at) {
                std::mem::swap(waiting, x);
            }
            self.at = if self.at + 1 < self.samples.len() { self.at + 1 } else { 0 };
        }
    }

    /// Whether nothing is to be sent any more.
    pub(super) fn is_silent(&self) -> bool {
        self.silent_for >= self.samples.len()
    }

    pub(super) fn reset(&mut self) {
        self.samples.fill(0.0);
        self.at = 0;
        self.silent_for = self.samples.len();
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_goes_in_comes_out_25_ms_later_in_blocks_of_any_length() {
        let mut later = Later::new(SampleRate::new(8000.0).unwrap());
        let made: Vec<f32> = (1..=1000_u16).map(f32::from).collect();
        let mut sent = made.clone();
        for block in sent.chunks_mut(7) {
            later.step(block);
        }
        assert_eq!(sent[..200], [0.0; 200]);
        assert_eq!(sent[200..], made[..800]);
        assert!(!later.is_silent());
        let mut rest = [0.0; 200];
        later.step(&mut rest);
        assert_eq!(rest[..], made[800..]);
        assert!(later.is_silent());
        later.step(&mut [1.0]);
        later.reset();
        assert!(later.is_silent());
    }
}
