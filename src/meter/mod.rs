//! What each swara came to: how often and how long it was held, where it lay, how much of it was in tune.
//!
//! In: final notes with the time they spent at each offset ([`Offsets`]). Out: one [`RowSummary`] per swara, per register
//! or folded. A page is of fixed size (12 swarasthanas x 5 registers, a histogram of judged time in 1-cent bins out to
//! +-600 cents each, some 290 kB) and holds whole counts of 5 ms frames, so that two halves of a lesson merge to exactly the whole's
//! numbers; medians are exact to 1 cent (to the bin; inside it they are interpolated). Saved, only filled bins are
//! written. [`Meter::add`] never allocates; a summary walks at most five histograms.
//!
//! A page does not know its tonic, tuning and scale: who keeps pages keeps those beside them.

mod row;
mod saved;

use crate::note::{Band, Kind, Note, Offsets, STEADY_CENTS};
use crate::swara::Sthayi;
use crate::units::Cents;
use row::{FRAME_S, Row};
use serde::{Deserialize, Serialize};

/// Swarasthanas in an octave.
pub const POSITIONS: usize = 12;
/// Registers from anumandra (-2) to atitara (2).
pub const REGISTERS: usize = 5;

/// One swara's figures, ready to show.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct RowSummary {
    /// Held notes.
    pub notes: u32,
    /// Time judged, seconds.
    pub judged_s: f64,
    /// Median offset over the judged time, cents; `None` without notes.
    pub median: Option<Cents>,
    /// Spread: half the width of the middle 68 %, cents.
    pub spread: Option<Cents>,
    /// Share of the judged time in the band.
    pub in_tune: Option<f64>,
    /// The longest hold, seconds.
    pub longest_s: f64,
}

/// How the sung time divides, seconds.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct SungTime {
    /// A voice with a pitch sounded.
    pub sung_s: f64,
    /// In held notes, start to end.
    pub held_s: f64,
    /// In oscillating notes.
    pub oscillating_s: f64,
    /// In slides.
    pub gliding_s: f64,
}

impl SungTime {
    /// Share of the sung time that was held and so judged, 0 to 1; `None` before anything was sung.
    #[must_use]
    pub fn held_share(&self) -> Option<f64> {
        (self.sung_s > 0.0).then(|| (self.held_s / self.sung_s).min(1.0))
    }
}

/// The singer's long-tone practice on Sa.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
pub struct LongTone {
    /// Longest steady stretch of one Sa, seconds.
    pub longest_steady_s: f64,
    /// All steady time on Sa in the band, 5 ms frames.
    steady_frames: u64,
    /// The goal that the singer set, minutes; `None`: none set.
    pub goal_minutes: Option<f64>,
}

impl LongTone {
    /// All steady time on Sa, seconds.
    #[must_use]
    pub fn total_steady_s(&self) -> f64 {
        self.steady_frames as f64 * FRAME_S
    }

    /// How much of the goal is done, 0 and up; `None` without a goal.
    #[must_use]
    pub fn done(&self) -> Option<f64> {
        self.goal_minutes.filter(|goal| *goal > 0.0).map(|goal| self.total_steady_s() / (60.0 * goal))
    }
}

/// The statistics of one page (one tonic, tuning and scale).
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "saved::Page", into = "saved::Page")]
pub struct Meter {
    /// Register by register from anumandra, position by position.
    rows: Box<[Row]>,
    sung: u64,
    held: u64,
    oscillating: u64,
    gliding: u64,
    long_tone: LongTone,
}

impl Default for Meter {
    fn default() -> Self {
        Self::new()
    }
}

impl Meter {
    /// An empty page. All memory is taken here.
    #[must_use]
    pub fn new() -> Self {
        Self {
            rows: (0..POSITIONS * REGISTERS).map(|_| Row::new()).collect(),
            sung: 0,
            held: 0,
            oscillating: 0,
            gliding: 0,
            long_tone: LongTone::default(),
        }
    }

    /// Counts one final note and the time it spent at each offset; only `held` ones enter the rows, the others count as
    /// sung and not judged. `seconds`: its length; `band`: what counts as in tune.
    pub fn add(&mut self, note: &Note, offsets: &Offsets<'_>, seconds: f64, band: Band) {
        let frames = row::frames(seconds);
        match note.kind {
            Kind::Oscillating => self.oscillating += frames,
            Kind::Gliding => self.gliding += frames,
            Kind::Held => {
                self.held += frames;
                if note.swara.position() == 0 && note.wobble.0 <= STEADY_CENTS && note.offset.0.abs() <= band.fixed.0 {
                    self.long_tone.longest_steady_s = self.long_tone.longest_steady_s.max(note.longest_steady_s);
                    self.long_tone.steady_frames += row::frames(note.longest_steady_s);
                }
                if let Some(row) = self.row_mut(note.swara.position(), note.sthayi) {
                    row.add(note, offsets, frames);
                }
            }
        }
    }

    /// Counts `frames` readings (5 ms each) in which a voice with a pitch sounded.
    pub fn add_sung(&mut self, frames: u64) {
        self.sung = self.sung.saturating_add(frames);
    }

    /// Adds another part of the same page: the result is as if all had been counted in one.
    pub fn merge(&mut self, other: &Meter) {
        for (mine, theirs) in self.rows.iter_mut().zip(&other.rows) {
            mine.merge(theirs);
        }
        self.sung += other.sung;
        self.held += other.held;
        self.oscillating += other.oscillating;
        self.gliding += other.gliding;
        let (mine, theirs) = (&mut self.long_tone, &other.long_tone);
        mine.longest_steady_s = mine.longest_steady_s.max(theirs.longest_steady_s);
        mine.steady_frames += theirs.steady_frames;
        mine.goal_minutes = mine.goal_minutes.or(theirs.goal_minutes);
    }

    /// The figures of the swara at `position` (0 to 11), all registers folded.
    #[must_use]
    pub fn row(&self, position: u8) -> RowSummary {
        let rows = self.rows.iter().skip(usize::from(position)).step_by(POSITIONS);
        if usize::from(position) < POSITIONS { row::summary(rows) } else { RowSummary::default() }
    }

    /// The figures of the swara at `position` (0 to 11) in one register.
    #[must_use]
    pub fn row_in(&self, position: u8, sthayi: Sthayi) -> RowSummary {
        Self::slot(position, sthayi)
            .and_then(|slot| self.rows.get(slot))
            .map_or_else(RowSummary::default, |row| row::summary(std::iter::once(row)))
    }

    /// How the sung time divides.
    #[must_use]
    pub fn sung_time(&self) -> SungTime {
        let seconds = |frames: u64| frames as f64 * FRAME_S;
        SungTime {
            sung_s: seconds(self.sung),
            held_s: seconds(self.held),
            oscillating_s: seconds(self.oscillating),
            gliding_s: seconds(self.gliding),
        }
    }

    /// The long-tone practice on Sa.
    #[must_use]
    pub fn long_tone(&self) -> LongTone {
        self.long_tone
    }

    /// Whether nothing was counted yet.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.sung == 0 && self.held == 0 && self.oscillating == 0 && self.gliding == 0
    }

    /// Sets the long-tone goal, minutes; `None` or a non-positive one: no goal.
    pub fn set_goal(&mut self, minutes: Option<f64>) {
        self.long_tone.goal_minutes = minutes.filter(|m| m.is_finite() && *m > 0.0);
    }

    /// Takes over another page's numbers without allocating.
    pub fn copy_from(&mut self, other: &Meter) {
        for (mine, theirs) in self.rows.iter_mut().zip(&other.rows) {
            mine.copy_from(theirs);
        }
        (self.sung, self.held) = (other.sung, other.held);
        (self.oscillating, self.gliding) = (other.oscillating, other.gliding);
        self.long_tone = other.long_tone;
    }

    /// Forgets everything but the goal. Never allocates.
    pub fn clear(&mut self) {
        self.rows.iter_mut().for_each(Row::clear);
        (self.sung, self.held, self.oscillating, self.gliding) = (0, 0, 0, 0);
        self.long_tone = LongTone { goal_minutes: self.long_tone.goal_minutes, ..LongTone::default() };
    }

    fn slot(position: u8, sthayi: Sthayi) -> Option<usize> {
        let register = usize::try_from(i16::from(sthayi.0) + 2).ok()?;
        let position = usize::from(position);
        (register < REGISTERS && position < POSITIONS).then_some(register * POSITIONS + position)
    }

    fn row_mut(&mut self, position: u8, sthayi: Sthayi) -> Option<&mut Row> {
        Self::slot(position, sthayi).and_then(|slot| self.rows.get_mut(slot))
    }
}
