//! The voice between two pauses: whether a note sounds or has just sounded that an answer can be about.
//!
//! In: readings in time order. Out: how long it has sounded, how long it has been quiet, and where the silence before it ended.

use crate::exercise::NoAnswer;
use crate::swara::SwaraReading;
use crate::units::SampleTime;

/// Readings without a voice that are a pause, and longer than a consonant: 0.2 s.
const PAUSE: u32 = 40;
/// Voiced readings of a note from which on it may be answered while it sounds: half a second (our choice).
const HEARD: u32 = 100;
/// Readings without a voice after which no note can come any more of what was sung: 1.5 s.
const LAPSES: u32 = 300;

/// The voice between two pauses.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct Voice {
    /// Voiced readings since the last pause.
    pub(super) voiced: u32,
    /// Readings without a voice since the last voiced one.
    pub(super) quiet: u32,
    /// The newest reading without a voice: a note that is sung now began there.
    pub(super) silent: Option<SampleTime>,
}

impl Voice {
    pub(super) fn push(&mut self, reading: &SwaraReading) {
        if reading.cents.is_none() {
            self.quiet = self.quiet.saturating_add(1);
            if self.paused() {
                self.silent = Some(reading.frame.time);
            }
            return;
        }
        if self.paused() {
            self.voiced = 0;
        }
        self.quiet = 0;
        self.voiced = self.voiced.saturating_add(1);
    }

    pub(super) fn paused(&self) -> bool {
        self.quiet >= PAUSE
    }

    /// Whether this is the reading from which on no note can come any more of what was sung.
    pub(super) fn lapses(&self) -> bool {
        self.quiet == LAPSES
    }

    /// Whether there is a note that an answer can be about, sounding or just over.
    pub(super) fn sung(&self) -> Result<(), NoAnswer> {
        match (self.voiced, self.quiet) {
            (0, _) | (_, LAPSES..) => Err(NoAnswer::NothingSung),
            (HEARD.., _) => Ok(()),
            _ => Err(NoAnswer::TooSoon),
        }
    }
}
