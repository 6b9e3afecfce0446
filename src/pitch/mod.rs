//! What pitch sounds now, if any: one f0 frame every 5 ms.
//!
//! In: hops of 5 ms at 16 kHz. Out: [`F0Frame`]s, 55 to 1100 Hz. Causal, with one latency for every
//! frame: the time stamp is the middle of the windows, half a long window (19.3 ms) behind the end of
//! the hop, plus the resampling delay.
//!
//! Method, in the order of the files:
//! 1. [`spectrum`]: power spectra of concentric Hann windows up to 4 kHz.
//! 2. [`floor`]: what sounds without the voice, learned per bin while there is none, and taken away
//!    (spectral subtraction, Boll 1979).
//! 3. [`correlation`]: the window-normalised autocorrelation (Boersma 1993) of what is left, on a grid of
//!    20 cents, each lag from the shortest window that holds about three periods.
//! 4. [`path`]: the likely path over that grid, followed forward in time without look-ahead (Viterbi
//!    1967, the newest state taken).
//! 5. [`voicing`]: whether there is a voice, a decision with its own evidence.
//! 6. [`fine`]: the exact value near the path; [`smooth`]: a causal filter over cents and slope.

mod correlation;
mod fine;
mod floor;
mod path;
mod smooth;
mod spectrum;
mod steady;
mod voicing;

use crate::input::{ANALYSIS_RATE_HZ, Hop};
use crate::units::{Decibels, Hertz, SampleRate, SampleTime, num};
use correlation::Correlation;
use fine::Fine;
use floor::Floor;
use path::Path;
use smooth::Smooth;
use spectrum::{Analyser, LONG};
use steady::Steady;
use voicing::Voicing;

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
pub struct Tracker {
    rate: SampleRate,
    analyser: Analyser,
    floor: Floor,
    correlation: Correlation,
    path: Path,
    voicing: Voicing,
    fine: Fine,
    smooth: Smooth,
    steady: Steady,
    clipped_for: u8,
}

/// Hops that a clipped sample stays inside the long window.
const CLIPPED_HOPS: u8 = 8;

impl Tracker {
    /// All memory is taken here. `rate`: the host's, for time stamps.
    #[must_use]
    pub fn new(rate: SampleRate) -> Self {
        let correlation = Correlation::new();
        Self {
            rate,
            analyser: Analyser::new(),
            floor: Floor::new(),
            path: Path::new(correlation.points()),
            correlation,
            voicing: Voicing::new(),
            fine: Fine::new(),
            smooth: Smooth::new(),
            steady: Steady::new(),
            clipped_for: 0,
        }
    }

    /// One hop in, one frame out (of an instant some 20 ms earlier). Never allocates.
    pub fn process(&mut self, hop: &Hop) -> F0Frame {
        self.clipped_for = if hop.clipped > 0 { CLIPPED_HOPS } else { self.clipped_for.saturating_sub(1) };
        self.analyser.push(&hop.voice);
        let spectra = self.analyser.spectra();
        let noise = self.floor.weigh(&spectra.long);
        let grid = self.correlation.grid(spectra, self.floor.gains(), noise.share);
        let best = self.path.step(grid, noise.share);
        let decision = self.voicing.step(best.value, noise, spectra.power);
        let steady = self.steady.step(&hop.voice, self.floor.power());
        let exact = self.fine.near(best.hz, spectra, self.floor.gains());
        let f0 = self.smooth.step(exact, decision.voiced);
        self.floor.learn(&spectra.long, decision.voiced, best.value, steady);
        let half = 0.5 * LONG as f64 / ANALYSIS_RATE_HZ * self.rate.hz();
        F0Frame {
            time: SampleTime(hop.describes.0 - num::int(half)),
            available: hop.available,
            f0,
            voiced: decision.voiced && f0.is_some(),
            confidence: decision.confidence,
            level: Decibels::of_amplitude(spectra.power.sqrt()),
            clipped: self.clipped_for > 0,
            several: false,
        }
    }

    /// Back to the state of [`Tracker::new`].
    pub fn reset(&mut self) {
        self.analyser.reset();
        self.floor.reset();
        self.path.reset();
        self.voicing.reset();
        self.smooth.reset();
        self.steady.reset();
        self.clipped_for = 0;
    }
}
