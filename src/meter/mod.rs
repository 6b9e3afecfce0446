//! What each swara came to: fixed-size, mergeable statistics per swara and register.

use crate::note::Note;
use crate::units::Cents;
use serde::{Deserialize, Serialize};

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

/// The statistics of one page (one tonic, tuning and scale).
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, Default)]
pub struct Meter {}

impl Meter {
    /// An empty page.
    #[must_use]
    pub fn new() -> Self {
        Self {}
    }

    /// Counts one final note (only `held` ones enter the rows; the others count as sung, not judged).
    pub fn add(&mut self, note: &Note) {
        let _ = note;
    }

    /// Adds another part of the same page: the result is as if all had been counted in one.
    pub fn merge(&mut self, other: &Meter) {
        let _ = other;
    }

    /// The figures of the swara at `position`, all registers folded.
    #[must_use]
    pub fn row(&self, position: u8) -> RowSummary {
        let _ = position;
        RowSummary::default()
    }

    /// Forgets everything. Never allocates.
    pub fn clear(&mut self) {}
}
