//! The quantities that cross borders between rooms, each a type of its own.
//!
//! Hertz, cents, decibels and times in samples; every conversion between them lives here. Cents are
//! 1200 log2(ratio) (A. J. Ellis 1885; TRADE facts: the rounded constant 3986 is not used).

use serde::{Deserialize, Serialize};

/// A frequency in hertz.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Serialize, Deserialize)]
pub struct Hertz(pub f64);

/// An interval in cents: 1200 to the octave, signed, positive upwards.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Default, Serialize, Deserialize)]
pub struct Cents(pub f64);

/// A level in decibels; for signals relative to full scale (dBFS), where a full-scale square has 0 dBFS RMS.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Serialize, Deserialize)]
pub struct Decibels(pub f64);

/// An instant, counted in host samples since the listener was last reset.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default, Serialize, Deserialize)]
pub struct SampleTime(pub i64);

/// A sample rate that the chain accepts: 8 to 192 kHz.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Serialize)]
pub struct SampleRate(f64);

/// A sample rate outside 8 to 192 kHz.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct UnsupportedRate(pub f64);

impl std::fmt::Display for UnsupportedRate {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "sample rate {} Hz is outside 8000 to 192000 Hz: convert the audio to a rate in that range", self.0)
    }
}

impl std::error::Error for UnsupportedRate {}

impl SampleRate {
    /// The lowest rate, Hz.
    pub const MIN_HZ: f64 = 8_000.0;
    /// The highest rate, Hz.
    pub const MAX_HZ: f64 = 192_000.0;

    /// `hz` in 8000..=192000.
    ///
    /// # Errors
    /// [`UnsupportedRate`] quotes the value and the range.
    pub fn new(hz: f64) -> Result<Self, UnsupportedRate> {
        if (Self::MIN_HZ..=Self::MAX_HZ).contains(&hz) { Ok(Self(hz)) } else { Err(UnsupportedRate(hz)) }
    }

    /// The rate in hertz.
    #[must_use]
    pub fn hz(self) -> f64 {
        self.0
    }
}

impl Hertz {
    /// The interval from `reference` up to `self`, in cents; `None` unless both are positive and finite.
    #[must_use]
    pub fn cents_above(self, reference: Hertz) -> Option<Cents> {
        let ratio = self.0 / reference.0;
        (self.0 > 0.0 && reference.0 > 0.0 && ratio.is_finite()).then(|| Cents(1200.0 * ratio.log2()))
    }

    /// This frequency raised by `interval`.
    #[must_use]
    pub fn up(self, interval: Cents) -> Hertz {
        Hertz(self.0 * (interval.0 / 1200.0).exp2())
    }

    /// Equal-tempered frequency of a MIDI key number with A4 (key 69) at `a4`
    /// (MIDI Tuning Standard: f = a4 x 2^((n - 69) / 12)).
    #[must_use]
    pub fn of_midi_key(key: f64, a4: Hertz) -> Hertz {
        Hertz(a4.0 * ((key - 69.0) / 12.0).exp2())
    }

    /// The (fractional) MIDI key number of this frequency with A4 at `a4`.
    #[must_use]
    pub fn midi_key(self, a4: Hertz) -> f64 {
        69.0 + 12.0 * (self.0 / a4.0).log2()
    }
}

impl Cents {
    /// The frequency ratio of this interval.
    #[must_use]
    pub fn ratio(self) -> f64 {
        (self.0 / 1200.0).exp2()
    }

    /// Whole cents with a sign and a true minus: `+7`, `−12`, `0`.
    #[must_use]
    pub fn signed(self) -> String {
        match num::int(self.0) {
            0 => "0".to_owned(),
            c if c < 0 => format!("\u{2212}{}", c.unsigned_abs()),
            c => format!("+{c}"),
        }
    }

    /// The interval of a frequency ratio (`ratio` > 0).
    #[must_use]
    pub fn of_ratio(ratio: f64) -> Cents {
        Cents(1200.0 * ratio.log2())
    }
}

impl Decibels {
    /// Amplitude factor: 10^(dB/20).
    #[must_use]
    pub fn amplitude(self) -> f64 {
        10f64.powf(self.0 / 20.0)
    }

    /// Decibels of an amplitude, no lower than -200 dB.
    #[must_use]
    pub fn of_amplitude(amplitude: f64) -> Decibels {
        Decibels(20.0 * amplitude.abs().max(1e-10).log10())
    }
}

impl SampleTime {
    /// Seconds since the reset, at the host's rate.
    #[must_use]
    pub fn seconds(self, rate: SampleRate) -> f64 {
        self.0 as f64 / rate.hz()
    }

    /// Samples from `earlier` to `self`.
    #[must_use]
    pub fn since(self, earlier: SampleTime) -> i64 {
        self.0.saturating_sub(earlier.0)
    }
}

/// Number casts that lose something on purpose, each saying what.
pub mod num {
    /// `x` rounded to the nearest index; NaN and negatives give 0, too large saturates.
    #[must_use]
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "float to int casts saturate; documented"
    )]
    pub fn index(x: f64) -> usize {
        x.round() as usize
    }

    /// `x` rounded down to an index; NaN and negatives give 0, too large saturates.
    #[must_use]
    #[inline]
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "float to int casts saturate; documented"
    )]
    pub fn floor_index(x: f64) -> usize {
        x as usize
    }

    /// `x` rounded to the nearest integer; NaN gives 0, too large saturates.
    #[must_use]
    #[expect(clippy::cast_possible_truncation, reason = "float to int casts saturate; documented")]
    pub fn int(x: f64) -> i64 {
        x.round() as i64
    }

    /// `x` in single precision.
    #[must_use]
    #[expect(clippy::cast_possible_truncation, reason = "audio samples are single precision; documented")]
    pub fn single(x: f64) -> f32 {
        x as f32
    }

    /// A length as a signed time, saturating.
    #[must_use]
    pub fn time(samples: usize) -> i64 {
        i64::try_from(samples).unwrap_or(i64::MAX)
    }
}
