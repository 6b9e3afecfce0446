//! What the test voice sings: swaras with their lengths, errors and movements, and the pitch curve they make.
//!
//! In: a list of [`Sung`] swaras and rests. Out: the pitch in cents above madhya Sa at any instant, and how loud.
//! Neighbours without a rest between them are joined by a raised-cosine slide of [`JOIN_S`]; after a rest a
//! note may be entered by a scoop. A note's truth runs from the end of its own join to the start of the next one.

use super::tract::Vowel;
use crate::swara::{Sthayi, Swara};
use std::f64::consts::{PI, TAU};

/// Length of the slide from one swara to the next, seconds (common practice, no source: an open legato).
pub const JOIN_S: f64 = 0.06;

/// How long a scoop lasts, seconds.
pub const SCOOP_S: f64 = 0.12;

/// Rise of the voice at the start of a phrase, seconds.
const ATTACK_S: f64 = 0.03;

/// Fall of the voice at the end of a phrase, seconds.
const RELEASE_S: f64 = 0.06;

/// How the single swings of a kampita differ, as a share of its width, and how fast that changes, Hz: what makes
/// it a kampita and no regular vibrato.
const UNEVEN: (f64, f64) = (0.15, 1.7);

/// What the pitch does on a swara.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Manner {
    /// Stays, or leans by so many cents a second.
    Held {
        /// Cents per second.
        drift_per_s: f64,
    },
    /// Swings evenly about the swara.
    Vibrato {
        /// Peak to peak, cents.
        width: f64,
        /// Swings a second.
        hz: f64,
    },
    /// Swings upwards from the swara, each time a little differently.
    Kampita {
        /// Peak to peak, cents.
        width: f64,
        /// Swings a second.
        hz: f64,
    },
    /// Moves evenly to another pitch.
    Glide {
        /// How far, cents.
        by: f64,
    },
}

/// One swara, sung.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sung {
    /// Its name.
    pub swara: Swara,
    /// Its register.
    pub sthayi: Sthayi,
    /// Where it should lie above the Sa of its register, cents.
    pub target: f64,
    /// How far off it is sung, cents; positive is sharp.
    pub offset: f64,
    /// How long, seconds (its join included).
    pub seconds: f64,
    /// What the pitch does.
    pub manner: Manner,
    /// Where it is entered after a rest, cents relative to where it is held; dies away in [`SCOOP_S`].
    pub scoop: f64,
    /// The vowel.
    pub vowel: Vowel,
}

impl Sung {
    /// A plain held swara of the middle register on A, at `target` cents above Sa.
    #[must_use]
    pub fn held(swara: Swara, target: f64, seconds: f64) -> Self {
        Self {
            swara,
            sthayi: Sthayi(0),
            target,
            offset: 0.0,
            seconds,
            manner: Manner::Held { drift_per_s: 0.0 },
            scoop: 0.0,
            vowel: Vowel::A,
        }
    }

    /// The same, so many cents off.
    #[must_use]
    pub fn off(self, offset: f64) -> Self {
        Self { offset, ..self }
    }

    /// The same in another register.
    #[must_use]
    pub fn register(self, sthayi: i8) -> Self {
        Self { sthayi: Sthayi(sthayi), ..self }
    }

    /// The same with another movement.
    #[must_use]
    pub fn manner(self, manner: Manner) -> Self {
        Self { manner, ..self }
    }

    /// The same, entered from so many cents away.
    #[must_use]
    pub fn scooped(self, scoop: f64) -> Self {
        Self { scoop, ..self }
    }

    /// The same on another vowel.
    #[must_use]
    pub fn on(self, vowel: Vowel) -> Self {
        Self { vowel, ..self }
    }

    /// Where the swara lies, cents above madhya Sa.
    #[must_use]
    pub fn place(&self) -> f64 {
        self.target + 1200.0 * f64::from(self.sthayi.0)
    }

    /// Pitch `t` seconds after its start, without join and scoop, cents above madhya Sa.
    fn cents(&self, t: f64) -> f64 {
        let moved = match self.manner {
            Manner::Held { drift_per_s } => drift_per_s * (t - 0.5 * self.seconds),
            Manner::Vibrato { width, hz } => 0.5 * width * (TAU * hz * t).sin(),
            Manner::Kampita { width, hz } => {
                let uneven = 1.0 + UNEVEN.0 * (TAU * UNEVEN.1 * t).sin();
                0.5 * width * uneven * (1.0 - (TAU * hz * t).cos())
            }
            Manner::Glide { by } => by * ease(t / self.seconds),
        };
        self.place() + self.offset + moved
    }
}

/// What is sung from the start to the end; `None` entries are rests of so many seconds.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Phrase {
    parts: Vec<(f64, Option<Sung>)>,
    seconds: f64,
}

/// The curve at one instant.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Instant {
    /// Pitch, cents above madhya Sa.
    pub cents: f64,
    /// Loudness, 0 to 1.
    pub gain: f64,
    /// Vowel before, vowel now, and how far the tongue has come (0 to 1).
    pub vowels: (Vowel, Vowel, f64),
}

impl Phrase {
    /// Nothing yet.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// Adds a rest.
    #[must_use]
    pub fn rest(mut self, seconds: f64) -> Self {
        self.parts.push((self.seconds, None));
        self.seconds += seconds;
        self
    }

    /// Adds a swara.
    #[must_use]
    pub fn sing(mut self, sung: Sung) -> Self {
        self.parts.push((self.seconds, Some(sung)));
        self.seconds += sung.seconds;
        self
    }

    /// Length, seconds.
    #[must_use]
    pub fn seconds(&self) -> f64 {
        self.seconds
    }

    /// Swaras with start and end of their own part, seconds: joins belong to no note.
    pub fn notes(&self) -> impl Iterator<Item = (f64, f64, Sung)> {
        self.parts.iter().enumerate().filter_map(|(i, &(start, sung))| {
            let sung = sung?;
            let joined = self.before(i).is_some();
            Some((start + if joined { JOIN_S } else { 0.0 }, start + sung.seconds, sung))
        })
    }

    /// The curve `t` seconds from the start; `None` in a rest.
    #[must_use]
    pub fn at(&self, t: f64) -> Option<Instant> {
        let i = self.parts.partition_point(|(start, _)| *start <= t).checked_sub(1)?;
        let (start, sung) = self.parts.get(i).copied()?;
        let sung = sung?;
        let since = t - start;
        if since >= sung.seconds {
            return None;
        }
        let before = self.before(i);
        let here = sung.cents(since);
        let (cents, vowels) = match before {
            Some(prior) => {
                let way = ease(since / JOIN_S);
                let from = prior.cents(prior.seconds);
                (from + (here - from) * way, (prior.vowel, sung.vowel, way))
            }
            None => (here + sung.scoop * (1.0 - ease(since / SCOOP_S)), (sung.vowel, sung.vowel, 1.0)),
        };
        let rise = if before.is_none() { ease(since / ATTACK_S) } else { 1.0 };
        let last = self.parts.get(i + 1).is_none_or(|(_, next)| next.is_none());
        let fall = if last { ease((sung.seconds - since) / RELEASE_S) } else { 1.0 };
        Some(Instant { cents, gain: rise * fall, vowels })
    }

    fn before(&self, i: usize) -> Option<Sung> {
        self.parts.get(i.checked_sub(1)?)?.1
    }
}

/// A raised cosine from 0 at 0 to 1 at 1.
fn ease(x: f64) -> f64 {
    0.5 - 0.5 * (PI * x.clamp(0.0, 1.0)).cos()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn curve_is_what_was_written() {
        let phrase = Phrase::new()
            .rest(0.5)
            .sing(Sung::held(Swara::S, 0.0, 1.0).off(-12.0).scooped(-80.0))
            .sing(Sung::held(Swara::P, 702.0, 2.0).manner(Manner::Held { drift_per_s: 5.0 }));
        assert_eq!(phrase.at(0.25), None);
        assert!((phrase.at(0.5).unwrap().cents - -92.0).abs() < 1e-9);
        assert!((phrase.at(1.0).unwrap().cents - -12.0).abs() < 1e-9);
        assert!((phrase.at(1.5).unwrap().cents - -12.0).abs() < 1e-9, "the join starts where the note ended");
        assert!((phrase.at(3.0).unwrap().cents - 704.5).abs() < 1e-9);
        assert_eq!(phrase.at(3.5), None);
        let notes: Vec<_> = phrase.notes().map(|(a, b, _)| (a, b)).collect();
        assert_eq!(notes, vec![(0.5, 1.5), (1.5 + JOIN_S, 3.5)]);
    }
}
