//! A test voice: sings a written phrase with a pitch that is known exactly.
//!
//! In: a [`Phrase`] (what is sung, how far off, with which movement) and a [`Singer`]. Out: a [`Performance`]:
//! samples at any rate from 8 to 192 kHz, full scale 1, and the truth about them: the pitch of every sample, and
//! every note. It serves tests and the demo take; nothing is trained on it.
//!
//! Method: the pitch curve is written first, the phase of the voice is the integral of that curve, and each
//! harmonic takes its strength from a source that falls with frequency and a tract with the formants of the vowel
//! (source and filter: Fant 1960; cascade of resonances: Klatt 1980). Harmonics are added up one by one, so nothing
//! above half the sample rate can fold back and the tract delays nothing: the pitch of the sound is the curve itself.
//! Cost: about 60 multiplications a sample. Not handled: consonants, rooms, microphones.

pub mod demo;
pub mod phrase;
pub mod sing;
pub mod tract;
pub mod truth;

pub use phrase::{Manner, Phrase, Sung};
pub use sing::{Performance, Singer, sing};
pub use tract::Vowel;
pub use truth::{State, Truth, TruthKind, TruthNote};
