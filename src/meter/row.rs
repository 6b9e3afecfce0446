//! One swara in one register: how often it was held, and its judged time over the offset from its target.
//!
//! In: notes with their offsets. Out: summaries over one row or several added together. Whole counts of 5 ms frames in
//! 1-cent bins; the bin of offset x is the nearest whole cent, beyond +-600 the outermost. Spread is half the distance
//! between the 16th and the 84th percentile (one standard deviation, were the offsets normally distributed).

use super::RowSummary;
use crate::note::{Note, Offsets};
use crate::units::{Cents, num};

/// Length of a frame, seconds.
pub(super) const FRAME_S: f64 = 0.005;
/// The outermost bin on either side, cents: an octave folded leaves no more.
const REACH: usize = 600;
/// Bins in a row.
pub(super) const BINS: usize = 2 * REACH + 1;

/// A duration in whole frames.
pub(super) fn frames(seconds: f64) -> u64 {
    num::index(seconds / FRAME_S) as u64
}

/// Counts of one swara in one register.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Row {
    pub(super) notes: u32,
    /// Notes that only are nearest to it.
    pub(super) far: u32,
    pub(super) in_tune: u64,
    /// Of the longest steady stretch.
    pub(super) longest_steady: u64,
    pub(super) bins: Box<[u32]>,
}

impl Row {
    pub(super) fn new() -> Self {
        Self { notes: 0, far: 0, in_tune: 0, longest_steady: 0, bins: vec![0; BINS].into_boxed_slice() }
    }

    pub(super) fn add(&mut self, note: &Note, offsets: &Offsets<'_>) {
        self.notes = self.notes.saturating_add(1);
        self.longest_steady = self.longest_steady.max(frames(note.longest_steady_s));
        let mut judged = 0;
        offsets.each(&mut |cents, frames| {
            judged += u64::from(frames);
            let bin = num::index((cents.0 + REACH as f64).max(0.0)).min(BINS - 1);
            if let Some(count) = self.bins.get_mut(bin) {
                *count = count.saturating_add(frames);
            }
        });
        self.in_tune += num::index(note.in_tune * judged as f64) as u64;
    }

    pub(super) fn add_far(&mut self) {
        self.far = self.far.saturating_add(1);
    }

    pub(super) fn merge(&mut self, other: &Row) {
        self.notes = self.notes.saturating_add(other.notes);
        self.far = self.far.saturating_add(other.far);
        self.in_tune += other.in_tune;
        self.longest_steady = self.longest_steady.max(other.longest_steady);
        for (mine, theirs) in self.bins.iter_mut().zip(&other.bins) {
            *mine = mine.saturating_add(*theirs);
        }
    }

    pub(super) fn copy_from(&mut self, other: &Row) {
        (self.notes, self.far) = (other.notes, other.far);
        (self.in_tune, self.longest_steady) = (other.in_tune, other.longest_steady);
        self.bins.copy_from_slice(&other.bins);
    }

    pub(super) fn clear(&mut self) {
        (self.notes, self.far, self.in_tune, self.longest_steady) = (0, 0, 0, 0);
        self.bins.fill(0);
    }

    fn judged(&self) -> u64 {
        self.bins.iter().map(|count| u64::from(*count)).sum()
    }
}

/// The figures of several rows as if they were one.
pub(super) fn summary<'a>(rows: impl Iterator<Item = &'a Row> + Clone) -> RowSummary {
    let judged: u64 = rows.clone().map(Row::judged).sum();
    let in_tune: u64 = rows.clone().map(|row| row.in_tune).sum();
    let quantile = |share| quantile(rows.clone(), judged, share);
    RowSummary {
        notes: rows.clone().map(|row| row.notes).sum(),
        far: rows.clone().map(|row| row.far).sum(),
        judged_s: judged as f64 * FRAME_S,
        median: quantile(0.5).map(Cents),
        spread: quantile(0.84).zip(quantile(0.16)).map(|(high, low)| Cents(0.5 * (high - low))),
        in_tune: (judged > 0).then(|| in_tune as f64 / judged as f64),
        longest_steady_s: rows.map(|row| row.longest_steady).max().filter(|l| *l > 0).map(|l| l as f64 * FRAME_S),
    }
}

/// The offset that `share` of the judged time lies below, cents, interpolated inside its bin.
fn quantile<'a>(rows: impl Iterator<Item = &'a Row> + Clone, judged: u64, share: f64) -> Option<f64> {
    let wanted = share * judged as f64;
    let mut below = 0.0;
    for bin in 0..BINS {
        let here: f64 = rows.clone().filter_map(|row| row.bins.get(bin)).map(|count| f64::from(*count)).sum();
        if here > 0.0 && below + here >= wanted {
            return Some(bin as f64 - REACH as f64 - 0.5 + (wanted - below) / here);
        }
        below += here;
    }
    None
}
