//! Finds Sa in what sounds: a drone, a held voice, a whole take; and a comfortable Sa for a new singer.
//!
//! In: hops of 5 ms at 16 kHz and the f0 frames that belong to them. Out: [`TonicEstimate`], up to four
//! candidates with confidence, and the doubt in words where there is one. Method: steady spectral lines
//! ([`lines`]) against the partials of the usual drones ([`roots`]), and the pitches a voice holds
//! ([`held`]). Cost: one 16384-point transform every half second; memory is fixed after `new`. Does not
//! handle two drones at once. [`live`] serves a button held down, [`whole`] a recording, [`comfort`] the
//! choice of a Sa.

pub mod comfort;
pub mod held;
pub mod lines;
pub mod live;
pub mod roots;
#[cfg(test)]
pub(crate) mod test_sound;
pub mod whole;

use crate::units::Hertz;

/// As many candidates as an estimate holds.
pub const MAX_CANDIDATES: usize = 4;

/// A possible Sa.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Candidate {
    /// Madhya Sa; the octave as [`TonicEstimate::octave`] says.
    pub sa: Hertz,
    /// Its share of the evidence among the candidates, 0 to 1 (not a probability).
    pub confidence: f32,
}

/// How the octave of an estimate is known.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Octave {
    /// A voice sang Sa in it.
    Sung,
    /// It puts the take's range between mandra and tara; likely, to be confirmed.
    FromRange,
    /// A drone alone does not tell it: ask.
    Ask,
}

/// Why an estimate must not be adopted without asking.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Doubt {
    /// Hardly anything sounded.
    TooQuiet,
    /// Nothing in it stayed at one pitch.
    NothingSteady,
    /// Two pitch classes fit nearly equally well.
    TwoFit,
    /// Without a drone, a take can be heard from another swara (modal shift).
    NoDrone,
}

impl Doubt {
    /// The reason in a few words, to stand inside a sentence.
    #[must_use]
    pub fn reason(self) -> &'static str {
        match self {
            Self::TooQuiet => "hardly anything sounds",
            Self::NothingSteady => "nothing stays at one pitch",
            Self::TwoFit => "two notes fit nearly equally well",
            Self::NoDrone => "without a drone the same song can be heard from another swara",
        }
    }

    /// What to do about it.
    #[must_use]
    pub fn advice(self) -> &'static str {
        match self {
            Self::TooQuiet => "bring the drone or the voice nearer to the microphone",
            Self::NothingSteady => "hold Sa, or let the drone sound alone",
            Self::TwoFit => "choose the one that is Sa",
            Self::NoDrone => "choose between the first two",
        }
    }
}

impl std::fmt::Display for Doubt {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "not sure: {}; {}", self.reason(), self.advice())
    }
}

/// Sa as far as the sound tells it; plain data of fixed size.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TonicEstimate {
    /// Best first; all `None` when nothing was found.
    pub candidates: [Option<Candidate>; MAX_CANDIDATES],
    /// How the octave is known.
    pub octave: Octave,
    /// Whether a drone of more than one tone seems to sound.
    pub drone: bool,
    /// What stands against adopting the first candidate.
    pub doubt: Option<Doubt>,
}

impl TonicEstimate {
    /// Nothing found, for this reason.
    #[must_use]
    pub fn none(doubt: Doubt) -> Self {
        Self { candidates: [None; MAX_CANDIDATES], octave: Octave::Ask, drone: false, doubt: Some(doubt) }
    }

    /// The best candidate, whatever the doubt.
    #[must_use]
    pub fn best(&self) -> Option<Candidate> {
        self.candidates[0]
    }

    /// Sa, where it may be adopted without asking (its octave still asked when [`Octave::Ask`]).
    #[must_use]
    pub fn sure(&self) -> Option<Hertz> {
        self.best().filter(|_| self.doubt.is_none()).map(|candidate| candidate.sa)
    }
}

/// Candidates from (hertz, evidence) pairs, best first: confidence is the share of the fourth powers,
/// which tells near-equal evidence apart less than a lead (chosen for display only).
fn candidates(evidence: impl Iterator<Item = (f64, f64)> + Clone) -> [Option<Candidate>; MAX_CANDIDATES] {
    let total: f64 = evidence.clone().map(|(_, score)| score.max(0.0).powi(4)).sum();
    let mut list = [None; MAX_CANDIDATES];
    for (slot, (hz, score)) in list.iter_mut().zip(evidence) {
        let share = if total > 0.0 { score.max(0.0).powi(4) / total } else { 0.0 };
        *slot = Some(Candidate { sa: Hertz(hz), confidence: crate::units::num::single(share) });
    }
    list
}
