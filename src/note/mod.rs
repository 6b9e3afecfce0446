//! Readings become notes: held, oscillating or gliding; only held ones are judged.
//!
//! In: readings, one per 5 ms. Out: each [`Note`] 0.1 to 0.5 s after its end, and at any time the [`Current`] one. The same
//! definitions hold live, in the report and in the files:
//!
//! - A note runs from the end of the join before it to the start of the join after it, over voice only; a scoop out of silence
//!   is part of it, the touch of a spurita and a slide are not. Its judged part begins and ends 150 ms inside (25 % of a note
//!   under 0.6 s).
//! - *offset*: median over the judged part minus the target, cents. Of a vibrato the line is first averaged over the cycle.
//! - *drift*: b, the least-squares slope of x = a + b t, cents per second; said when |b| times length exceeds 8 cents and b two
//!   standard errors, and the note lasts a second.
//! - *wobble*: sqrt(mean (x - a - b t)^2), cents; its rate in hertz where it is regular.
//! - *in-tune share*: judged frames within the band over judged frames; of a vibrato, of the line averaged over the cycle.
//! - *onset*: where the voice came in minus where it was held, cents (negative: from below), and how long the way took; under a
//!   fifth, and after the last leap of the tracker (a creaky beginning that reads an octave off is no scoop).
//! - *longest steady stretch*: longest run with a standard deviation of at most 12 cents over the last second.
//! - *vibrato* (held): 4.5 to 8 Hz, up to 120 cents from peak to peak, the mean over a cycle moving by less than 2.4 cents from
//!   one half cycle to the next (RMS) and 4.5 cents over the whole (standard deviation). Any other swing is oscillating.
//!
//! Where more than one voice sounds nothing is judged: a note ends where the second voice comes in, and one that begins
//! among them is none, however long it goes on alone.
//!
//! A voice that both holds and swings within one note is held while less than a third of it swings. What cannot be told
//! apart: a kampita as regular as a vibrato; two swaras of one name less than 18 cents apart on one vowel (one note).

mod advice;
mod again;
mod beats;
mod judge;
mod line;
mod loud;
mod part;
mod shape;
mod steady;
mod swing;
mod waver;

pub use advice::Advice;
pub use again::again;
pub use beats::{Against, Beat, beat};
pub use judge::{Expected, Judge, Offsets};
pub use steady::{LastSecond, STEADY_CENTS};

use crate::swara::{LACKED_CENTS, Named, Sthayi, Swara};
use crate::units::{Cents, Hertz, SampleRate, SampleTime};
use serde::{Deserialize, Serialize};

/// What kind of movement a note is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Kind {
    /// Steady, or with a regular vibrato: judged.
    Held,
    /// Swinging: drawn, never judged.
    Oscillating,
    /// On its way: drawn, never judged.
    Gliding,
}

/// In-tune half-widths, cents.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Band {
    /// For Sa and Pa.
    pub fixed: Cents,
    /// For the other swaras.
    pub others: Cents,
}

impl Band {
    /// The half-width for a swara.
    #[must_use]
    pub fn of(self, swara: Swara) -> Cents {
        if matches!(swara, Swara::S | Swara::P) { self.fixed } else { self.others }
    }
}

/// How the note began.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Onset {
    /// Where it was entered, relative to where it was then held: negative from below, 0 clean; under a fifth (700 cents).
    pub scoop: Cents,
    /// How long the way took, seconds.
    pub seconds: f64,
}

/// One note, final. Definitions with formulas stand in this room's documentation.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Note {
    /// Held, oscillating or gliding.
    pub kind: Kind,
    /// First frame of the note.
    pub start: SampleTime,
    /// End of its last frame.
    pub end: SampleTime,
    /// The swara it is judged against.
    pub swara: Swara,
    /// Its register.
    pub sthayi: Sthayi,
    /// Median of the judged part minus target, cents; against an expected swara an octave is folded, +-300 cents.
    pub offset: Cents,
    /// Median of the judged part above madhya Sa, cents.
    pub cents: Cents,
    /// Whether swara and register are those that were expected rather than the nearest.
    pub expected: bool,
    /// Octaves that were folded away against an expected swara (+1: sung an octave high); 0 otherwise.
    pub octaves_off: i8,
    /// Slope of the judged part, cents per second.
    pub drift_per_s: f64,
    /// Whether the drift is worth saying: |drift| x length over 8 cents, over two standard errors, 1 s or more.
    pub drift_said: bool,
    /// Standard error of the drift, cents per second.
    pub drift_error_per_s: f64,
    /// RMS about the straight line, cents.
    pub wobble: Cents,
    /// Rate of a regular waver or vibrato, where there is one, Hz.
    pub waver_hz: Option<f64>,
    /// Share of the judged frames inside the band, 0 to 1.
    pub in_tune: f64,
    /// How it began.
    pub onset: Onset,
    /// The longest steady stretch, seconds.
    pub longest_steady_s: f64,
    /// Length of the judged part, seconds (0 unless held).
    pub judged_s: f64,
    /// Host timeline position of the start, where the host gave one, samples.
    pub timeline: Option<i64>,
    /// Which pass of the transport it belongs to, counted from 0.
    pub pass: u32,
}

impl Note {
    /// Length from start to end, seconds.
    #[must_use]
    pub fn seconds(&self, rate: SampleRate) -> f64 {
        self.end.since(self.start) as f64 / rate.hz()
    }

    /// Whether to go up, to go down or to stay.
    #[must_use]
    pub fn advice(&self, band: Band) -> Advice {
        Advice::of(self.offset, band.of(self.swara))
    }

    /// Whether it was held outside the band.
    #[must_use]
    pub fn outside(&self, band: Band) -> bool {
        self.kind == Kind::Held && self.offset.0.abs() > band.of(self.swara).0
    }

    /// Whether it only is nearest to its swara and lies so far off that another one was sung, which the scale lacks. Whoever was asked
    /// for a swara and sang another one missed it.
    #[must_use]
    pub fn far(&self) -> bool {
        !self.expected && self.offset.0.abs() > LACKED_CENTS
    }

    /// What an ear hears against the drone's Sa, Pa and upper Sa; `None` where no low partials nearly coincide.
    #[must_use]
    pub fn beats(&self, sa: Hertz, rate: SampleRate) -> [Option<Beat>; 3] {
        Against::ALL.map(|against| beat(sa.up(self.cents), sa, against, self.seconds(rate)))
    }
}

/// The note that sounds now, as far as can be said.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Current {
    /// First frame.
    pub start: SampleTime,
    /// Seconds so far.
    pub seconds: f64,
    /// What it looks like so far; `None` before 250 ms.
    pub kind: Option<Kind>,
    /// Swara, register and offset so far.
    pub named: Named,
    /// Median so far above madhya Sa, cents.
    pub cents: Cents,
    /// Swara, register and offset of the last 400 ms of a held note, which is what to go by while it sounds; of any other, so far.
    pub now: Named,
    /// Median of those above madhya Sa, cents.
    pub now_cents: Cents,
    /// Whether swara and register are those that were expected rather than the nearest.
    pub expected: bool,
    /// Octaves folded away against an expected swara.
    pub octaves_off: i8,
    /// Half-width of the 95 % interval of the offset, cents.
    pub uncertainty: Cents,
    /// RMS about its line so far, cents.
    pub wobble: Cents,
    /// Slope so far, cents per second.
    pub drift_per_s: f64,
}

impl Current {
    /// Whether to go up, to go down or to stay.
    #[must_use]
    pub fn advice(&self, band: Band) -> Advice {
        Advice::of(self.now.offset, band.of(self.now.swara))
    }

    /// What an ear hears now against the drone's Sa, Pa and upper Sa; `None` where no low partials nearly coincide.
    #[must_use]
    pub fn beats(&self, sa: Hertz) -> [Option<Beat>; 3] {
        Against::ALL.map(|against| beat(sa.up(self.now_cents), sa, against, self.seconds))
    }
}

#[cfg(test)]
pub(crate) mod tests;
