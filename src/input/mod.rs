//! Host audio becomes evenly spaced hops at the one analysis rate.
//!
//! In: blocks of any length at the host's rate, the voice and, where there is one, the known drone.
//! Out: [`Hop`]s of 5 ms at 16 kHz; non-finite samples count as silence.

use crate::units::{SampleRate, SampleTime};

/// The one rate at which everything is analysed, Hz.
pub const ANALYSIS_RATE_HZ: f64 = 16_000.0;
/// Samples in a hop at the analysis rate: 5 ms.
pub const HOP: usize = 80;

/// 5 ms of the voice at [`ANALYSIS_RATE_HZ`], beside the same 5 ms of the known drone as it was sent out.
#[derive(Debug, Clone, Copy)]
pub struct Hop {
    /// The microphone, full scale 1.
    pub voice: [f32; HOP],
    /// The drone that we know of, as sent; `None` where there is none.
    pub drone: Option<[f32; HOP]>,
    /// End of the last host sample that was needed for this hop.
    pub available: SampleTime,
    /// The host time that the hop's last sample describes (resampling delay taken out).
    pub describes: SampleTime,
    /// Host samples in this hop at or beyond full scale (clipping).
    pub clipped: u16,
}

/// Resamples and cuts; same samples in any blocks give the same hops.
pub struct Front {
    rate: SampleRate,
}

impl Front {
    /// All memory is taken here.
    #[must_use]
    pub fn new(rate: SampleRate) -> Self {
        Self { rate }
    }

    /// Takes a block; hands on each hop that became complete. `drone` has the block's length.
    pub fn push(&mut self, voice: &[f32], drone: Option<&[f32]>, mut hop: impl FnMut(&Hop)) {
        let _ = (voice, drone, &mut hop, self.rate);
    }

    /// Back to the state of [`Front::new`].
    pub fn reset(&mut self) {}
}
