//! All that was heard since the instance was made: the line, the notes, the marks, and where the bars lay.
//!
//! In: what the audio thread hands out, each thing with the epoch it belongs to (a reset or an activation begins one, and its
//! times begin at 0 again). Out: the same in one rising time, host samples at [`History::rate`]. The exercise under way is fed from
//! here, so that it goes on with the window closed. Bounded: four hours of line, twenty thousand notes. Never touched by the audio thread.

use super::practice::Practice;
use super::state::PageKey;
use crate::note::Note;
use crate::units::{Hertz, SampleRate, SampleTime, num};
use std::collections::VecDeque;
use std::sync::Arc;

/// Points of the line that are kept: four hours of 5 ms frames. A point takes 16 bytes, so that a lesson of three hours takes 35 MB,
/// and no more than 67 MB are ever held.
const LINE_KEPT: usize = 4 * 3600 * 200;
/// Notes that are kept for the list.
const NOTES_KEPT: usize = 20_000;
/// Epochs whose beginning is remembered: what waits in the channels belongs to the last few.
const EPOCHS_KEPT: usize = 16;
/// Changes of tempo, bar or place that are kept.
const BARS_KEPT: usize = 20_000;
/// Gap drawn between two epochs, seconds.
const GAP_S: f64 = 0.1;

/// One frame of the voice's line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LinePoint {
    /// The instant it describes.
    pub time: SampleTime,
    /// Cents above madhya Sa; NaN where there was no voice.
    pub cents: f32,
    /// Drone's foreign Sa, level and the like are in the snapshot; here only whether several voices sounded.
    pub several: bool,
    /// Whether it was the pupil's turn: what a teacher sings is drawn, and counts nowhere.
    pub counts: bool,
}

/// A marked moment.
#[derive(Debug, Clone, PartialEq)]
pub struct Mark {
    /// When.
    pub time: SampleTime,
    /// A short word, may be empty.
    pub word: String,
}

/// Where the host's bars lay from an instant on, until the next of these.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bars {
    /// From when on.
    pub time: SampleTime,
    /// Whether the transport ran.
    pub playing: bool,
    /// The place at that instant, quarter notes from the start of the project.
    pub quarters: f64,
    /// Where its bar began, quarter notes.
    pub bar_start: f64,
    /// The number of that bar, from 0.
    pub bar: i32,
    /// Quarter notes a minute.
    pub tempo: f64,
    /// Beats in a bar and the note that takes one.
    pub signature: (i32, i32),
}

impl Bars {
    /// Where the transport is at an instant after this one if nothing changes, quarter notes from the start of the project.
    #[must_use]
    pub fn quarters_at(&self, time: SampleTime, rate: SampleRate) -> f64 {
        let since = if self.playing { time.since(self.time) as f64 / rate.hz() } else { 0.0 };
        self.quarters + since * self.tempo / 60.0
    }

    /// Bar and beat, each from 1, at an instant after this one. `None` while the transport stood.
    #[must_use]
    pub fn place(&self, time: SampleTime, rate: SampleRate) -> Option<(i64, i64)> {
        let (beats, unit) = self.signature;
        if !self.playing || beats <= 0 || unit <= 0 {
            return None;
        }
        let beat = 4.0 / f64::from(unit);
        // A thousandth of a beat early is on the beat: hosts round.
        let into = (self.quarters_at(time, rate) - self.bar_start) / beat + 1e-3;
        let bars = (into / f64::from(beats)).floor();
        let bar = i64::from(self.bar) + num::int(bars);
        let within = (into - bars * f64::from(beats)).floor();
        (bars.is_finite() && bar >= 0).then(|| (bar + 1, num::int(within) + 1))
    }

    /// Whether `later` is where this leads anyway: nothing worth keeping.
    #[must_use]
    pub fn leads_to(&self, later: &Bars, rate: SampleRate) -> bool {
        let same = self.playing == later.playing && self.signature == later.signature;
        let expected = if self.playing { self.quarters_at(later.time, rate) } else { later.quarters };
        same && (self.tempo - later.tempo).abs() < 1e-6 && (expected - later.quarters).abs() < 0.02
    }
}

/// Everything heard since the instance was made.
#[derive(Debug, Default)]
pub struct History {
    /// The line, oldest first.
    pub line: VecDeque<LinePoint>,
    /// The final notes, oldest first.
    pub notes: VecDeque<Note>,
    /// The Sa that each was measured from, in the same order.
    pub measured_from: VecDeque<Hertz>,
    /// The page that each belongs to, in the same order: its raga and its tuning. `None` where it is not known.
    pub pages: VecDeque<Option<Arc<PageKey>>>,
    /// Moments that somebody marked, oldest first.
    pub marks: Vec<Mark>,
    /// Notes that ended before were cleared from the page in force.
    pub cleared: Option<SampleTime>,
    /// Where the bars lay, oldest first.
    pub bars: VecDeque<Bars>,
    /// The exercise under way.
    pub practice: Practice,
    /// Points and notes taken in all, those dropped since included.
    pub taken: (u64, u64),
    /// The rate that the times count in; `None` before anything was heard.
    pub rate: Option<SampleRate>,
    bases: Vec<(u32, i64)>,
}

impl History {
    /// The newest instant.
    #[must_use]
    pub fn now(&self) -> SampleTime {
        self.line.back().map_or_else(SampleTime::default, |point| point.time)
    }

    /// Takes a frame of the line.
    pub fn point(&mut self, epoch: u32, mut point: LinePoint, rate: SampleRate) {
        let after = self.line.back().map_or(i64::MIN, |p| p.time.0.saturating_add(1));
        point.time.0 = point.time.0.saturating_add(self.base(epoch, rate)).max(after);
        self.practice.point(&point);
        self.line.push_back(point);
        self.taken.0 += 1;
        if self.line.len() > LINE_KEPT {
            self.line.pop_front();
        }
    }

    /// Takes a final note, the Sa that it was measured from and the page that it belongs to.
    pub fn note(&mut self, epoch: u32, mut note: Note, (sa, page): (Hertz, Option<PageKey>), rate: SampleRate) {
        let base = self.base(epoch, rate);
        note.start.0 = note.start.0.saturating_add(base);
        note.end.0 = note.end.0.saturating_add(base);
        self.practice.note(&note, rate);
        self.notes.push_back(note);
        self.measured_from.push_back(sa);
        // Most notes belong to the page of the one before: it is kept once.
        let before = self.pages.back().cloned().flatten();
        let same = before.filter(|before| page.as_ref() == Some(&**before));
        self.pages.push_back(same.or_else(|| page.map(Arc::new)));
        self.taken.1 += 1;
        if self.notes.len() > NOTES_KEPT {
            self.notes.pop_front();
            self.measured_from.pop_front();
            self.pages.pop_front();
        }
    }

    /// Takes a mark.
    pub fn mark(&mut self, epoch: u32, time: SampleTime, rate: SampleRate) {
        let time = SampleTime(time.0.saturating_add(self.base(epoch, rate)));
        self.mark_at(time, String::new());
    }

    /// Marks an instant of the history's own time.
    pub fn mark_at(&mut self, time: SampleTime, word: String) {
        let at = self.marks.partition_point(|m| m.time <= time);
        self.marks.insert(at, Mark { time, word });
    }

    /// The mark at that instant gets its word, where it has none yet.
    pub fn name_mark(&mut self, time: SampleTime, word: String) {
        if let Some(mark) = self.marks.iter_mut().rev().find(|m| m.time == time && m.word.is_empty()) {
            mark.word = word;
        }
    }

    /// Another word for the mark at this place in the list.
    pub fn rename_mark(&mut self, id: u64, word: String) {
        if let Some(mark) = usize::try_from(id).ok().and_then(|id| self.marks.get_mut(id)) {
            mark.word = word;
        }
    }

    /// The mark at this place in the list goes.
    pub fn drop_mark(&mut self, id: u64) {
        if let Some(at) = usize::try_from(id).ok().filter(|at| *at < self.marks.len()) {
            self.marks.remove(at);
        }
    }

    /// Takes a change of the bars.
    pub fn bars(&mut self, epoch: u32, mut bars: Bars, rate: SampleRate) {
        bars.time.0 = bars.time.0.saturating_add(self.base(epoch, rate));
        self.bars.push_back(bars);
        if self.bars.len() > BARS_KEPT {
            self.bars.pop_front();
        }
    }

    /// Bar and beat of an instant, where the host gave them.
    #[must_use]
    pub fn bar_beat(&self, time: SampleTime) -> Option<(i64, i64)> {
        let rate = self.rate?;
        let before = self.bars.partition_point(|b| b.time <= time).checked_sub(1)?;
        self.bars.get(before)?.place(time, rate)
    }

    /// Where an epoch's time 0 lies; a new epoch begins after all that was heard before it.
    fn base(&mut self, epoch: u32, rate: SampleRate) -> i64 {
        if let Some((_, base)) = self.bases.iter().rev().find(|(e, _)| *e == epoch) {
            return *base;
        }
        match self.rate {
            Some(old) if old != rate => self.rescale(rate.hz() / old.hz()),
            _ => {}
        }
        self.rate = Some(rate);
        let base = self.line.back().map_or(0, |p| p.time.0.saturating_add(num::int(GAP_S * rate.hz())));
        self.bases.push((epoch, base));
        if self.bases.len() > EPOCHS_KEPT {
            self.bases.remove(0);
        }
        // The audio thread has forgotten what it was told.
        self.practice.tell_again();
        base
    }

    /// Counts all times in another rate.
    fn rescale(&mut self, ratio: f64) {
        let scale = |time: &mut SampleTime| time.0 = num::int(time.0 as f64 * ratio);
        self.line.iter_mut().for_each(|p| scale(&mut p.time));
        self.marks.iter_mut().for_each(|m| scale(&mut m.time));
        self.bars.iter_mut().for_each(|b| scale(&mut b.time));
        for note in &mut self.notes {
            scale(&mut note.start);
            scale(&mut note.end);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rate(hz: f64) -> SampleRate {
        SampleRate::new(hz).unwrap()
    }

    fn point(time: i64) -> LinePoint {
        LinePoint { time: SampleTime(time), cents: 0.0, several: false, counts: true }
    }

    #[test]
    fn time_rises_over_resets_and_another_rate() {
        let mut history = History::default();
        (0..200).for_each(|k| history.point(0, point(k * 240), rate(48_000.0)));
        (0..200).for_each(|k| history.point(1, point(k * 240), rate(48_000.0)));
        history.mark(1, SampleTime(24_000), rate(48_000.0));
        (0..200).for_each(|k| history.point(2, point(k * 480), rate(96_000.0)));
        let seconds: Vec<f64> = history.line.iter().map(|p| p.time.seconds(history.rate.unwrap())).collect();
        assert!(seconds.is_sorted());
        assert!((seconds[599] - 3.185).abs() < 0.01, "{}", seconds[599]);
        assert!((history.marks[0].time.seconds(rate(96_000.0)) - 1.595).abs() < 0.01);
        // Its word comes later, and never in the place of another.
        for word in ["good Ga", "too late"] {
            history.name_mark(history.marks[0].time, word.into());
            assert_eq!(history.marks[0].word, "good Ga");
        }
        assert_eq!(history.taken.0, 600);
    }

    #[test]
    fn a_lesson_of_three_hours_is_kept_whole_in_the_memory_that_is_stated() {
        let mut history = History::default();
        for k in 0..3 * 3600 * 200 {
            history.point(0, point(k * 240), rate(48_000.0));
        }
        assert_eq!(history.line.front().map(|p| p.time), Some(SampleTime(0)));
        let taken = |points: usize| points * size_of::<LinePoint>();
        assert!(taken(history.line.len()) < 35_000_000, "{}", taken(history.line.len()));
        for k in 3 * 3600 * 200..5 * 3600 * 200 {
            history.point(0, point(k * 240), rate(48_000.0));
        }
        assert_eq!(history.line.len(), LINE_KEPT);
        assert!(taken(history.line.capacity()) <= 67_200_000, "{}", taken(history.line.capacity()));
    }

    #[test]
    fn bar_and_beat_count_from_one_and_carry_over() {
        let at = SampleTime(48_000);
        let bars =
            Bars { time: at, playing: true, quarters: 8.0, bar_start: 8.0, bar: 2, tempo: 120.0, signature: (4, 4) };
        let place = |bars: &Bars, seconds: f64| {
            bars.place(SampleTime(48_000 + num::int(seconds * 48_000.0)), rate(48_000.0)).unwrap()
        };
        assert_eq!(place(&bars, 0.0), (3, 1));
        assert_eq!(place(&bars, 0.75), (3, 2));
        assert_eq!(place(&bars, 2.0), (4, 1));
        // Six eighths at 120 quarters: a bar lasts 1.5 s, a beat a quarter of a second.
        let six = Bars { signature: (6, 8), ..bars };
        assert_eq!(place(&six, 1.3), (3, 6));
        assert_eq!(place(&six, 1.5), (4, 1));
        assert_eq!(Bars { playing: false, ..bars }.place(at, rate(48_000.0)), None);
    }
}
