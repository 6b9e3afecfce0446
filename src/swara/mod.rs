//! Which swara a pitch is, and how far from it: names, registers, tunings, scales, the tonic.
//!
//! In: [`F0Frame`]s, Sa in hertz and the chosen [`Targets`]. Out: one [`SwaraReading`] a frame (cents
//! against madhya Sa; the nearest allowed swara with its signed distance). Method: cents after A. J.
//! Ellis 1885, nearest neighbour on the octave circle. Cost: one logarithm and 12 comparisons a frame;
//! nothing allocates in [`read`]. Does not handle raga phrases: it names places.
//!
//! A [`Scale`] says which swaras count, a [`Tuning`] where they lie, [`Nudges`] what the teacher moved;
//! `scale.targets(&tuning, &nudges)` is what the audio thread gets.

pub mod janya;
pub mod melakarta;
pub mod names;
pub mod own;
pub mod phrase;
pub mod scale;
pub mod scl;
pub mod search;
pub mod shruti;
pub mod target;
pub mod tonic;
pub mod tuning;

pub use melakarta::Mela;
pub use names::{Step, Sthayi, Swara};
pub use own::OwnRaga;
pub use scale::{Scale, ScaleError};
pub use target::{LACKED_CENTS, Named, Target, Targets};
pub use tonic::{Tonic, TonicError};
pub use tuning::{Nudges, Tuning, TuningError};

use crate::pitch::F0Frame;
use crate::units::{Cents, Hertz};

/// A frame against Sa.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SwaraReading {
    /// The frame itself.
    pub frame: F0Frame,
    /// Cents above madhya Sa (negative below); `None` in an unvoiced frame.
    pub cents: Option<Cents>,
    /// The nearest allowed swara; `None` in an unvoiced frame.
    pub named: Option<Named>,
}

/// Reads a frame against `sa` (madhya Sa).
#[must_use]
pub fn read(frame: &F0Frame, sa: Hertz, targets: &Targets) -> SwaraReading {
    let cents = frame.f0.filter(|_| frame.voiced).and_then(|f0| f0.cents_above(sa));
    SwaraReading { frame: *frame, cents, named: cents.and_then(|c| targets.nearest(c)) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::{Decibels, SampleTime};

    fn frame(f0: Option<f64>, voiced: bool) -> F0Frame {
        F0Frame {
            time: SampleTime(0),
            available: SampleTime(0),
            f0: f0.map(Hertz),
            voiced,
            confidence: 1.0,
            level: Decibels(-20.0),
            clipped: false,
            several: false,
        }
    }

    #[test]
    fn a_voiced_frame_is_named_an_unvoiced_one_is_not() {
        let targets = Scale::Twelve.targets(&Tuning::Just, &Nudges::default());
        let sa = Hertz(146.832);
        let reading = read(&frame(Some(146.832 * 1.5), true), sa, &targets);
        assert_eq!(reading.named.map(|named| named.swara), Some(Swara::P));
        assert!(reading.cents.is_some_and(|cents| (cents.0 - 701.955).abs() < 1e-3));
        for silent in
            [frame(Some(220.0), false), frame(None, true), frame(Some(f64::NAN), true), frame(Some(0.0), true)]
        {
            let reading = read(&silent, sa, &targets);
            assert_eq!((reading.cents, reading.named), (None, None));
        }
    }
}
