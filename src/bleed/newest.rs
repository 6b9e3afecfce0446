//! The newest samples of a sound, as many as the tracker's long window holds.
//!
//! In: hops at 16 kHz. Out: the samples under a window, and their level. Cost: a copy of the window a hop.

use crate::input::HOP;
use crate::pitch::KNOWN_WINDOW;
use crate::units::Decibels;

pub(super) struct Newest(Vec<f32>);

impl Newest {
    pub(super) fn new() -> Self {
        Self(vec![0.0; KNOWN_WINDOW])
    }

    pub(super) fn push(&mut self, hop: &[f32; HOP]) {
        self.0.copy_within(HOP.., 0);
        for (to, from) in self.0.iter_mut().skip(KNOWN_WINDOW - HOP).zip(hop) {
            *to = *from;
        }
    }

    /// Root of the mean square, dBFS.
    pub(super) fn level(&self) -> f64 {
        let square: f32 = self.0.iter().map(|x| x * x).sum();
        Decibels::of_amplitude(f64::from(square / KNOWN_WINDOW as f32).sqrt()).0
    }

    pub(super) fn windowed<'a>(&'a self, shape: &'a [f32]) -> impl Iterator<Item = f32> + 'a {
        self.0.iter().zip(shape).map(|(x, w)| x * w)
    }

    pub(super) fn reset(&mut self) {
        self.0.fill(0.0);
    }
}
