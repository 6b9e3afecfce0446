//! Practice with a goal: where you are in an exercise, and how it went.
//!
//! In: readings and final notes as the listener gives them. Out: plain data for a window to draw and to say. An exercise is a
//! table ([`LongToneTable`], [`RoundTable`], [`EarTable`]; which there are stands in [`catalogue`]) and a small machine that walks
//! through it; the machines play and draw nothing: where a reference tone is due, they say which. [`Running`] hosts any of them. None rewards loudness or holding on longer than is comfortable.

pub mod catalogue;
mod ear_first;
mod fixed_round;
mod long_tone;
mod rest;
mod running;
mod told;

pub use ear_first::{EarAnswer, EarFirst, EarState, EarTable, NoAnswer};
pub use fixed_round::{Manner, Mark, NextThing, Round, RoundState, RoundTable, STEPS, Step};
pub use long_tone::{LongTone, LongToneState, LongToneTable, Split, Unsettled};
pub use running::{Progress, Running};
pub use told::REST;

use crate::note::Expected;
use crate::units::Cents;

/// Length of a reading's step, seconds.
const FRAME_S: f64 = 0.005;

/// Offset of a pitch from an expected swara with octaves folded, +-600 cents.
fn folded(cents: f64, expected: &Expected) -> Cents {
    let at = expected.target.cents.0 + 1200.0 * f64::from(expected.sthayi.0);
    let away = cents - at;
    Cents(away - 1200.0 * (away / 1200.0).round())
}

#[cfg(test)]
pub(crate) mod testing {
    use crate::note::{Expected, Kind, Note, Onset};
    use crate::pitch::F0Frame;
    use crate::swara::{Sthayi, Swara, SwaraReading, Target};
    use crate::units::{Cents, Decibels, Hertz, SampleTime};

    pub(super) fn expected(swara: Swara, cents: f64, sthayi: i8) -> Expected {
        Expected { target: Target { swara, cents: Cents(cents) }, sthayi: Sthayi(sthayi) }
    }

    pub(super) fn reading(cents: Option<f64>) -> SwaraReading {
        let frame = F0Frame {
            time: SampleTime(0),
            available: SampleTime(0),
            f0: cents.map(|_| Hertz(200.0)),
            voiced: cents.is_some(),
            confidence: 1.0,
            level: Decibels(-20.0),
            clipped: false,
            several: false,
        };
        SwaraReading { frame, cents: cents.map(Cents), named: None }
    }

    pub(crate) fn note(cents: f64, seconds: f64) -> Note {
        Note {
            kind: Kind::Held,
            start: SampleTime(0),
            end: SampleTime(crate::units::num::int(seconds * 48_000.0)),
            swara: Swara::S,
            sthayi: Sthayi(0),
            offset: Cents(cents),
            cents: Cents(cents),
            expected: false,
            octaves_off: 0,
            drift_per_s: 0.0,
            drift_error_per_s: 0.0,
            drift_said: false,
            wobble: Cents(2.0),
            waver_hz: None,
            in_tune: 1.0,
            onset: Onset { scoop: Cents(0.0), seconds: 0.0 },
            longest_steady_s: seconds,
            judged_s: seconds,
            timeline: None,
            pass: 0,
        }
    }
}

#[cfg(test)]
mod tests;
