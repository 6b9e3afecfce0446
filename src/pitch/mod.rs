//! What pitch sounds now, if any: one f0 frame every 5 ms.

use crate::input::Hop;
use crate::units::{Decibels, Hertz, SampleRate, SampleTime};

/// One f0 estimate. Unvoiced is `voiced == false`, never 0 Hz.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct F0Frame {
    /// The middle of what was weighed.
    pub time: SampleTime,
    /// End of the last host sample that was needed; `available - time` is the latency.
    pub available: SampleTime,
    /// The estimate; may be given in an unvoiced frame (a guess not to be shown), `None` where there is none.
    pub f0: Option<Hertz>,
    /// Whether a voice with a pitch sounds.
    pub voiced: bool,
    /// Strength of the evidence for a voice, 0 to 1.
    pub confidence: f32,
    /// RMS of the window, dBFS.
    pub level: Decibels,
    /// Whether the window holds clipped samples.
    pub clipped: bool,
    /// Whether more than one voice seems to sound (not to be scored).
    pub several: bool,
}

/// The causal tracker.
pub struct Tracker {}

impl Tracker {
    /// All memory is taken here. `rate`: the host's, for time stamps.
    #[must_use]
    pub fn new(rate: SampleRate) -> Self {
        let _ = rate;
        Self {}
    }

    /// One hop in, one frame out (of an instant some 20 ms earlier). Never allocates.
    pub fn process(&mut self, hop: &Hop) -> F0Frame {
        F0Frame {
            time: hop.describes,
            available: hop.available,
            f0: None,
            voiced: false,
            confidence: 0.0,
            level: Decibels(-200.0),
            clipped: hop.clipped > 0,
            several: false,
        }
    }

    /// Back to the state of [`Tracker::new`].
    pub fn reset(&mut self) {}
}
