//! Which f0 the notches spare: the voice's, and not that of the next string.
//!
//! In: what is taken for a voice, hop by hop, and whether it lies on the drone's own pitch. Out: the f0 whose harmonics no notch
//! learns, and whether a string was plucked under it. A string as loud as the voice draws f0 away from it when it is plucked;
//! were it spared then, it would never be learned, and be followed for as long as it rings. Method: what leaps from a note that
//! was heard for a while onto the drone's own pitch, as the sound grows by what a string brings, is a string for now, and the note
//! stays spared. (Seen under voices as loud as strings: f0 comes back after a quarter of a second, not with the next note.)

use super::straight::LEAP_CENTS;
use crate::units::Hertz;

/// Hops for which a note must have been heard, 100 ms.
const HEARD: u32 = 20;
/// Hops after which what leapt is spared all the same, 0.6 s: long enough for the notches to have learned a string.
const LEAPT: u32 = 120;

/// What is taken for a voice, or may be one.
#[derive(Debug, Clone, Copy)]
pub(super) struct Sung {
    /// f0, Hz.
    pub(super) f0: f64,
    /// Whether it may be a string that was just plucked: it lies on the drone's pitch and has not brought more than one does.
    pub(super) string: bool,
    /// Whether the sound has just grown, as it does when a string is plucked.
    pub(super) grows: bool,
    /// Whether it was decided to be a voice.
    pub(super) voiced: bool,
}

#[derive(Debug, Default)]
pub(super) struct Spared {
    f0: Option<f64>,
    /// Hops for which its note has been heard, and since f0 has leapt from it.
    heard: u32,
    leapt: u32,
}

impl Spared {
    /// Takes a hop.
    pub(super) fn step(&mut self, sung: Option<Sung>) {
        let apart = |(was, sung): (f64, Sung)| Hertz(sung.f0).cents_above(Hertz(was)).map(|cents| cents.0.abs());
        let cents = self.f0.zip(sung).and_then(apart);
        let leaps = cents.is_some_and(|cents| cents > LEAP_CENTS) && sung.is_some_and(|sung| sung.string);
        let begins = sung.is_some_and(|sung| sung.grows) || self.leapt > 0;
        if leaps && begins && self.heard >= HEARD && self.leapt < LEAPT {
            self.leapt += 1;
            return;
        }
        let same = cents.is_some_and(|cents| cents < LEAP_CENTS) && sung.is_some_and(|sung| sung.voiced);
        self.heard = if same { self.heard.saturating_add(1) } else { 0 };
        self.leapt = 0;
        self.f0 = sung.map(|sung| sung.f0);
    }

    /// The f0 to spare, Hz.
    pub(super) fn f0(&self) -> Option<f64> {
        self.f0
    }

    /// Whether what is heard just now is a string that was plucked under it.
    pub(super) fn plucked(&self) -> bool {
        self.leapt > 0
    }

    pub(super) fn reset(&mut self) {
        *self = Self::default();
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn after(spared: &mut Spared, hops: u32, f0: f64, string: bool) -> (Option<f64>, bool) {
        for _ in 0..hops {
            spared.step(Some(Sung { f0, string, grows: true, voiced: true }));
        }
        (spared.f0(), spared.plucked())
    }

    #[test]
    fn a_string_that_is_plucked_under_a_note_is_not_spared_until_it_has_lasted() {
        let mut spared = Spared::default();
        after(&mut spared, 30, 440.0, false);
        assert_eq!(after(&mut spared, 50, 220.0, true), (Some(440.0), true));
        // The notches have learned it, and the voice is found again.
        assert_eq!(after(&mut spared, 30, 441.0, false), (Some(441.0), false));
        after(&mut spared, LEAPT, 220.0, true);
        assert_eq!(after(&mut spared, 1, 220.0, true), (Some(220.0), false), "it sings there");
    }

    #[test]
    fn what_no_string_does_is_spared_at_once() {
        let note = || {
            let mut spared = Spared::default();
            after(&mut spared, 30, 440.0, false);
            spared
        };
        assert_eq!(after(&mut note(), 1, 330.0, false), (Some(330.0), false), "off the drone's pitches, or far louder");
        assert_eq!(after(&mut note(), 1, 445.0, true), (Some(445.0), false), "the same note");
        let mut new = Spared::default();
        after(&mut new, 10, 440.0, false);
        assert_eq!(after(&mut new, 1, 220.0, true), (Some(220.0), false), "after a note that was hardly heard");
        let mut legato = note();
        legato.step(Some(Sung { f0: 220.0, string: true, grows: false, voiced: true }));
        assert_eq!((legato.f0(), legato.plucked()), (Some(220.0), false), "nothing was plucked");
        let mut ended = note();
        ended.step(None);
        assert_eq!((ended.f0(), ended.plucked()), (None, false));
    }
}
