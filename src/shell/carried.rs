//! A lesson on its way over a restart of the stand-alone app: its line, notes and marks.
//!
//! In: the history as the app takes its own place anew. Out: the same in the app that follows. It lies in a file beside the kept
//! settings for that moment alone: whoever reads it removes it, and one that is older than a restart takes is not believed. No
//! sound is in it.

use super::history::{History, LinePoint, Mark};
use super::state::PageKey;
use crate::note::Note;
use crate::units::{Hertz, SampleRate, SampleTime};
use serde::{Deserialize, Serialize};
use std::path::Path;
use std::sync::Arc;
use std::time::{Duration, SystemTime};

/// What the file says it is.
const FORMAT: &str = "achala-lesson";
/// Only the same build follows itself.
const VERSION: &str = env!("CARGO_PKG_VERSION");
/// A restart takes a second or two.
const OLDEST: Duration = Duration::from_secs(120);

/// What is carried over.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct Carried {
    format: String,
    version: String,
    rate_hz: f64,
    /// Instant, cents above Sa where a voice sounded, whether several did.
    line: Vec<(i64, Option<f32>, bool)>,
    /// Each with the Sa that it was measured from and its place among the pages.
    notes: Vec<(Note, Hertz, Option<usize>)>,
    /// The pages that the notes belong to.
    pages: Vec<PageKey>,
    marks: Vec<(i64, String)>,
    cleared: Option<SampleTime>,
}

impl Carried {
    /// Of all that was heard.
    #[must_use]
    pub fn of(history: &History) -> Self {
        let cents = |c: f32| Some(c).filter(|c| c.is_finite());
        let mut pages: Vec<PageKey> = Vec::new();
        let mut place = |page: &PageKey| {
            pages.iter().rposition(|known| known == page).unwrap_or_else(|| {
                pages.push(page.clone());
                pages.len() - 1
            })
        };
        let notes = history.notes.iter().zip(&history.measured_from).zip(&history.pages);
        let notes = notes.map(|((note, sa), page)| (*note, *sa, page.as_deref().map(&mut place))).collect();
        Self {
            format: FORMAT.to_owned(),
            version: VERSION.to_owned(),
            rate_hz: history.rate.map_or(0.0, SampleRate::hz),
            line: history.line.iter().map(|p| (p.time.0, cents(p.cents), p.several)).collect(),
            notes,
            pages,
            marks: history.marks.iter().map(|m| (m.time.0, m.word.clone())).collect(),
            cleared: history.cleared,
        }
    }

    /// Puts it where nothing was heard yet.
    pub fn put_into(&self, history: &mut History) {
        // Before anything was heard there was no rate, and there is nothing to be counted in one.
        let Ok(rate) = SampleRate::new(self.rate_hz) else { return };
        let point = |(time, cents, several): &(i64, Option<f32>, bool)| LinePoint {
            time: SampleTime(*time),
            cents: cents.unwrap_or(f32::NAN),
            several: *several,
            counts: true,
        };
        history.line = self.line.iter().map(point).collect();
        history.notes = self.notes.iter().map(|(note, ..)| *note).collect();
        history.measured_from = self.notes.iter().map(|(_, sa, _)| *sa).collect();
        let pages: Vec<Arc<PageKey>> = self.pages.iter().cloned().map(Arc::new).collect();
        let page = |place: &Option<usize>| place.and_then(|place| pages.get(place).cloned());
        history.pages = self.notes.iter().map(|(.., place)| page(place)).collect();
        history.marks = self.marks.iter().map(|(t, word)| Mark { time: SampleTime(*t), word: word.clone() }).collect();
        history.cleared = self.cleared;
        history.taken = (self.line.len() as u64, self.notes.len() as u64);
        history.rate = Some(rate);
    }

    /// Reads the file and removes it. `None` where there is none, or none that this start can go on with.
    pub(super) fn take(path: &Path) -> Option<Self> {
        let written = std::fs::metadata(path).and_then(|m| m.modified()).ok()?;
        let text = std::fs::read_to_string(path);
        // One that cannot be removed would come back with each start.
        std::fs::remove_file(path).ok()?;
        let old = SystemTime::now().duration_since(written).is_ok_and(|age| age > OLDEST);
        let carried: Self = serde_json::from_str(&text.ok()?).ok()?;
        (!old && carried.format == FORMAT && carried.version == VERSION).then_some(carried)
    }
}
