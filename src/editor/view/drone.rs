//! The drone's controls as they stand.

use super::Choice;

/// Where the drone is sent.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum DroneTo {
    /// Mixed with the voice: recorded by a real-time bounce.
    #[default]
    Main,
    /// Only to the drone's own output.
    Own,
    /// Both.
    Both,
}

/// A first string that suits the raga better than the one in force; taken by a press, never by itself.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Proposal {
    /// Why, in a sentence.
    pub told: String,
    /// The word on its button.
    pub take: String,
    /// The key of the choice.
    pub key: String,
}

/// One reed.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct ReedView {
    /// Semitones above madhya Sa, 12 is tara Sa.
    pub position: u8,
    /// Its swara, as written.
    pub name: String,
    /// Whether it sounds.
    pub sounds: bool,
}

/// The drone's controls as they stand.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct DroneView {
    /// Whether it is switched on.
    pub on: bool,
    /// Strings or reed.
    pub kind: Choice,
    /// The first string: Pa, Ma, Ni, none.
    pub stringing: Choice,
    /// A first string that suits the raga better.
    pub proposal: Option<Proposal>,
    /// Whether a Ni string follows the first.
    pub fifth: bool,
    /// From pluck to pluck, seconds.
    pub pluck_s: f64,
    /// How far the two strings of madhya Sa lie apart, cents.
    pub pair_cents: f64,
    /// Each string that there is: its place in the setting, its name, its trim in cents.
    pub trims: Vec<(usize, String, f64)>,
    /// The reeds of the scale, and any other that sounds.
    pub reeds: Vec<ReedView>,
    /// The reeds were chosen one by one, instead of by the first string.
    pub own_reeds: bool,
    /// Its level as text, "-18 dB".
    pub level: String,
    /// It sounds an octave below the Sa that is set, which is beyond its reach.
    pub octave_lower: bool,
    /// Where it is sent.
    pub to: DroneTo,
    /// On, but silent since the project was reopened: waits for the transport or a word from the user.
    pub silent_after_reopen: bool,
    /// Off, but sounding while a note is heard against it.
    pub lent: bool,
    /// Whether offline renders are to contain it.
    pub printed: bool,
}
