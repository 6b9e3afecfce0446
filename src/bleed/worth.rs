//! Whether taking the known drone out is worth it: who wears headphones has none in the microphone.
//!
//! In: hops before and after, while nobody sings. Out: whether they become softer by it. Method: a running mean of the decibels,
//! so that a clap or a consonant counts no more than any hop. A path learned where there is no drone makes a quiet hop louder,
//! or leaves it as it is; what it takes out of a voice is the voice's. Cost: two sums a hop.

use super::SILENT;
use crate::input::HOP;

/// As much as one hop says, dB.
const MOST_DB: f64 = 6.0;
/// What is believed before anything is known, dB: with nothing to take out, it is forgotten within half a second.
const AT_FIRST_DB: f64 = 0.8;
/// Hops over which is averaged: a quarter of a second.
const HOPS: f64 = 50.0;
/// Softer by less is not softer, dB: what noise makes of a path of nothing stays below 0.1 (own mixtures).
const LEAST_DB: f64 = 0.2;
/// From so much on it is worth it again, dB: more than the end of a voice makes that was taken for the drone.
const AGAIN_DB: f64 = 1.0;

pub(super) struct Worth {
    softer_db: f64,
    believed: Believed,
}

#[derive(Clone, Copy, PartialEq)]
enum Believed {
    AtFirst,
    Given,
    NotGiven,
}

impl Worth {
    pub(super) fn new() -> Self {
        Self { softer_db: AT_FIRST_DB, believed: Believed::AtFirst }
    }

    /// Takes a hop in which nobody sang.
    pub(super) fn hop(&mut self, before: &[f32; HOP], after: &[f32; HOP]) {
        let power = |hop: &[f32; HOP]| hop.iter().map(|x| x * x).sum::<f32>() / HOP as f32 + SILENT;
        let softer = 10.0 * f64::from(power(before) / power(after)).log10();
        self.softer_db += (softer.clamp(-MOST_DB, MOST_DB) - self.softer_db) / HOPS;
        if self.softer_db > AGAIN_DB {
            self.believed = Believed::Given;
        } else if self.softer_db < LEAST_DB {
            self.believed = Believed::NotGiven;
        }
    }

    /// Whether it is, or may be while that is not known.
    pub(super) fn is_given(&self) -> bool {
        self.believed != Believed::NotGiven
    }

    /// Whether it is known to be.
    pub(super) fn is_known(&self) -> bool {
        self.believed == Believed::Given
    }

    pub(super) fn reset(&mut self) {
        *self = Self::new();
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn it_is_given_until_hops_become_no_softer_and_again_when_they_do() {
        let mut worth = Worth::new();
        assert!(worth.is_given() && !worth.is_known());
        (0..100).for_each(|_| worth.hop(&[0.01; HOP], &[0.0101; HOP]));
        assert!(!worth.is_given());
        // One clap that is lowered is not enough, a drone is.
        worth.hop(&[1.0; HOP], &[0.5; HOP]);
        assert!(!worth.is_given());
        (0..20).for_each(|_| worth.hop(&[0.01; HOP], &[0.003; HOP]));
        assert!(worth.is_known());
        worth.hop(&[f32::MAX; HOP], &[0.0; HOP]);
        assert!(worth.is_given());
        worth.reset();
        assert!(worth.is_given());
    }
}
