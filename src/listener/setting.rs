//! What the listener measures against, and which page of statistics that belongs to.
//!
//! Plain data. Statistics belong to one tonic, tuning and scale: two settings share a page exactly if their Sa and their
//! targets are the same. The band, whose turn it is, an expected swara and the octave followed change no page.

use crate::note::{Band, Expected};
use crate::swara::Targets;
use crate::units::{Cents, Hertz};

/// Whose turn it is: what becomes of the voice that is heard.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Turn {
    /// The pupil's: notes are shown and counted.
    Pupil,
    /// The teacher's: the note that sounds is shown as it is judged so far, and counts nowhere.
    Teacher,
    /// Nobody's, as while Sa is being sought: readings alone, and no note.
    Nobody,
}

/// What the listener measures against.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Setting {
    /// Madhya Sa.
    pub sa: Hertz,
    /// The allowed swaras and where they lie.
    pub targets: Targets,
    /// In-tune half-widths.
    pub band: Band,
    /// Whose turn it is.
    pub turn: Turn,
    /// The swara that is asked for; `None`: each note is judged against the nearest allowed one.
    pub expected: Option<Expected>,
    /// Octaves that the voice's own Sa lies above [`Setting::sa`] (a woman taught by a man: +1), set by hand.
    pub octave: i8,
    /// Whether a voice recognised an octave from the stated Sa is followed there.
    pub follow_octave: bool,
}

impl Setting {
    /// A plain setting: the pupil's turn, nothing expected, no octave followed.
    #[must_use]
    pub fn new(sa: Hertz, targets: Targets, band: Band) -> Self {
        Self { sa, targets, band, turn: Turn::Pupil, expected: None, octave: 0, follow_octave: false }
    }

    /// Whether notes under `other` count on the same page of statistics.
    #[must_use]
    pub fn same_page(&self, other: &Setting) -> bool {
        self.sa == other.sa && self.targets == other.targets
    }

    /// The Sa that the voice is measured against, `followed` octaves away.
    pub(super) fn voice_sa(&self, followed: i8) -> Hertz {
        self.sa.up(Cents(1200.0 * f64::from(self.octave.saturating_add(followed).clamp(-2, 2))))
    }
}
